package job

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/unit"
)

// SolveRequest asks for the levels that give a picture.
type SolveRequest struct {
	Set      string
	Targets  []lamps.Target
	Exposure []unit.Stop             // changes the camera's settings allow; nil: exposure stays
	Tables   map[string]*DimmerTable // dimmer curves for this once, by lamp
}

// Solved is the answer: docs/json.md, solve.
type Solved struct {
	Set          string            `json:"set"`
	Met          bool              `json:"met"`
	Exposure     float64           `json:"exposure_stops"`
	Levels       []SolvedLevel     `json:"levels"`
	Targets      []SolvedTarget    `json:"targets"`
	Alternatives []SolvedOtherwise `json:"alternatives"`
	Seconds      float64           `json:"seconds"`
}

// SolvedLevel is where a lamp goes.
type SolvedLevel struct {
	Name         string   `json:"name"`
	Level        float64  `json:"level"`  // in light, 1 = full
	Dimmer       float64  `json:"dimmer"` // 0..1
	Stops        *float64 `json:"stops"`  // against the reference mix; null: off, now or before
	DimmerBefore float64  `json:"dimmer_before"`
	Known        bool     `json:"dimmer_known"` // measured or typed; else the dimmer is taken as even
	Off          bool     `json:"off"`
	Until        string   `json:"until,omitempty"` // what to turn it by when its dimmer's curve isn't known
}

// SolvedTarget is a target before and after.
type SolvedTarget struct {
	Region    string   `json:"region"`
	Over      string   `json:"over,omitempty"`
	Neutral   bool     `json:"neutral,omitempty"`
	Want      float64  `json:"want"` // stops; of a ratio, stops between the two
	Before    *float64 `json:"before"`
	Got       *float64 `json:"got"`
	Tolerance float64  `json:"tolerance"`
	Met       bool     `json:"met"`
	Reason    string   `json:"reason"`
	Text      string   `json:"target"`
}

// SolvedOtherwise is another way.
type SolvedOtherwise struct {
	What     string             `json:"what"`
	Met      bool               `json:"met"`
	Exposure float64            `json:"exposure_stops"`
	Levels   map[string]float64 `json:"levels"`
}

// Solve finds the levels that bring the targets nearest.
func Solve(ctx context.Context, store Sets, r SolveRequest) (*Solved, error) {
	set, _, err := OpenSet(ctx, store, r.Set)
	if err != nil {
		return nil, err
	}
	if err := useTables(set, r.Tables); err != nil {
		return nil, err
	}
	return solveSet(r.Set, set, r.Targets, r.Exposure)
}

