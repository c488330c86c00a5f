package job

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"sort"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/light"
	"lampwise/internal/unit"
)

// planset.go is where plan and set meet: what was predicted for each lamp
// beside what the switch clip measured, and the factor that brings them
// together.

// PlanMet is a plan beside a learned set.
type PlanMet struct {
	Set     string        `json:"set"`
	Lamps   []PlanLampMet `json:"lamps"`
	Missing []string      `json:"not_in_set"` // lamps of the plan
	Other   []string      `json:"not_in_plan"`
	// Readings are what the set's regions read by its lamp pictures with its
	// lamps at the plan's levels, the others as they were on the set.
	Readings []PlanReadingMet `json:"readings"`
	Kept     bool             `json:"kept"` // the factors stand in the plan's file now
}

// PlanReadingMet is a region's reading on the set.
type PlanReadingMet struct {
	Region   string  `json:"region"`
	Measured float64 `json:"measured_stops"`
}

// PlanLampMet is one lamp, planned and measured.
type PlanLampMet struct {
	Name    string       `json:"name"`
	Regions []PlanRegion `json:"regions"`
	// Factor is what to add to the plan in stops (factorOf).
	Factor *float64 `json:"factor_stops"`
	SE     float64  `json:"se"` // scatter of the regions about it
}

// PlanRegion is a region, alone, at the lamp's level on the set.
type PlanRegion struct {
	Region   string  `json:"region"`
	Planned  float64 `json:"planned_stops"`
	Measured float64 `json:"measured_stops"`
	Off      float64 `json:"off_stops"` // measured less planned
	Within   bool    `json:"within"`    // of the plan's stated doubt
}

// faintRegion is how far under the lamp's brightest region one may lie and
// still count: fainter ones are the room's clutter, not the lamp.
const faintRegion = 3.0 // stops

// MeetSet puts a learned set beside a plan. The set's level of each lamp is
// taken, so that only what lamps and room do is compared.
func MeetSet(ctx context.Context, store Sets, out *Planned, name string) (*PlanMet, error) {
	set, kept, err := OpenSet(ctx, store, name)
	if err != nil {
		return nil, err
	}
	met := &PlanMet{Set: kept.Name, Lamps: []PlanLampMet{}, Missing: []string{}, Other: []string{}}
	known := map[string]bool{}
	mix := slices.Clone(set.Mix)
	for i, l := range out.Lamps {
		known[l.Name] = true
		if l.Name == "ambient" || out.scene.Plan.Lamps[i].Ambient {
			continue
		}
		at := -1
		for k := range set.Lamps {
			if set.Lamps[k].Name == l.Name {
				at = k
			}
		}
		if at < 0 {
			met.Missing = append(met.Missing, l.Name)
			continue
		}
		mix[at] = l.Level
		m := PlanLampMet{Name: l.Name, Regions: []PlanRegion{}}
		// At the set's level; a lamp that is off in its mix is compared at full.
		level := set.Mix[at]
		most := math.Inf(-1)
		for _, g := range set.Regions {
			r := out.reading(g.Name)
			if r == nil || l.Stops[g.Name] == nil || !(l.Level > 0) || !(level > 0) {
				continue
			}
			measured := greenAlone(set, at, g)
			if measured < -12 {
				continue // nothing but noise
			}
			planned := *l.Stops[g.Name] + math.Log2(level/l.Level)
			m.Regions = append(m.Regions, PlanRegion{g.Name, planned, measured, measured - planned, math.Abs(measured-planned) <= r.doubtOf(&l)})
			most = math.Max(most, measured)
		}
		m.Factor, m.SE = factorOf(m.Regions, most)
		met.Lamps = append(met.Lamps, m)
	}
	for _, l := range set.Lamps {
		if !known[l.Name] {
			met.Other = append(met.Other, l.Name)
		}
	}
	met.Readings = []PlanReadingMet{}
	for _, g := range set.Regions {
		if s := float64(set.Read(mix, g).Stops); out.reading(g.Name) != nil && !math.IsInf(s, 0) && !math.IsNaN(s) {
			met.Readings = append(met.Readings, PlanReadingMet{g.Name, s})
		}
	}
	return met, nil
}

