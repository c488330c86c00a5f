package job

import (
	"context"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/light"
	"lampwise/internal/picture"
	"lampwise/internal/store"
)

// keptFromPlan keeps a set whose lamp pictures are a plan's own light, one pixel
// a place, each lamp off by so many stops, at the level said.
func keptFromPlan(t *testing.T, s *store.Store, p *Planned, off map[string]float64, level float64) {
	t.Helper()
	set, err := planSet(p)
	if err != nil {
		t.Fatal(err)
	}
	sep := set.Separation
	// A pixel a place is less than a picture has: each is spread over a block.
	const block = 32
	spread := func(im *picture.Image) *picture.Image {
		out := picture.NewImage(block*im.W, block, im.Space)
		for p := range out.W * out.H {
			copy(out.Pix[3*p:3*p+3], im.Pix[3*(p%out.W/block):])
		}
		return out
	}
	for i := range sep.Picture {
		sep.Picture[i] = spread(sep.Picture[i])
	}
	sep.Ambient = spread(sep.Ambient)
	sep.W, sep.H = sep.Ambient.W, sep.Ambient.H
	all := make([]float64, len(sep.Picture)) // one hold, everything on
	for i := range all {
		all[i] = 1
	}
	sep.Design.Level, sep.Effective, sep.Inflation = [][]float64{all}, []float64{1}, 1
	settings := book.SetSettings{Schema: setSchema, Clip: book.SetClip{Gamut: "bt709", ClipLight: 10}}
	for i, name := range sep.Design.Lamps {
		for k := range sep.Picture[i].Pix {
			sep.Picture[i].Pix[k] *= float32(math.Exp2(off[name]))
		}
		settings.Lamps = append(settings.Lamps, book.SetLamp{Name: name, Level: level})
	}
	for _, g := range set.Regions {
		settings.Regions = append(settings.Regions, book.SetRegion{Name: g.Name, X: g.X, Y: g.Y, W: g.W, H: g.H})
	}
	pictures, err := packSeparation(sep)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.KeepSet(context.Background(), book.Set{Name: "garage", Learned: time.Now(), Changed: time.Now(), Settings: settings}, pictures, false); err != nil {
		t.Fatal(err)
	}
}

// A set in the store beside a plan: the factor is what the lamp is off by, at
// whatever level the set has; taken on, the plan and the set agree, and taking
// it on again changes nothing more.
func TestPlanMeetsKeptSet(t *testing.T) {
	ctx := context.Background()
	s, err := store.Open(ctx, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	p, file := planned(t, planText+"# the end\n")
	keptFromPlan(t, s, p, map[string]float64{"key": -0.5, "fill": 0.8}, 0.7)
	want := map[string]float64{"key": -0.5, "fill": 0.8, "tube": 0}
	for round := range 3 {
		if p, err = PlanFile(PlanRequest{File: file}); err != nil {
			t.Fatal(err)
		}
		met, err := MeetSet(ctx, s, p, "garage")
		if err != nil {
			t.Fatal(err)
		}
		if len(met.Lamps) != 3 || len(met.Missing)+len(met.Other) > 0 {
			t.Fatalf("met %+v", met)
		}
		if len(met.Readings) == 0 {
			t.Error("no place was read")
		}
		for _, r := range met.Readings {
			// With the factors in it, the plan reads what the set does at the
			// plan's levels, whatever the set's own were.
			if planned := *p.reading(r.Region).Stops; round > 0 && math.Abs(r.Measured-planned) > 5e-3 {
				t.Errorf("round %d: %s is planned at %.3f, measured at %.3f", round, r.Region, planned, r.Measured)
			}
		}
		for _, l := range met.Lamps {
			// Half floats and the file's three digits.
			if l.Factor == nil || math.Abs(*l.Factor-want[l.Name]) > 2e-3 || l.SE > 2e-3 {
				t.Errorf("round %d: %s is off by %v ± %g, want %g", round, l.Name, l.Factor, l.SE, want[l.Name])
			}
			for _, r := range l.Regions {
				if r.Within != (math.Abs(want[l.Name]) <= 0.5+2e-3) && math.Abs(math.Abs(want[l.Name])-0.5) > 1e-9 {
					t.Errorf("round %d: %s at %s within %v", round, l.Name, r.Region, r.Within)
				}
			}
		}
		if err := KeepFactors(p, met); err != nil || !met.Kept {
			t.Fatal(err)
		}
		want = map[string]float64{}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text := string(data)
	if strings.Count(text, "measured_stops") != 3 || !strings.HasSuffix(text, "# the end\n") {
		t.Errorf("the file:\n%s", text)
	}
	// On the page, unsaved: a text half a stop under what was kept is off by that.
	changed := strings.Replace(text, "measured_stops = -0.5", "measured_stops = -1.0", 1)
	met, err := NewLivePlans().Meet(ctx, s, LivePlanRequest{File: file, Text: changed}, "garage")
	if err != nil {
		t.Fatal(err)
	}
	if f := met.Lamps[0].Factor; changed == text || f == nil || math.Abs(*f-0.5) > 2e-3 {
		t.Errorf("on the page the key is off by %v", f)
	}
	if _, err := MeetSet(ctx, s, p, "attic"); err == nil {
		t.Error("a set that isn't there was met")
	}
}

// A lamp that lights one region alone has a factor and no better doubt.
func TestOneRegionTellsNoScatter(t *testing.T) {
	f, se := factorOf([]PlanRegion{{Region: light.Background, Measured: -1, Off: 0.3}, {Region: light.FaceLit, Measured: -6, Off: 2}}, -1)
	if f == nil || *f != 0.3 || se != float64(planDoubt) {
		t.Errorf("factor %v ± %g", f, se)
	}
}

// Several spots of one name are one place, read as a camera averages them.
func TestSpotsAreOnePlace(t *testing.T) {
	spot := func(at, rho string) string {
		return "[[place]]\nname = \"rag\"\nat = " + at + "\nnormal = [0, -1, 0]\nreflectance = " + rho + "\n"
	}
	a, _ := planned(t, planText+spot("[1, 2, 1]", "0.1"))
	b, _ := planned(t, planText+spot("[1.4, 2.2, 1.2]", "0.3"))
	both, _ := planned(t, planText+spot("[1, 2, 1]", "0.1")+spot("[1.4, 2.2, 1.2]", "0.3"))
	x, y, z := a.reading("rag"), b.reading("rag"), both.reading("rag")
	if len(both.Readings) != len(a.Readings) {
		t.Fatalf("%d readings", len(both.Readings))
	}
	mean := (x.Lux*x.Reflectance + y.Lux*y.Reflectance) / 2
	if got := z.Lux * z.Reflectance; math.Abs(got/mean-1) > 1e-9 || math.Abs(z.Reflectance-0.2) > 1e-12 {
		t.Errorf("together %g at %g, in the mean %g", got, z.Reflectance, mean)
	}
}
