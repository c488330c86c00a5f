package gauge

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// ffmpeg's signalstats counts the same frames on its own.
func TestLevelsAgreeWithSignalstats(t *testing.T) {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not here; its signalstats is the other count")
	}
	format := picture.Format{Width: 192, Height: 108, Bits: 8, Sub: picture.Sub420, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	var raw bytes.Buffer
	var frames []*picture.Frame
	r := newRand(77)
	for k := range 4 {
		f := picture.NewFrame(format)
		for i := range f.Y {
			f.Y[i] = uint16(20 + 10*k + r.IntN(150) + 50*(i%192)/192)
		}
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = uint16(90+r.IntN(40)), uint16(110+r.IntN(60))
		}
		frames = append(frames, f)
		for _, plane := range [][]uint16{f.Y, f.Cb, f.Cr} {
			for _, c := range plane {
				raw.WriteByte(byte(c))
			}
		}
	}
	cmd := exec.Command(program, "-hide_banner", "-loglevel", "error", "-f", "rawvideo", "-pix_fmt", "yuv420p", "-video_size", fmt.Sprintf("%dx%d", format.Width, format.Height), "-i", "-",
		"-vf", "signalstats,metadata=print:file=-", "-f", "null", "-")
	cmd.Stdin = &raw
	out, err := cmd.Output()
	if err != nil {
		t.Skipf("this ffmpeg has no signalstats: %v", err)
	}
	stats := []map[string]float64{}
	for _, line := range strings.Split(string(out), "\n") {
		if strings.HasPrefix(line, "frame:") {
			stats = append(stats, map[string]float64{})
		}
		if key, value, ok := strings.Cut(line, "="); ok && len(stats) > 0 {
			if v, err := strconv.ParseFloat(value, 64); err == nil {
				stats[len(stats)-1][strings.TrimPrefix(key, "lavfi.signalstats.")] = v
			}
		}
	}
	if len(stats) != len(frames) {
		t.Fatalf("signalstats told of %d frames of %d", len(stats), len(frames))
	}
	for k, f := range frames {
		lo, hi, sum := uint16(0xffff), uint16(0), 0.0
		for _, y := range (&Viewer{Step: 1}).Look(f).Y {
			lo, hi = min(lo, y), max(hi, y)
		}
		v := (&Viewer{Step: 4}).Look(f)
		for _, m := range v.Mean {
			sum += float64(m)
		}
		s := stats[k]
		// It prints averages with five or more digits; ours are exact.
		if float64(lo) != s["YMIN"] || float64(hi) != s["YMAX"] || math.Abs(sum/float64(len(v.Y))-s["YAVG"]) > 1e-3 {
			t.Errorf("frame %d: luma %d..%d mean %.4f; signalstats %g..%g mean %.4f", k, lo, hi, sum/float64(len(v.Y)), s["YMIN"], s["YMAX"], s["YAVG"])
		}
	}
}
