package colour

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"lampwise/internal/fault"
)

func level(v float64) *float64 { return &v }

// TestFindEveryCurve: each curve's own published or computed codes find it
// first, alone or among those said to be alike.
func TestFindEveryCurve(t *testing.T) {
	for _, c := range Curves() {
		if c.Kind != KindCamera && c.Kind != KindWorking {
			continue
		}
		round := func(x float64) *float64 { return level(math.Round(float64(c.Code10(x)))) }
		found, err := FindCurves(CurveQuery{Unit: Code10, Grey: round(Grey), White: round(0.9), Black: round(0)})
		if err != nil {
			t.Fatal(err)
		}
		if found[0].Curve != c || !found[0].Fits {
			t.Errorf("%s: found %s (fits %v, %.2f codes)", c.ID, found[0].Curve.ID, found[0].Fits, float64(found[0].RMS))
		}
		percent := func(x float64) *float64 { return level(math.Round(float64(c.NarrowPercent(x)))) }
		found, err = FindCurves(CurveQuery{Unit: NarrowPercent, Grey: percent(Grey), White: percent(0.9), Black: percent(0)})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(found, func(m CurveMatch) bool { return m.Curve == c })
		if !found[i].Fits {
			t.Errorf("%s: its own whole per cents don't fit it: %+v", c.ID, found[i].Misses)
		}
		for _, before := range found[:i] {
			if before.Fits && !slices.Contains(found[i].Alike, before.Curve.ID) {
				t.Errorf("%s: %s fits as well and isn't said to", c.ID, before.Curve.ID)
			}
		}
	}
}

// TestFindDoubt: curves that share grey, or grey and black, are told to be
// alike, and what would tell them apart is said.
func TestFindDoubt(t *testing.T) {
	for _, c := range []struct {
		q      CurveQuery
		first  []string
		tellBy string
	}{
		{CurveQuery{Unit: Code10, Grey: level(400)}, []string{"log-400a", "log-400b"}, "[white]"},
		{CurveQuery{Unit: Code10, Grey: level(351), Black: level(128)}, []string{"log-351a", "log-351b"}, "[white]"},
		{CurveQuery{Unit: NarrowPercent, Grey: level(41), White: level(61)}, []string{"log-420"}, "[]"},
	} {
		found, err := FindCurves(c.q)
		if err != nil {
			t.Fatal(err)
		}
		var fitting []string
		for _, m := range found {
			if m.Fits {
				fitting = append(fitting, m.Curve.ID)
			}
		}
		slices.Sort(fitting)
		if !slices.Equal(fitting, c.first) {
			t.Errorf("%+v fits %v, expected %v", c.q, fitting, c.first)
		}
		if got := fmt.Sprint(found[0].TellBy); got != c.tellBy {
			t.Errorf("%v can be told by %s, expected %s", fitting, got, c.tellBy)
		}
		if len(found[0].Alike) != len(c.first)-1 {
			t.Errorf("%s is alike to %v", found[0].Curve.ID, found[0].Alike)
		}
	}
}

func TestFindOwn(t *testing.T) {
	own, err := CurveFromParams("mine", LogParams{Base: 2, LinSideSlope: 1, LinSideOffset: 0.01, LogSideSlope: 0.07, LogSideOffset: 0.6, LinSideBreak: 0.005})
	if err != nil {
		t.Fatal(err)
	}
	found, err := FindCurves(CurveQuery{Unit: Code10, Grey: level(float64(own.Code10(Grey))), White: level(float64(own.Code10(0.9)))}, own)
	if err != nil || found[0].Curve != own {
		t.Errorf("found %s (%v)", found[0].Curve.ID, err)
	}
}

func TestFindFaults(t *testing.T) {
	for _, c := range []struct {
		code string
		q    CurveQuery
	}{
		{"level-none", CurveQuery{Unit: Code10}},
		{"level", CurveQuery{Unit: Code10, Grey: level(math.NaN())}},
		{"level", CurveQuery{Unit: Code10, Grey: level(2000)}},
		{"level", CurveQuery{Unit: Code10, White: level(-1)}},
		{"level", CurveQuery{Unit: NarrowPercent, Grey: level(-8)}},
		{"level", CurveQuery{Unit: NarrowPercent, Grey: level(41), White: level(598)}},
		{"level-unit", CurveQuery{Unit: "ire", Grey: level(41)}},
	} {
		_, err := FindCurves(c.q)
		if f, ok := fault.As(err); !ok || f.Code != c.code || f.Hint == "" {
			t.Errorf("%+v: %v, expected fault %q with a hint", c.q, err, c.code)
		}
	}
}
