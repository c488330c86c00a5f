package main

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"lampwise/internal/colour"
	"lampwise/internal/demo"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/job"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/store"
)

// week says that the week is to be gone through; it takes minutes.
var week = flag.Bool("week", false, "generate a week of days and bring it to the set's picture by one command")

// TestWeek prints how near the finished days come to each other; scripts/week
// runs it.
func TestWeek(t *testing.T) {
	if !*week {
		t.Skip("takes minutes: scripts/week runs it")
	}
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/week", RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){"days": days, "matched": matched, "exits": exits},
	})
}

// weekFaults are what is wrong with some days besides their drifts, as filters of
// ffmpeg, and what the measuring calls it: it does not keep a day from coming out
// matched, and must be told.
var weekFaults = []struct{ day, filter, kind string }{
	// A card too slow: two frames are the one before.
	{"2-tuesday", "split[a][b];[a][b]freezeframes=first=20:last=20:replace=19,split[c][d];[c][d]freezeframes=first=41:last=41:replace=40", "frames-doubled"},
	// A lamp on mains of 60 Hz, seen by 25 frames/s: five to the second.
	{"4-thursday", "geq=lum='lum(X,Y)+3*sin(2*PI*N/5)':cb='cb(X,Y)':cr='cr(X,Y)'", "flicker-whole"},
}

// days makes the generated example with a week, plants faults in some of its
// days, and cuts one more file off: days HEIGHT.
func days(ts *testscript.TestScript, _ bool, args []string) {
	size, err := strconv.Atoi(args[0])
	ts.Check(err)
	made, err := demo.Make(context.Background(), demo.Options{Dir: ts.MkAbs("."), Size: size, Fine: 0.5, Week: true, Overwrite: true}, nil)
	ts.Check(err)
	for _, f := range weekFaults {
		day := filepath.Join(filepath.Dir(made.Days[0]), f.day+".mov")
		out, err := exec.Command("ffmpeg", "-v", "error", "-i", day, "-filter_complex", "[0:v]"+f.filter+"[v]", "-map", "[v]", "-map", "0:a?", "-c:a", "copy",
			"-c:v", "libx264", "-preset", "fast", "-qp", "8", "-g", "1", "-pix_fmt", "yuv422p10le", "-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709",
			"-y", day+".mov").CombinedOutput()
		if err != nil {
			ts.Fatalf("%s: %v\n%s", f.day, err, out)
		}
		ts.Check(os.Rename(day+".mov", day))
	}
	whole, err := os.ReadFile(made.Days[0])
	ts.Check(err)
	ts.Check(os.WriteFile(filepath.Join(filepath.Dir(made.Days[0]), "7-cut.mov"), whole[:len(whole)/3], 0o644))
}

// What may be left between a finished day and the set's own picture under the
// same grade, on face and background.
const (
	weekStops = 0.1
	weekDE00  = 1.5
)

// matched decodes each finished day and holds face and background against the
// set's reference mix under the grade, by the exact path: independent of what
// the match says of itself. matched GRADE SET EPISODE.
func matched(ts *testscript.TestScript, _ bool, args []string) {
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(ts.Getenv("XDG_DATA_HOME"), "lampwise"))
	ts.Check(err)
	defer s.Close()
	set, _, err := job.OpenSet(ctx, s, args[1])
	ts.Check(err)
	e, err := job.ShowEpisode(ctx, s, args[1], args[2])
	ts.Check(err)
	g, err := grade.Load(ts.MkAbs(args[0]))
	ts.Check(err)
	path, err := grade.Build(g, grade.Clip{Format: picture.Format{Width: set.W, Height: set.H, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}}, job.LUTsIn(ts.MkAbs(".")))
	ts.Check(err)
	program, err := path.Program()
	ts.Check(err)
	mix := set.PictureOf(set.Mix)
	wrong, n := 0, 0
	for _, c := range e.Clips {
		if c.State != "done" {
			continue
		}
		n++
		info, err := media.Probe(ctx, c.Out)
		ts.Check(err)
		frame, err := job.NewLive().Frame(ctx, c.Out, info.Video.Frames/2, set.W, job.OverrideOf("auto", "auto"))
		ts.Check(err)
		line := fmt.Sprintf("week: %-16s match left %.3f stop, ΔE00 %.2f; finished against the set:", filepath.Base(c.File), c.Found.After.Stops, c.Found.After.DE00)
		for _, r := range set.Regions {
			if r.Name != "face-lit" && r.Name != "face-shade" && r.Name != "background" {
				continue
			}
			want := regionLight(r, mix.W, mix.H, func(x, y int) [3]float64 {
				v := mix.At(x, y)
				for ch := range v {
					v[ch] = path.Curve.Encode(v[ch])
				}
				v = path.After(grade.StageEncode, v)
				if vig := program.Vignette; vig != nil {
					k := vig.SignalGain(x, y, mix.W, mix.H)
					v = [3]float64{v[0] * k, v[1] * k, v[2] * k}
				}
				return v
			})
			got := regionLight(r, frame.W, frame.H, frame.E.At)
			stops := math.Log2(luminance(got) / luminance(want))
			de := colour.DeltaE2000(labOf(got), labOf(want))
			line += fmt.Sprintf(" %s %+.3f screen stop, ΔE00 %.2f;", r.Name, stops, de)
			if c.Found.After.Stops > weekStops || c.Found.After.DE00 > weekDE00 || math.Abs(stops) > weekStops || de > weekDE00 {
				wrong++
			}
		}
		fmt.Println(line)
		for _, f := range weekFaults {
			if strings.TrimSuffix(filepath.Base(c.File), ".mov") != f.day {
				continue
			}
			i := slices.IndexFunc(c.Found.Problems, func(p gauge.Problem) bool { return p.Kind == f.kind })
			if i < 0 {
				ts.Fatalf("%s: the planted fault, %s, isn't told: %+v", f.day, f.kind, c.Found.Problems)
			}
			fmt.Printf("week: %-16s told: %s\n", f.day, c.Found.Problems[i].What)
		}
	}
	fmt.Printf("week: %d days done, %d readings out of bounds (%g stop and ΔE00 %g, left by the match and in the finished file)\n", n, wrong, weekStops, weekDE00)
	if wrong > 0 || n != 5 {
		ts.Fatalf("the week did not come out matched")
	}
}

// regionLight is the mean displayed light of a region (BT.1886).
func regionLight(r lamps.Region, w, h int, at func(x, y int) [3]float64) (sum [3]float64) {
	n := 0.0
	for y := int(r.Y * float64(h)); y < int((r.Y+r.H)*float64(h)); y++ {
		for x := int(r.X * float64(w)); x < int((r.X+r.W)*float64(w)); x++ {
			v := at(x, y)
			for ch := range v {
				sum[ch] += colour.BT1886.Decode(max(0, min(1, v[ch])))
			}
			n++
		}
	}
	for ch := range sum {
		sum[ch] /= n
	}
	return sum
}

// luminance of BT.709 light.
func luminance(v [3]float64) float64 { return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2] }

// labOf is CIELAB of displayed light.
func labOf(light [3]float64) [3]float64 {
	var signal colour.RGB
	for ch := range signal {
		signal[ch] = colour.BT1886.Encode(light[ch])
	}
	return colour.DisplayLab(signal)
}
