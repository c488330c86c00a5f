package job

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"lampwise/internal/demo"
	"lampwise/internal/lamps"
	"lampwise/internal/light"
)

// DemoPlan is the room's part of the example: the plan, and what the switch
// clip measured beside it.
type DemoPlan struct {
	File    string            `json:"file"`
	Planned *Planned          `json:"planned"`
	Files   map[string]string `json:"files"`
}

// demoPlaces are the example's places as a tape measure and a paint chart tell
// them, in the plan's axes (its corner lies 1.95 m left of and 3.6 m before
// the example's middle).
func demoPlaces(height int) string {
	const left, front = 1.95, 3.6
	var b strings.Builder
	b.WriteString("\n# Where the places lie and face, and what they reflect, measured in the room at\n# several spots of what isn't flat: a cheek is curved, past the hair the wall is seen.\n# The plain board is where nothing hangs: no plan knows how tools shine.\n# Read off the generated garage's surfaces, which stands for tape and chart.\n")
	surfaces := demo.Surfaces(height)
	for _, name := range []string{light.FaceLit, light.FaceShade, light.Hair, light.Background, demo.PlainBoard, light.Card} {
		spots := surfaces[name].Spots
		across := demoSpots[name]
		for k := range across * across {
			// Of nine times nine, as evenly as so many lie.
			row, column := (2*(k/across)+1)*9/(2*across), (2*(k%across)+1)*9/(2*across)
			s := spots[row*9+column]
			fmt.Fprintf(&b, "[[place]]\nname = %q\nat = [%.3f, %.3f, %.3f]\nnormal = [%.3f, %.3f, %.3f]\nreflectance = %.3f\n",
				name, s.At[0]+left, front-s.At[2], s.At[1], s.Normal[0], -s.Normal[2], s.Normal[1], math.Max(leastReflectance, s.Reflectance))
			if coat := demoFinish[name]; coat != "" && s.Reflectance >= leastReflectance {
				fmt.Fprintf(&b, "finish = %q\n", coat)
			}
			b.WriteString("\n")
		}
	}
	return b.String()
}

// demoSpots is how many spots a place is measured at, across and down.
var demoSpots = map[string]int{light.FaceLit: 4, light.FaceShade: 4, light.Hair: 4, light.Background: 3, demo.PlainBoard: 2, light.Card: 1}

// demoFinish is what paint the places have that have any; bare metal has none.
var demoFinish = map[string]string{light.Background: "satin", demo.PlainBoard: "satin"}

// leastReflectance is what a plan's place has at least; bare metal has no more.
const leastReflectance = 0.005

// surfaceHeight is the height of the frames that the places are looked up in.
const surfaceHeight = 270

// demonstratePlan plans the example's garage and puts the learned set beside it.
func demonstratePlan(ctx context.Context, store Sets, dir string, told func(string)) (*DemoPlan, error) {
	out := &DemoPlan{File: filepath.Join(dir, "garage.toml")}
	if err := writeFile(out.File, true, []byte(light.Example+demoPlaces(surfaceHeight))); err != nil {
		return nil, err
	}
	var err error
	if out.Planned, err = PlanFile(PlanRequest{File: out.File}); err != nil {
		return nil, err
	}
	if out.Files, err = DrawPlan(out.Planned, filepath.Join(dir, "plan")); err != nil {
		return nil, err
	}
	if out.Planned.Met, err = MeetSet(ctx, store, out.Planned, demoSet); err != nil {
		return nil, err
	}
	out.Planned.Files = out.Files
	told(fmt.Sprintf("plan:  %s, from the room's measures and the lamps' figures alone; planned → measured by the switch clip, stops from grey (a plan is good to about ±0.5):", out.File))
	for _, l := range out.Planned.Met.Lamps {
		var parts []string
		most := math.Inf(-1)
		for _, r := range l.Regions {
			most = math.Max(most, r.Measured)
		}
		for _, r := range l.Regions {
			if r.Measured > most-faintRegion {
				parts = append(parts, fmt.Sprintf("%s %+.2f → %+.2f", r.Region, r.Planned, r.Measured))
			}
		}
		if l.Factor != nil {
			parts = append(parts, fmt.Sprintf("factor %+.2f ± %.2f", *l.Factor, l.SE))
		}
		told(fmt.Sprintf("       %-5s %s", l.Name, strings.Join(parts, ", ")))
	}
	if err := tellBoard(ctx, store, out.Planned, told); err != nil {
		return nil, err
	}
	told(fmt.Sprintf("       drawn to scale: %s, %s", out.Files["plan"], out.Files["side view"]))
	return out, nil
}

// tellBoard reads the pegboard where nothing hangs on it, planned and in the set's
// pictures. The set's background has tools in it that mirror the key.
func tellBoard(ctx context.Context, store Sets, p *Planned, told func(string)) error {
	set, _, err := OpenSet(ctx, store, demoSet)
	if err != nil {
		return err
	}
	b, w, h := demo.Surfaces(set.H)[demo.PlainBoard].Box, float64(set.W), float64(set.H)
	region := lamps.Region{Name: demo.PlainBoard, X: b[0] / w, Y: b[1] / h, W: b[2] / w, H: b[3] / h}
	var parts []string
	for _, l := range p.Lamps {
		for k := range set.Lamps {
			if planned := l.Stops[demo.PlainBoard]; set.Lamps[k].Name == l.Name && planned != nil && l.Level > 0 && set.Mix[k] > 0 {
				parts = append(parts, fmt.Sprintf("%s %+.2f → %+.2f", l.Name, *planned+math.Log2(set.Mix[k]/l.Level), greenAlone(set, k, region)))
			}
		}
	}
	told("       the board where nothing hangs: " + strings.Join(parts, ", "))
	return nil
}
