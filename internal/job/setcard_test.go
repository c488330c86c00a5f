package job

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/light"
	"lampwise/internal/store"
)

// The card says of each region what it is to read: what it read, or a plan's
// target; and of the camera what the plan sets, or nothing, to be written in.
func TestSetCard(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s, err := store.Open(ctx, filepath.Join(dir, "data"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	pictures, err := packSeparation(someSeparation())
	if err != nil {
		t.Fatal(err)
	}
	settings := someSettings()
	settings.Regions = append(settings.Regions, book.SetRegion{Name: light.FaceLit, X: 0.5, Y: 0.5, W: 0.2, H: 0.2})
	if _, err := s.KeepSet(ctx, book.Set{Name: "garage", Learned: time.Now(), Changed: time.Now(), Settings: settings}, pictures, false); err != nil {
		t.Fatal(err)
	}
	g, room := filepath.Join(dir, "lesson.toml"), filepath.Join(dir, "garage.toml")
	if err := grade.Starting("log-420").Save(g); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, grade.LookFile), []byte("LUT_1D_SIZE 2\n0 0 0\n1 1 1\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := NewPlan(NewPlanRequest{File: room, Example: true}); err != nil {
		t.Fatal(err)
	}
	plan, err := PlanFile(PlanRequest{File: room})
	if err != nil {
		t.Fatal(err)
	}
	set, kept, err := OpenSet(ctx, s, "garage")
	if err != nil {
		t.Fatal(err)
	}
	v, err := newViewer(kept.Settings.Clip.Curve, kept.Settings.Clip.Gamut)
	if err != nil {
		t.Fatal(err)
	}
	var wanted float64
	for _, text := range plan.scene.Plan.Targets {
		if x, err := ParseTargets([]string{text}); err == nil && x[0].Region == light.FaceLit && x[0].Over == "" {
			wanted = float64(x[0].Want)
		}
	}
	if wanted == 0 {
		t.Fatal("the example plan has no target for the face: nothing is tested")
	}
	for _, r := range cardRows(set, v, plan) {
		if r.Planned != (r.Region == light.FaceLit) || r.Planned && r.Want != wanted || !r.Planned && r.Want != r.Reads {
			t.Errorf("with a plan %+v", r)
		}
	}
	for _, r := range cardRows(set, v, nil) {
		if r.Planned || r.Want != r.Reads || r.Within != float64(set.Habit.Act) {
			t.Errorf("without a plan %+v", r)
		}
		// What the waveform shows of that light, by the curve itself.
		slope, offset := v.curve.SignalFromE(colour.Narrow)
		if e := (v.curve.Encode(0.18*math.Exp2(r.Want)) - offset) / slope; math.Abs(100*e-r.Percent) > 0.01 {
			t.Errorf("%s: waveform %.2f %%, the curve says %.2f %%", r.Region, r.Percent, 100*e)
		}
	}
	for file, says := range map[string][]string{
		"":   {"<td>aperture</td><td></td>", "Target ladder", "Exposure card, log-420", ">key<", ">fill<", deferral},
		room: {"<td>aperture</td><td>f/", "Target ladder", "Exposure card, log-420", ">key<", ">fill<", deferral, plan.Title, "the plan’s target"},
	} {
		page, err := SetCard(ctx, s, "garage", g, file)
		if err != nil {
			t.Fatal(err)
		}
		for _, words := range says {
			if !strings.Contains(string(page), words) {
				t.Errorf("card with plan %q lacks %q", file, words)
			}
		}
		for _, never := range []string{"NaN", "Inf", "http:", "https:"} {
			if strings.Contains(strings.ReplaceAll(string(page), `xmlns="http://www.w3.org/2000/svg"`, ""), never) {
				t.Errorf("card with plan %q says %q", file, never)
			}
		}
	}
}

// With many lamps and regions the drawing gets smaller, then the whole card: by
// the style's own measures it never comes to more than a page.
func TestSetCardFits(t *testing.T) {
	last := 1.0
	for n := 1; n <= 40; n++ {
		planH, zoom := cardFit(n, n, 9.0/16)
		if planH < 50 || planH > 100 || !(zoom > 0.3) || zoom > last {
			t.Errorf("%d lamps and regions: drawing %.0f mm high, zoom %.2f after %.2f", n, planH, zoom, last)
		}
		last = zoom
	}
	if last == 1 {
		t.Error("forty lamps fit unshrunk: nothing is tested")
	}
}
