package job

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/demo"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/unit"
)

// demoSet is the name the example's set is kept under.
const demoSet = "example"

// DemoLamps is the lamps' part of the example.
type DemoLamps struct {
	Learned *LearnedSet   `json:"learned"`
	Solved  *Solved       `json:"solved"`
	Checks  []*DemoCheck  `json:"checks"`
	Truth   []DemoCompare `json:"against_truth"`
}

// DemoCheck is a check of an episode beside what is true of it.
type DemoCheck struct {
	*Checked
	Truth map[string]float64 `json:"truth_stops"` // each lamp's drift, and the ambient's
}

// DemoCompare is a lamp's reading beside the truth.
type DemoCompare struct {
	Lamp   string  `json:"lamp"`
	Region string  `json:"region"`
	Stops  float64 `json:"stops"` // green channel, alone, at its level in the mix
	Truth  float64 `json:"truth_stops"`
	SE     float64 `json:"se"`
}

// demoRegions are the regions of the example that a person would draw.
var demoRegions = []string{lamps.FaceLit, lamps.FaceShade, lamps.Hair, lamps.Background, lamps.Card, lamps.Practical}

// demoTargets are what the example asks of the lamps.
var demoTargets = []string{"face-lit=+0.5 ±0.1", "face-lit/face-shade=3", "background=-1.5 ±0.1"}

// demonstrateLamps learns the example's switch clip, solves for a picture and
// checks both episodes, with the truth beside.
func demonstrateLamps(ctx context.Context, store Sets, made *demo.Made, dir string, told func(string), report Progress) (*DemoLamps, error) {
	truth, err := readTruth(made.Truth)
	if err != nil {
		return nil, err
	}
	out := &DemoLamps{}
	r := LearnRequest{
		Clip: made.Switch, Set: demoSet, Curve: made.Curve, Gamut: truth.Camera.Gamut,
		White:    colour.XY{X: truth.Camera.WhiteXY[0], Y: truth.Camera.WhiteXY[1]},
		Pictures: filepath.Join(dir, "lamps"), Overwrite: true, Filaments: map[string]unit.Kelvin{},
	}
	// As lampwise call would have: the beeps on the clip's sound track name the holds.
	if err := store.KeepCall(ctx, truth.Order, time.Now()); err != nil {
		return nil, err
	}
	for _, name := range demoRegions {
		b := truth.Regions[name]
		r.Regions = append(r.Regions, lamps.Region{Name: name, X: b[0] / float64(truth.Width), Y: b[1] / float64(truth.Height), W: b[2] / float64(truth.Width), H: b[3] / float64(truth.Height)})
	}
	for _, l := range truth.Lamps {
		if l.Ambient {
			continue
		}
		r.Dimmers = append(r.Dimmers, DimmerReading{l.Name, l.Level})
		if l.Filament {
			r.Filaments[l.Name] = unit.Kelvin(l.Kelvin)
		}
	}
	if out.Learned, err = Learn(ctx, store, r, report); err != nil {
		return nil, err
	}
	set, _, err := OpenSet(ctx, store, demoSet)
	if err != nil {
		return nil, err
	}
	tellLearned(out, set, truth, told)
	targets, err := ParseTargets(demoTargets)
	if err != nil {
		return nil, err
	}
	if out.Solved, err = solveSet(demoSet, set, targets, nil); err != nil {
		return nil, err
	}
	tellSolved(out.Solved, told)
	for i, clip := range made.Episodes {
		c, err := Check(ctx, store, CheckRequest{File: clip, Set: demoSet})
		if err != nil {
			return nil, err
		}
		d := &DemoCheck{Checked: c, Truth: map[string]float64{}}
		about := ""
		for _, t := range truth.Clips {
			if t.Name == fmt.Sprintf("episode-%d", i+1) {
				about = t.About
				for k, l := range truth.Lamps {
					name := l.Name
					if l.Ambient {
						name = "ambient"
					}
					d.Truth[name] = t.Drift[k]
				}
			}
		}
		out.Checks = append(out.Checks, d)
		tellChecked(d, about, told)
	}
	return out, nil
}

func readTruth(path string) (*demo.Truth, error) {
	data, err := readFile(path, 1<<24)
	if err != nil {
		return nil, err
	}
	var t demo.Truth
	if err := json.Unmarshal(data, &t); err != nil {
		return nil, fault.Wrap(err, fault.Input, "truth", "Make the example again.", "%s: cannot be read as the example's truth: %v", path, err)
	}
	return &t, nil
}

