package job

import (
	"context"
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"

	"lampwise/internal/grade"
	"lampwise/internal/media"
)

// TestDoubts makes clips whose darkest code is where log-420 has no light (95 of
// 10 bits), where narrow range made full puts it ((95−64)·1023/876 = 36), and a
// finished picture in full range under a tag of narrow range.
func TestDoubts(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		name      string
		low, high int
		log       bool
		want      string
	}{
		{"as recorded", 95, 800, true, ""},
		{"stretched", 37, 900, true, "curve-levels"},
		{"narrow", 64, 940, false, ""},
		{"full, tagged narrow", 0, 1023, false, "range-tag"},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := filepath.Join(dir, c.name+".mkv")
			// A ramp over sixteen rows of four, so that no code in between is missing
			// where one pixel in sixteen is looked at, with a little noise against a comb.
			lum := fmt.Sprintf("lum=%d+floor((X+W*mod(floor(Y/4)\\,16))*%d/(16*W-1)+3*random(0)):cb=512:cr=512", c.low, c.high-c.low-2)
			out, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "color=black:s=320x240:r=25:d=0.2,format=yuv422p10le,geq="+lum, "-color_range", "tv", "-colorspace", "bt709", "-c:v", "ffv1", file).CombinedOutput()
			if err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			info, err := media.Probe(context.Background(), file)
			if err != nil {
				t.Fatal(err)
			}
			g := grade.Starting("log-420")
			g.Look.Off = true
			if !c.log {
				for _, off := range []*bool{&g.Decode.Off, &g.Exposure.Off, &g.Balance.Off, &g.Split.Off, &g.Curve.Off, &g.Saturation.Off, &g.Convert.Off} {
					*off = true
				}
			}
			w, err := OpenWith(info, g, dir)
			if err != nil {
				t.Fatal(err)
			}
			doubts, err := w.doubts(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			for _, d := range doubts {
				got += d.Kind
			}
			if got != c.want {
				t.Errorf("doubts %q, want %q: %v", got, c.want, doubts)
			}
		})
	}
}