// useTables takes typed dimmer curves for the set's lamps. A lamp's level in
// the mix was had from its dimmer's reading; the same reading now means another
// level, and its picture at full is another, too, so that the mix stays what it is.
func useTables(set *lamps.Set, tables map[string]*DimmerTable) error {
	var names []string
	for _, l := range set.Lamps {
		names = append(names, l.Name)
	}
	for name, t := range tables {
		if err := knownLamp(names, name); err != nil {
			return err
		}
		for i := range set.Lamps {
			if set.Lamps[i].Name == name {
				if err := takeDimmer(set, i, t.Dimmer); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// takeDimmer gives lamp i another dimmer curve, the light in the mix staying.
func takeDimmer(set *lamps.Set, i int, d *lamps.Dimmer) error {
	l := &set.Lamps[i]
	old := set.Mix[i]
	reading := l.Dimmer.Setting(old)
	level := d.Level(reading)
	if !(level > 0) {
		return fault.New(fault.Input, "dimmer-dark", "Correct the table, or say with learn --dimmers where the dimmer stood.",
			"by its table %s gives no light at %.0f %%, where it stood", l.Name, 100*reading)
	}
	scaleLamp(set, i, old/level)
	l.Dimmer, l.Measured, set.Mix[i] = d, true, level
	return nil
}

// scaleLamp makes lamp i's picture at full k times as bright and its levels in
// the clip 1/k as high, so that every hold is explained as before.
func scaleLamp(set *lamps.Set, i int, k float64) {
	pix := set.Picture[i].Pix
	for p := range pix {
		pix[p] *= float32(k)
	}
	for h := range set.Design.Level {
		set.Design.Level[h][i] /= k
	}
}

func solveSet(name string, set *lamps.Set, targets []lamps.Target, exposure []unit.Stop) (*Solved, error) {
	began := time.Now()
	sol, err := set.Solve(targets, lamps.SolveOptions{Exposure: exposure})
	if err != nil {
		return nil, err
	}
	out := &Solved{Set: name, Met: sol.Met, Exposure: float64(sol.Exposure), Levels: []SolvedLevel{}, Targets: []SolvedTarget{}, Alternatives: []SolvedOtherwise{}}
	for i, l := range sol.Levels {
		s := SolvedLevel{
			Name: l.Name, Level: l.Level, Dimmer: l.Setting, Stops: finite(float64(l.Stops)), Known: l.Sure, Off: l.Level <= 0,
			DimmerBefore: set.Lamps[i].Dimmer.Setting(set.Mix[i]),
		}
		if !l.Sure && !s.Off && s.Stops != nil && math.Abs(*s.Stops) >= leastTurn {
			s.Until = turnUntil(set, sol.Mix, i, targets, float64(sol.Exposure))
		}
		out.Levels = append(out.Levels, s)
	}
	for _, t := range sol.Targets {
		out.Targets = append(out.Targets, SolvedTarget{
			Region: t.Region, Over: t.Over, Neutral: t.Neutral, Want: float64(t.Want), Tolerance: float64(t.Tolerance),
			Before: finite(float64(t.Before)), Got: finite(float64(t.Got)), Met: t.Met, Reason: t.Reason, Text: targetText(t.Target),
		})
	}
	for _, a := range sol.Alternatives {
		w := SolvedOtherwise{What: a.What, Met: a.Met, Exposure: float64(a.Exposure), Levels: map[string]float64{}}
		for i, v := range a.Mix {
			w.Levels[set.Lamps[i].Name] = v
		}
		out.Alternatives = append(out.Alternatives, w)
	}
	out.Seconds = time.Since(began).Seconds()
	return out, nil
}

// leastTurn is the change of a lamp, in stops, below which nobody is sent to it.
const leastTurn = 0.03

// turnUntil says by what reading to turn a lamp whose dimmer's curve isn't
// known: the region it changes most, with the lamps listed before it turned.
func turnUntil(set *lamps.Set, mix []float64, lamp int, targets []lamps.Target, exposure float64) string {
	at := make([]float64, len(mix))
	for i := range mix {
		at[i] = set.Mix[i]
		if i <= lamp {
			at[i] = mix[i]
		}
	}
	before := append([]float64{}, at...)
	before[lamp] = set.Mix[lamp]
	best, name, reading := 0.0, "", 0.0
	for _, g := range set.Regions {
		a, b := set.Read(at, g).Stops, set.Read(before, g).Stops
		d := math.Abs(float64(a - b))
		// A region that is asked for is one the person looks at.
		for _, t := range targets {
			if t.Region == g.Name {
				d *= 1.5
			}
		}
		if d > best && !math.IsInf(d, 0) {
			best, name, reading = d, g.Name, float64(a)+exposure
		}
	}
	if best < leastTurn {
		return ""
	}
	return fmt.Sprintf("until %s reads %+.2f", name, reading)
}

// targetText writes a target for a reader.
func targetText(t lamps.Target) string {
	switch {
	case t.Neutral:
		return t.Region + " neutral"
	case t.Over != "":
		return fmt.Sprintf("%s : %s = %.3g : 1 (%+.2f stop) ± %.2f", t.Region, t.Over, math.Exp2(float64(t.Want)), float64(t.Want), float64(t.Tolerance))
	}
	return fmt.Sprintf("%s = %+.2f ± %.2f stop", t.Region, float64(t.Want), float64(t.Tolerance))
}

// ParseTargets reads targets; each may hold several, parted by semicolons.
func ParseTargets(texts []string) ([]lamps.Target, error) {
	var out []lamps.Target
	for _, text := range texts {
		for _, part := range strings.Split(text, ";") {
			t, err := lamps.ParseTarget(strings.TrimSpace(part))
			if err != nil {
				return nil, err
			}
			out = append(out, t)
		}
	}
	return out, nil
}