// tellLearned says what the lamps do, and holds the figures against the truth:
// the green channel, which is what the truth is told of.
func tellLearned(out *DemoLamps, set *lamps.Set, truth *demo.Truth, told func(string)) {
	l := out.Learned
	told(fmt.Sprintf("learn: %d lamps from %d holds in %.1f s; light adds to %s stop (a hold predicted from the others)", len(l.Lamps), len(l.Holds), l.Timing.Decode+l.Timing.Numbers, stopText(l.Additivity)))
	if l.Beeps != nil {
		told(fmt.Sprintf("       which lamp is off when was read from the caller's beeps on the sound track, %d of %d heard", l.Beeps.Heard, l.Beeps.Of))
	}
	for _, n := range l.Notes {
		told("       " + n)
	}
	for i, lamp := range l.Lamps {
		var parts []string
		for _, g := range set.Regions {
			s := lamp.Stops[g.Name]
			for _, t := range truth.Lamps {
				actual, ok := t.Stops[g.Name]
				if t.Name != lamp.Name || s.Alone == nil || !ok {
					continue
				}
				green := greenAlone(set, i, g)
				out.Truth = append(out.Truth, DemoCompare{lamp.Name, g.Name, green, actual, *s.SE})
				if lamp.Share[g.Name] >= 0.1 {
					parts = append(parts, fmt.Sprintf("%s %+.2f (truth %+.2f, %.0f %% of its light)", g.Name, green, actual, 100*lamp.Share[g.Name]))
				}
			}
		}
		told(fmt.Sprintf("       %-5s %s", lamp.Name, strings.Join(parts, ", ")))
	}
	told(fmt.Sprintf("       pictures of each lamp alone, of who lights what, and the stop ladder: %s", filepath.Dir(l.Files["each lamp alone"])))
}

// greenAlone is the green channel of a region with one lamp alone at its level
// in the mix, in stops from grey.
func greenAlone(set *lamps.Set, lamp int, g lamps.Region) float64 {
	w := set.Weights(set.Mix)[lamp][1]
	sum, pixels := 0.0, g.Pixels(set.W, set.H)
	for _, p := range pixels {
		sum += w * float64(set.Picture[lamp].Pix[3*p+1])
	}
	return math.Log2(math.Max(sum/float64(len(pixels)), 1e-9) / colour.Grey)
}

func tellSolved(s *Solved, told func(string)) {
	told("solve: for " + strings.Join(demoTargets, ", ") + ":")
	for _, l := range s.Levels {
		told(fmt.Sprintf("       %-5s %.0f → %.0f %% of the dimmer (%s stop)", l.Name, 100*l.DimmerBefore, 100*l.Dimmer, stopText(l.Stops)))
	}
	for _, t := range s.Targets {
		met := "met"
		if !t.Met {
			met = "not met: " + t.Reason
		}
		told(fmt.Sprintf("       %s: %s → %s stop, %s", t.Text, stopText(t.Before), stopText(t.Got), met))
	}
}

func tellChecked(c *DemoCheck, about string, told func(string)) {
	word := map[string]string{"same": "the set is as it was", "drift": "the set is not as it was", "unsure": "no safe answer"}[c.Verdict]
	told(fmt.Sprintf("check: %s: %s (truth: %s)", filepath.Base(c.File), word, about))
	for _, l := range c.Lamps {
		truth := c.Truth[l.Name]
		if l.Verdict == "unsure" {
			told(fmt.Sprintf("       %-7s can't say: %s (truth %+.2f)", l.Name, l.Reason, truth))
			continue
		}
		told(fmt.Sprintf("       %-7s %s ± %.3f stop, %s (truth %+.2f)", l.Name, stopText3(l.Stops), *orNaN(l.SE), l.Verdict, truth))
	}
	if c.Ambient.Stops != nil {
		told(fmt.Sprintf("       ambient %s ± %.3f stop (truth %+.2f)", stopText3(c.Ambient.Stops), *orNaN(c.Ambient.SE), c.Truth["ambient"]))
	}
	for i, a := range c.Advice {
		told(fmt.Sprintf("       do %d: %s", i+1, a))
	}
}

func stopText(v *float64) string {
	if v == nil {
		return "no"
	}
	return fmt.Sprintf("%+.2f", *v)
}

func stopText3(v *float64) string {
	if v == nil {
		return "no"
	}
	return fmt.Sprintf("%+.3f", *v)
}

func orNaN(v *float64) *float64 {
	if v == nil {
		n := math.NaN()
		return &n
	}
	return v
}
