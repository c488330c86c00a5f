package job

import (
	"fmt"
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/light"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// plansolve.go finds what to do so that a plan reads what is wanted: levels
// first, then distances, then ND. Levels are solved as for a learned set: the
// plan is given to lamps.Solve as a set whose lamp pictures have one pixel for
// each place.

// PlanSolved is the answer.
type PlanSolved struct {
	*Solved
	Moves []PlanMove `json:"moves"`    // lamps that a dimmer can't bring down, and how far to take them away
	ND    float64    `json:"nd_stops"` // more (or less) ND than planned
	Open  float64    `json:"f"`        // the f-number that does the same instead
}

// PlanMove takes a lamp away along the way it points.
type PlanMove struct {
	Name  string     `json:"name"`
	From  float64    `json:"from_m"` // from the face
	To    float64    `json:"to_m"`
	At    [3]float64 `json:"at"`
	Why   string     `json:"why"`
	Level float64    `json:"level"` // once moved
}

// ndTried are the changes of exposure that ND and the iris are tried in, in
// thirds of a stop as lenses are marked.
const ndTried = 6 // stops either way

// planSet makes a set of a plan's readings.
func planSet(out *Planned) (*lamps.Set, error) {
	s := out.scene
	places := s.Places
	var names []string
	p := s.Plan
	separation := &lamps.Separation{W: len(places), H: 1, Design: &lamps.Design{}}
	var fixed []int
	for i := range p.Lamps {
		if p.Lamps[i].Ambient {
			fixed = append(fixed, i)
			continue
		}
		names = append(names, p.Lamps[i].Name)
	}
	if len(names) == 0 {
		return nil, fault.New(fault.Usage, "plan-solve", "Only lamps with a dimmer or a switch can be solved for.", "%s: the plan has no lamp but ambient light", out.File)
	}
	separation.Design.Lamps = names
	set := lamps.NewSet(separation)
	cam := cameraSettings(&p.Camera)
	scene := func(e float64, place light.Place) float32 {
		v := 0.18 * cam.Stops(unit.Lux(e), place.Reflectance).Factor() * out.offAxis(place.At).Factor()
		return float32(v)
	}
	full := make([][]light.Lit, len(places))
	for k, place := range places {
		full[k] = s.Full(place)
	}
	put := func(of func(k int) float64) *picture.Image {
		im := picture.NewImage(len(places), 1, picture.SpaceSceneLinear)
		for k, place := range places {
			v := scene(of(k), place)
			im.Pix[3*k], im.Pix[3*k+1], im.Pix[3*k+2] = v, v, v
		}
		return im
	}
	n := 0
	for i := range p.Lamps {
		if p.Lamps[i].Ambient {
			continue
		}
		separation.Picture = append(separation.Picture, put(func(k int) float64 { return float64(full[k][i].Total()) }))
		l := &set.Lamps[n]
		l.Lowest, l.Measured = p.Lamps[i].Lowest, true
		l.Distance = s.Distance(i, s.Head())
		if p.Lamps[i].Lowest >= 1 { // it can only be on or off
			l.Lowest = 1
		}
		set.Mix[n] = *p.Lamps[i].Level
		n++
	}
	separation.Ambient = put(func(k int) float64 {
		sum := 0.0
		for _, i := range fixed {
			sum += float64(full[k][i].Total()) * s.Level(i)
		}
		return sum
	})
	for k, place := range places {
		set.Regions = append(set.Regions, lamps.Region{Name: place.Name, X: float64(k) / float64(len(places)), Y: 0, W: 1 / float64(len(places)), H: 1})
	}
	if out.Exposure.Clip != nil {
		set.Clip = 0.18 * math.Exp2(*out.Exposure.Clip)
	}
	return set, nil
}

// SolvePlan finds levels for targets (the plan's own when none are given);
// what levels can't do, distances and ND are tried for.
func SolvePlan(out *Planned, texts []string) (*PlanSolved, error) {
	if len(texts) == 0 {
		texts = out.scene.Plan.Targets
	}
	if len(texts) == 0 {
		return nil, fault.New(fault.Usage, "plan-targets", "For example --target \"face-lit/face-shade=2\" --target \"background=-1.5\", or targets = […] in the plan.", "%s: what should the plan read?", out.File)
	}
	targets, err := ParseTargets(texts)
	if err != nil {
		return nil, err
	}
	set, err := planSet(out)
	if err != nil {
		return nil, err
	}
	solved, err := solveSet(out.Title, set, targets, nil)
	if err != nil {
		return nil, err
	}
	res := &PlanSolved{Solved: solved, Moves: []PlanMove{}, Open: out.scene.Plan.Camera.N}
	if solved.Met {
		return res, nil
	}
	if moved, err := out.moveAway(res, targets, set); err != nil || moved {
		return res, err
	}
	return res, out.tryND(res, targets, set)
}

// moveAway tries what a lamp at its least level would do from farther away:
// the level wanted without that limit says how much less light, the square of
// the distance how far, and the plan itself whether it holds.
func (out *Planned) moveAway(res *PlanSolved, targets []lamps.Target, set *lamps.Set) (bool, error) {
	free := *set
	free.Lamps = append([]lamps.Lamp(nil), set.Lamps...)
	for i := range free.Lamps {
		free.Lamps[i].Lowest = 0
	}
	loose, err := solveSet(out.Title, &free, targets, nil)
	if err != nil || !loose.Met {
		return false, err
	}
	p := *out.scene.Plan
	p.Lamps = append([]light.LampPlan(nil), p.Lamps...)
	for _, level := range loose.Levels {
		for i := range p.Lamps {
			l := &p.Lamps[i]
			if l.Name != level.Name || level.Off || level.Level >= l.Lowest || l.Lowest == 0 {
				continue
			}
			at, z, _, _ := out.scene.Axis(i)
			from := float64(out.scene.Distance(i, out.scene.Head()))
			to := from * math.Sqrt(l.Lowest/math.Max(level.Level, 1e-6)) * 1.05
			if l.Shape == light.ShapeBall {
				z = out.scene.Head().Sub(at).Unit()
			}
			q := at.Sub(z.Times(to - from))
			in := q.X > 0.1 && q.Y > 0.1 && q.Z > 0.1 && q.X < float64(p.Room.Width)-0.1 && q.Y < float64(p.Room.Depth)-0.1 && q.Z < float64(p.Room.Height)-0.1
			move := PlanMove{
				Name: l.Name, From: from, To: to, At: [3]float64{q.X, q.Y, q.Z}, Level: l.Lowest,
				Why: fmt.Sprintf("its dimmer ends at %.0f %% and %.1f %% is wanted", 100*l.Lowest, 100*level.Level),
			}
			if !in {
				move.Why += "; that is outside the room: take a gel, a net or a smaller lamp of a quarter of the light instead"
				move.At = [3]float64{at.X, at.Y, at.Z}
			} else {
				l.At = []unit.Metre{unit.Metre(q.X), unit.Metre(q.Y), unit.Metre(q.Z)}
			}
			res.Moves = append(res.Moves, move)
		}
	}
	if len(res.Moves) == 0 {
		return false, nil
	}
	again, err := plan(&p, out.File)
	if err != nil {
		return false, nil // the lamp can't stand there: the move is told, not solved
	}
	moved, err := planSet(again)
	if err != nil {
		return false, err
	}
	solved, err := solveSet(out.Title, moved, targets, nil)
	if err != nil {
		return false, err
	}
	if solved.Met {
		res.Solved = solved
		for i := range res.Moves {
			for _, l := range solved.Levels {
				if l.Name == res.Moves[i].Name {
					res.Moves[i].Level = l.Level
				}
			}
		}
	}
	return solved.Met, nil
}

// tryND lets the camera help: ND, or another f-number, in thirds of a stop.
func (out *Planned) tryND(res *PlanSolved, targets []lamps.Target, set *lamps.Set) error {
	var steps []unit.Stop
	for k := -3 * ndTried; k <= 3*ndTried; k++ {
		steps = append(steps, unit.Stop(k)/3)
	}
	solved, err := solveSet(out.Title, set, targets, steps)
	if err != nil {
		return err
	}
	if solved.Met {
		res.Solved = solved
		res.ND = -solved.Exposure
		res.Open = out.scene.Plan.Camera.N * math.Exp2(-solved.Exposure/2)
	}
	return nil
}
