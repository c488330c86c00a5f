package grade

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"lampwise/internal/fault"
)

func TestSetChangesOneSetting(t *testing.T) {
	g := Starting("log-420")
	for _, a := range []string{"look.strength=0.4", "split.high.mired = -12.5", "convert.apply=channels", `name="lesson 12"`, "curve.master=[[-3,-3.2],[0,0]]", "exposure.stops=1"} {
		if err := g.Set(a); err != nil {
			t.Fatalf("%s: %v", a, err)
		}
	}
	if g.Look.Strength != 0.4 || g.Split.High.Mired != -12.5 || g.Convert.Apply != "channels" || g.Name != "lesson 12" || len(g.Curve.Master) != 2 || g.Exposure.Stops != 1 {
		t.Errorf("settings after: %+v", g)
	}
}

func TestSetRefusesAndLeavesTheGradeWhole(t *testing.T) {
	g := Starting("log-420")
	before := g.clone()
	for _, a := range []string{"look.strenght=0.4", "look.strength=4", "look.strength", "=3", "look.strength=soft", "curve.master=[[1,2,3]]", "look=1", "balance.white.cct=3200", "schema=2", "schema=1", "decode.curve=log-421x9", "decode.gamut=wide"} {
		err := g.Set(a)
		if a == "balance.white.cct=3200" {
			if err != nil {
				t.Errorf("%s: %v", a, err)
			}
			g = before.clone()
			continue
		}
		f, ok := fault.As(err)
		if !ok || f.Class != fault.Usage {
			t.Errorf("%s: %v", a, err)
			continue
		}
		key, _, _ := strings.Cut(a, "=")
		if strings.Count(f.Message, key) > 1 && key != "" || f.Hint == "" {
			t.Errorf("%s: message %q, hint %q", a, f.Message, f.Hint)
		}
		if d := cmp.Diff(before, g, cmpopts.IgnoreUnexported(Grade{})); d != "" {
			t.Errorf("%s changed the grade:\n%s", a, d)
		}
	}
}