// factorOf is the median of a lamp's differences, each region weighed by its
// light, and their median distance from it as a standard error, each region
// counting once (weighed, a region with most of the light would say 0): one in
// which something shines or hides shouldn't move a lamp. Hair is left out
// where there's anything else: what its fibres throw back hangs on the angle.
func factorOf(regions []PlanRegion, most float64) (*float64, float64) {
	type vote struct{ off, weight float64 }
	pick := func(hair bool) (votes []vote) {
		for _, r := range regions {
			if r.Measured > most-faintRegion && (hair || r.Region != light.Hair) {
				votes = append(votes, vote{r.Off, math.Exp2(r.Measured - most)})
			}
		}
		return votes
	}
	votes := pick(false)
	if len(votes) == 0 {
		votes = pick(true)
	}
	if len(votes) == 0 {
		return nil, 0
	}
	weighed := func() float64 {
		sort.Slice(votes, func(i, j int) bool { return votes[i].off < votes[j].off })
		all, sum := 0.0, 0.0
		for _, v := range votes {
			all += v.weight
		}
		for _, v := range votes {
			if sum += v.weight; sum >= all/2 {
				return v.off
			}
		}
		return votes[len(votes)-1].off
	}
	m := weighed()
	if len(votes) == 1 {
		// One region can't tell the lamp's error from that place's.
		return finite(m), float64(planDoubt)
	}
	away := make([]float64, len(votes))
	for i, v := range votes {
		away[i] = math.Abs(v.off - m)
	}
	// Of a normal distribution the median distance is 0.6745 deviations.
	se := median(away) / 0.6745
	if len(votes) == 2 {
		// Two can agree by chance.
		se = math.Max(se, float64(planDoubt)/math.Sqrt2)
	}
	return finite(m), se
}

// KeepFactors writes the measured factors into the plan's file, as
// measured_stops and measured_se of each lamp; nothing else in it is touched.
// A factor that stands there already is added to: the plan it was compared
// with had it in.
func KeepFactors(out *Planned, met *PlanMet) error {
	data, err := os.ReadFile(out.File)
	if err != nil {
		return storageFault(out.File, err)
	}
	end := "\n"
	if strings.Contains(string(data), "\r\n") {
		end = "\r\n"
	}
	lines := strings.Split(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
	type edit struct {
		line int // after which, from 1
		text []string
	}
	var edits []edit
	drop := map[int]bool{}
	p := out.scene.Plan
	for i := range p.Lamps {
		for _, m := range met.Lamps {
			if m.Name != p.Lamps[i].Name || m.Factor == nil {
				continue
			}
			v := unit.Stop(*m.Factor)
			if old := p.Lamps[i].Measured; old != nil {
				v += *old
			}
			for _, key := range []string{"measured_stops", "measured_se"} {
				if n := p.Line(fmt.Sprintf("lamp.%d.%s", i, key)); n > 0 {
					drop[n] = true
				}
			}
			at := p.Line(fmt.Sprintf("lamp.%d.name", i))
			if at == 0 {
				return fault.New(fault.Usage, "plan-keep", "Write the lamp's name on a line of its own.", "%s: the factor of %s can't be put into the file", out.File, m.Name)
			}
			edits = append(edits, edit{at, []string{fmt.Sprintf("measured_stops = %.3f # against the plan, from set %s", float64(v), met.Set), fmt.Sprintf("measured_se = %.3f", m.SE)}})
		}
	}
	sort.Slice(edits, func(i, j int) bool { return edits[i].line < edits[j].line })
	var text []string
	k := 0
	for n, line := range lines {
		if !drop[n+1] {
			text = append(text, line)
		}
		for k < len(edits) && edits[k].line == n+1 {
			text = append(text, edits[k].text...)
			k++
		}
	}
	written := strings.Join(text, end)
	if _, err := light.Parse([]byte(written), out.File); err != nil {
		return fmt.Errorf("plan with its factors: %w", err)
	}
	if err := writeFile(out.File, true, []byte(written)); err != nil {
		return err
	}
	met.Kept = true
	return nil
}
