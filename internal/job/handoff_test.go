package job

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture/lutfile"
)

// The files say what they are, read back, and err by what is told.
func TestHandoff(t *testing.T) {
	clip, g := lessonClip(t, "64x36", "25", "", "0.4")
	folder := filepath.Join(t.TempDir(), "handed")
	out, err := Handoff(context.Background(), nil, HandoffRequest{Grade: g, Folder: folder, Clip: clip, At: "0.2"})
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Files) != 6+2+6 {
		t.Errorf("%d files: %+v", len(out.Files), out.Files)
	}
	loaded, err := grade.Load(g)
	if err != nil {
		t.Fatal(err)
	}
	path, err := grade.Build(loaded, grade.Clip{}, LUTsIn(filepath.Dir(g)))
	if err != nil {
		t.Fatal(err)
	}
	slope, offset := path.Curve.SignalFromE(colour.Narrow)
	// The same grey through every file: code by either convention in, display signal out.
	for _, stops := range []float64{-3, 0, 2} {
		y := path.Curve.Encode(0.18 * math.Exp2(stops))
		e := (y - offset) / slope
		want := path.Exact([3]float64{y, y, y})[1]
		for name, c := range map[string]struct{ in, tolerance float64 }{
			// Tolerance: the neutral error that is told, in signal.
			"monitor-33-data.cube": {(64 + 876*e) / 1023, told(t, out, "monitor-33-data.cube")}, "monitor-33-video.cube": {e, told(t, out, "monitor-33-video.cube")},
			"grade.clf": {(64 + 876*e) / 1023, told(t, out, "grade.clf")}, "grade.cc": {(64 + 876*e) / 1023, told(t, out, "grade.cc")},
		} {
			chain, err := lutfile.Load(filepath.Join(folder, name))
			if err != nil {
				t.Fatal(err)
			}
			v := [3]float64{c.in, c.in, c.in}
			for _, op := range chain.Ops {
				v = op.Apply(v)
			}
			// A tenth of a 10-bit code to spare for the digits in the file and for greys between those measured.
			if d := math.Abs(v[1] - want); d > 1.5*c.tolerance+0.1/876 {
				t.Errorf("%s: %+g stops comes to %.4f, exactly %.4f; told: within %.4f", name, stops, v[1], want, c.tolerance)
			}
		}
	}
	text, err := os.ReadFile(filepath.Join(folder, "monitor-17-video.cube"))
	if err != nil || !strings.Contains(string(text), "64..940") {
		t.Errorf("the file does not name its levels (%v)", err)
	}
	// Stills: before is the recording, after the exact path; PNG and EXR agree.
	for _, name := range []string{"before.png", "before-16.tif", "before-light.exr", "after.png", "after-16.tif", "after.exr"} {
		s, err := media.ReadStill(context.Background(), filepath.Join(folder, name))
		if err != nil || s.Image.W != 64 || s.Image.H != 36 {
			t.Errorf("%s: %v", name, err)
		}
	}
	a, _ := media.ReadStill(context.Background(), filepath.Join(folder, "after-16.tif"))
	b, _ := media.ReadStill(context.Background(), filepath.Join(folder, "after.exr"))
	for i, v := range a.Image.Pix {
		if math.Abs(float64(v)-float64(b.Image.Pix[i])) > 0.5/65535+1e-6 {
			t.Fatalf("number %d is %g in the TIFF and %g in the EXR", i, v, b.Image.Pix[i])
		}
	}
	// Not written over unasked.
	if _, err := Handoff(context.Background(), nil, HandoffRequest{Grade: g, Folder: folder}); err == nil {
		t.Error("files were written over unasked")
	} else if f, ok := fault.As(err); !ok || f.Class != fault.Storage {
		t.Error(err)
	}
}

// told is the neutral error of a file as signal.
func told(t *testing.T, out *HandedOff, name string) float64 {
	t.Helper()
	for _, f := range out.Files {
		if filepath.Base(f.File) == name {
			return f.Error.Neutral / 876
		}
	}
	t.Fatalf("%s was not written", name)
	return 0
}
