package job

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"lampwise/internal/fault"
	"lampwise/internal/light"
)

func planFile(t testing.TB, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "room.toml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// TestLivePlanIsThePlan holds that what the page is told after changes, from
// what was kept of the plan before them, is what the file computes to once they
// are written.
func TestLivePlanIsThePlan(t *testing.T) {
	file := planFile(t, light.Example)
	l := NewLivePlans()
	first, err := l.Look(LivePlanRequest{File: file})
	if err != nil {
		t.Fatal(err)
	}
	if !first.Saved || first.Text != light.Example {
		t.Error("the plan isn't shown as it is in the file")
	}
	text := first.Text
	for _, c := range []PlanChange{
		{Key: "lamp.0.at", Value: []any{0.6, 2.5, 1.9}},
		{Key: "lamp.1.level", Value: 0.3},
		{Key: "camera.f", Value: 4.0},
		{Key: "subject.at", Value: []any{1.5, 3.4}},
		{Key: "lamp.0.aim", Value: []any{1.5, 3.4, 1.4}},
		{Key: "lamp.1", Value: nil},
	} {
		live, err := l.Look(LivePlanRequest{File: file, Text: text, Changes: []PlanChange{c}})
		if err != nil {
			t.Fatalf("%v: %v", c, err)
		}
		if live.Saved {
			t.Errorf("%v: said to be saved", c)
		}
		text = live.Text
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		whole, err := PlanFile(PlanRequest{File: file})
		if err != nil {
			t.Fatal(err)
		}
		// What was kept was computed by the same sums in the same order.
		if d := cmp.Diff(whole, live.Figures, cmpopts.IgnoreUnexported(Planned{}), cmpopts.EquateApprox(1e-12, 1e-12)); d != "" {
			t.Errorf("%v: the page's figures differ from the file's:\n%s", c, d)
		}
	}
}

func TestLivePlanSays(t *testing.T) {
	file := planFile(t, light.Example)
	l := NewLivePlans()
	for _, c := range []struct {
		change PlanChange
		want   string
	}{
		{PlanChange{Key: "lamp.0.at", Value: []any{99.0, 1.0, 1.0}}, "room.toml:"},
		{PlanChange{Key: "lamp.0.level", Value: 3.0}, "level"},
		{PlanChange{Key: "lamp.0.aim", Value: "nowhere"}, "aim"},
		{PlanChange{Key: "camera.f", Value: "wide"}, "camera.f"},
	} {
		_, err := l.Look(LivePlanRequest{File: file, Changes: []PlanChange{c.change}})
		f, ok := fault.As(err)
		if !ok || !strings.Contains(f.Message, c.want) || f.Hint == "" {
			t.Errorf("%v: %v (wanted one line that holds %q, and a hint)", c.change, err, c.want)
		}
	}
}

func TestSavePlan(t *testing.T) {
	file := planFile(t, light.Example)
	mine := strings.Replace(light.Example, "level = ", "level = 0.9 # ", 1)
	if err := SavePlan(file, mine, light.Example); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(file); string(got) != mine {
		t.Error("not written as it was")
	}
	if err := SavePlan(file, light.Example+"# mine\n", light.Example); err == nil {
		t.Error("another's change was written over")
	}
	if got, _ := os.ReadFile(file); string(got) != mine {
		t.Error("the file was touched all the same")
	}
	if err := SavePlan(file, light.Example, ""); err == nil {
		t.Error("a file that stands there was taken as a new one")
	}
	if err := SavePlan(filepath.Join(t.TempDir(), "new.toml"), light.Example, ""); err != nil {
		t.Error(err)
	}
	if err := SavePlan(file, "schema = 1\n", mine); err == nil {
		t.Error("a plan with nothing in it was written")
	}
}

// BenchmarkDrag is what one step of dragging the key on the page takes the
// server: text, changed lamp, all figures.
func BenchmarkDrag(b *testing.B) {
	file := planFile(b, light.Example)
	l := NewLivePlans()
	first, err := l.Look(LivePlanRequest{File: file})
	if err != nil {
		b.Fatal(err)
	}
	for _, isolux := range []bool{false, true} {
		name := "figures"
		if isolux {
			name = "isolux"
		}
		b.Run(name, func(b *testing.B) {
			for i := range b.N {
				at := []any{0.6 + 0.001*float64(i%500), 2.5, 1.9}
				if _, err := l.Look(LivePlanRequest{File: file, Text: first.Text, Changes: []PlanChange{{Key: "lamp.0.at", Value: at}}, Isolux: isolux}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
