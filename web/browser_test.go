package web_test

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/demo"
	"lampwise/internal/grade"
	"lampwise/internal/job"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/server"
	"lampwise/internal/store"
)

// TestBrowser goes through the page in a real browser (test/browser.mjs) and
// compares the pixels it shows with the path's own arithmetic. It takes about a
// minute and needs node, chromium and web/node_modules, so it runs when asked:
// make web-test, which make test does too.
func TestBrowser(t *testing.T) {
	ctx := inBrowser(t, 7*time.Minute)
	folder, data := example(ctx, t)
	s := storeIn(ctx, t, data)
	out := t.TempDir()
	browseStore(ctx, t, "test/browser.mjs", out, server.Options{Folders: []string{folder}, Store: s})
	cases, _ := filepath.Glob(filepath.Join(out, "pixels-*.json"))
	if len(cases) < 5 {
		t.Fatalf("%d pictures were handed over for comparison, want 5 at least", len(cases))
	}
	for _, file := range cases {
		t.Run(filepath.Base(file), func(t *testing.T) { comparePixels(ctx, t, file, folder, s) })
	}
}

// example is the generated example at a small size with its set learned; a
// folder that holds one already may be named by LAMPWISE_EXAMPLE, with its data.
func example(ctx context.Context, t *testing.T) (folder, data string) {
	if from := os.Getenv("LAMPWISE_EXAMPLE"); from != "" {
		folder, data = t.TempDir(), t.TempDir()
		for _, name := range []string{"amber-dusk.cube", "episode-1.mov", "episode-2.mov", "lesson.toml", "switch.mov"} {
			b, err := os.ReadFile(filepath.Join(from, name))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(folder, name), b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	} else {
		folder, data = t.TempDir(), t.TempDir()
		// At 270 lines a face is large enough to be found.
		if _, err := demo.Make(ctx, demo.Options{Dir: folder, Size: 270, Fine: 0.5}, nil); err != nil {
			t.Fatal(err)
		}
		s, err := store.Open(ctx, t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		if _, err := job.MakeGrade(ctx, s, job.NewGrade{File: filepath.Join(folder, "lesson.toml"), Curve: "log-420", Clip: filepath.Join(folder, "episode-1.mov")}); err != nil {
			t.Fatal(err)
		}
	}
	s := storeIn(ctx, t, data)
	const order = "all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all, dark" // the example's
	if _, err := job.Learn(ctx, s, job.LearnRequest{Clip: filepath.Join(folder, "switch.mov"), Set: "garage", Order: order, Curve: "log-420"}, nil); err != nil {
		t.Fatal(err)
	}
	return folder, data
}

// shown is one picture as the browser drew it.
type shown struct {
	Name   string          `json:"name"`
	Clip   string          `json:"clip"`
	Frame  int             `json:"frame"`
	After  string          `json:"after"`
	Set    string          `json:"set"`
	Levels []float64       `json:"levels"`
	Grade  json.RawMessage `json:"grade"`
	Width  int             `json:"width"`
	Height int             `json:"height"`
	Pixels string          `json:"pixels"` // file: R G B A, a byte each
}

// largestDifference is what a shown channel may differ by from the path's own
// arithmetic, in codes of 8 bits: one, since 16-bit proxies, half floats of lamp
// pictures, single precision and sampled curves may carry a value over a
// rounding edge.
const largestDifference = 1

// comparePixels evaluates the same settings by the path itself (grade.Path.After,
// float64, stage by stage), not by the program that the page was given.
func comparePixels(ctx context.Context, t *testing.T, file, folder string, s *store.Store) {
	var c shown
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	pixels, err := os.ReadFile(c.Pixels)
	if err != nil {
		t.Fatal(err)
	}
	g, err := job.GradeOf(c.Grade, "")
	if err != nil {
		t.Fatal(err)
	}
	const limit = largestDifference
	source := func(x, y int) [3]float64 { return [3]float64{} }
	var path *grade.Path
	if c.Set != "" {
		set, _, err := job.OpenSet(ctx, s, c.Set)
		if err != nil {
			t.Fatal(err)
		}
		mix := set.PictureOf(c.Levels)
		if mix.W != c.Width || mix.H != c.Height {
			mix = mix.Shrink(c.Width, c.Height)
		}
		if path, err = grade.Build(g, grade.Clip{Format: picture.Format{Width: c.Width, Height: c.Height, Bits: 10, Sub: picture.Sub422, Range: "narrow", Matrix: "bt709", Siting: picture.SiteLeft}}, job.LUTsIn(folder)); err != nil {
			t.Fatal(err)
		}
		source = func(x, y int) [3]float64 {
			v := mix.At(x, y)
			for ch := range v {
				v[ch] = path.Curve.Encode(v[ch])
			}
			return v
		}
	} else {
		clip := filepath.Join(folder, filepath.Base(c.Clip))
		info, err := media.Probe(ctx, clip)
		if err != nil {
			t.Fatal(err)
		}
		if path, err = grade.Build(g, grade.Clip{Format: info.FormatWith(job.Override(g)), CurveHint: info.HintKey}, job.LUTsIn(folder)); err != nil {
			t.Fatal(err)
		}
		program, err := path.Program()
		if err != nil {
			t.Fatal(err)
		}
		frame, err := job.NewLive().Frame(ctx, clip, c.Frame, 1280, job.Override(g))
		if err != nil {
			t.Fatal(err)
		}
		source = func(x, y int) [3]float64 { return program.Input.Signal(frame.E.At(x, y)) }
	}
	program, err := path.Program()
	if err != nil {
		t.Fatal(err)
	}
	stage := grade.StageEncode
	if c.After != "" {
		stage = grade.Stage(c.After)
	}
	vignette := program.Vignette
	if c.After != "" && c.After != "vignette" && c.After != "encode" {
		vignette = nil
	}
	row := func(y int) (most, over, differ int) {
		for x := range c.Width {
			v := path.After(stage, source(x, y))
			domain := path.DomainAfter(stage)
			for ch := range v {
				if domain == grade.DomainScene { // shown as the camera records it
					v[ch] = path.Curve.Encode(v[ch])
				}
				if domain != grade.DomainScreen && path.Curve.Levels != colour.LevelsVideo {
					// y is the code over 1023; a screen takes the code as narrow
					// range (ITU-R BT.709-6, item 4.6, ten bits).
					v[ch] = (1023*v[ch] - 64) / 876
				}
			}
			if vignette != nil {
				k := vignette.SignalGain(x, y, c.Width, c.Height)
				v = [3]float64{v[0] * k, v[1] * k, v[2] * k}
			}
			for ch := range v {
				want := int(255*max(0, min(1, v[ch])) + 0.5)
				d := want - int(pixels[4*(y*c.Width+x)+ch])
				d = max(d, -d)
				most = max(most, d)
				if d > limit {
					over++
				}
				if d > 0 {
					differ++
				}
			}
		}
		return most, over, differ
	}
	var mu sync.Mutex
	var rows sync.WaitGroup
	most, over, differ := 0, 0, 0
	for k := range runtime.GOMAXPROCS(0) {
		rows.Go(func() {
			for y := k; y < c.Height; y += runtime.GOMAXPROCS(0) {
				m, o, d := row(y)
				mu.Lock()
				most, over, differ = max(most, m), over+o, differ+d
				mu.Unlock()
			}
		})
	}
	rows.Wait()
	n := 3 * c.Width * c.Height
	t.Logf("%s: %d×%d, largest difference %d codes of 8 bits, %.3f %% differ at all", c.Name, c.Width, c.Height, most, 100*float64(differ)/float64(n))
	if over > 0 {
		t.Errorf("%s: %d of %d channels differ by more than %d codes, at most %d", c.Name, over, n, limit, most)
	}
}
