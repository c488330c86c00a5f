package lamps

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

var (
	daysFlag = flag.Int("days", 60, "generated days to check")
	seedFlag = flag.Uint64("seed", 1, "seed of the generated days")
	dumpFlag = flag.Bool("dump", false, "print every lamp's numbers")
	sayFlag  = flag.Bool("say", false, "print every generated day that went wrong")
	codeFlag = flag.String("coded", "", "send the generated days through an encoder: intra10 or long8")
)

// day is the truth of one generated day.
type day struct {
	stops   []float64 // of each lamp; −Inf is off
	colour  []float64 // stops of red against blue, of each lamp
	gain    float64
	balance float64 // mired
	ambient float64
	pose    pose
	nudge   nudge
	frames  int
	moved   int // the lamp that was pushed aside, or −1
}

// cameraMatrix is a made sensor's matrix to its RGB: rows sum to 1, and are as
// far from the identity as colour filters make them.
var cameraMatrix = colour.Mat3{{1.62, -.48, -.14}, {-.20, 1.45, -.25}, {.03, -.52, 1.49}}

// balanceMatrix is what a white balance moved by mired does to recorded RGB.
func balanceMatrix(mired float64) colour.Mat3 {
	s := mired / miredPerStop / 2
	return cameraMatrix.Mul(colour.Diagonal(math.Exp2(s), 1, math.Exp2(-s))).Mul(cameraMatrix.Inverse())
}

func drawDay(rng *rand.Rand, n int) day {
	d := day{stops: make([]float64, n), colour: make([]float64, n), frames: []int{1, 4, 8}[rng.IntN(3)]}
	for i := range d.stops {
		d.stops[i] = .02 * rng.NormFloat64()
	}
	sizes := []float64{.1, .2, .4}
	drifts := 0
	switch u := rng.Float64(); {
	case u < .4:
	case u < .75:
		drifts = 1
	default:
		drifts = 2 + rng.IntN(2)
	}
	for _, i := range rng.Perm(n)[:min(drifts, n)] {
		d.stops[i] = sizes[rng.IntN(3)] * float64(1-2*rng.IntN(2))
		switch u := rng.Float64(); {
		case u < .06:
			d.stops[i] = math.Inf(-1)
		case u < .16:
			d.colour[i] = .35 * float64(1-2*rng.IntN(2))
		}
	}
	if rng.Float64() < .3 {
		d.gain = []float64{1. / 3, 2. / 3, -1. / 3, -1}[rng.IntN(4)]
	}
	if rng.Float64() < .15 {
		d.balance = 25 * float64(1+rng.IntN(2)) * float64(1-2*rng.IntN(2))
	}
	d.moved = -1
	if rng.Float64() < .1 {
		d.moved = rng.IntN(n)
	}
	d.ambient = .7 * rng.NormFloat64()
	d.pose = pose{x: .08 * rng.NormFloat64(), z: .05 * rng.NormFloat64(), lean: .04 * rng.NormFloat64()}
	switch u := rng.Float64(); {
	case u < .1:
		d.pose.absent = true
	case u < .35:
		d.pose.shirt = vec{.05 + .5*rng.Float64(), .05 + .5*rng.Float64(), .05 + .5*rng.Float64()}
	}
	if rng.Float64() < .25 {
		d.nudge = nudge{4 * rng.NormFloat64(), 3 * rng.NormFloat64(), .2 * rng.NormFloat64(), 1 + .003*rng.NormFloat64()}
	}
	return d
}

// shoot films the day.
func (d *day) shoot(rng *rand.Rand, g *garage, cam madeCamera, mix []float64, w, h int) *Light {
	light, cam := d.light(g, cam, mix, w, h)
	return cam.average(rng, light, d.frames)
}

// light is the day's light, and the camera as it stands.
func (d *day) light(g *garage, cam madeCamera, mix []float64, w, h int) (*picture.Image, madeCamera) {
	if d.moved >= 0 {
		pushed := *g
		pushed.lamps = append([]madeLamp{}, g.lamps...)
		l := &pushed.lamps[d.moved]
		l.at = l.at.add(vec{.3 - .6*float64(d.moved%2), -.15, .1})
		g = &pushed
	}
	parts := g.render(w, h, d.pose, d.nudge)
	factors := flat(mix)
	for i, s := range d.stops {
		for c := range 3 {
			factors[i][c] *= math.Exp2(s + d.colour[i]*float64(1-c)/2)
		}
	}
	for c := range 3 {
		factors[len(d.stops)][c] = math.Exp2(d.ambient * (1 + .1*float64(c-1)))
	}
	cam.gain *= math.Exp2(d.gain)
	cam.balance = balanceMatrix(d.balance)
	return mixed(parts, factors), cam
}

// score tells verdicts from truth.
type score struct {
	lamps, wrong, missed, refused, days, wrongDays, refusedDays int
	cameraWrong                                                 int
	level                                                       []float64 // errors of lamps with ≥ 3 % share
	faint                                                       []float64
	z, zColour                                                  []float64
	colour                                                      []float64
	shift                                                       []float64
	byName                                                      map[string][]float64
	moved                                                       map[Finding]int
	ghosts                                                      int // days with unknown light found though none was there
	reasons                                                     map[string]int
	sizes                                                       [6]outcomes // see sizeOf
}

// outcomes counts what became of lamps of one kind.
type outcomes struct{ all, right, missed, refused, wrong int }

var sizeNames = [6]string{"as it was", "0.1 stop (1×)", "0.2 stop (2×)", "0.4 stop (4×)", "off", "colour moved"}

// sizeOf is the kind of lamp i's change.
func (d *day) sizeOf(i int) int {
	switch s := math.Abs(d.stops[i]); {
	case d.colour[i] != 0:
		return 5
	case math.IsInf(s, 1):
		return 4
	case s == .4:
		return 3
	case s == .2:
		return 2
	case s == .1:
		return 1
	}
	return 0
}

// luminous is the change of a lamp's luminance, in stops, when its red and
// blue are moved apart.
func (d *day) luminous(i int, l madeLamp) float64 {
	w := [3]float64{0.2126, 0.7152, 0.0722}
	var now, was float64
	for c := range 3 {
		was += w[c] * l.colour[c]
		now += w[c] * l.colour[c] * math.Exp2(d.colour[i]*float64(1-c)/2)
	}
	return d.stops[i] + math.Log2(now/was)
}

func (s *score) add(d *day, r *CheckReport, h Habit, g *garage) (wrong []string) {
	s.days++
	bad := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	refusedAny := false
	for i, l := range r.Lamps {
		s.lamps++
		truth := d.luminous(i, g.lamps[i])
		err := float64(l.Stops) - truth
		const slack = .05
		mention := float64(h.Mention)
		if *dumpFlag {
			fmt.Printf("DUMP %d %d %d %s %g %g %g %g %g %g %d %v\n", s.days, len(r.Lamps), i, l.Finding, err, err+float64(r.Camera.Gain)-d.gain, float64(l.Error), l.Kept, l.Share, d.gain, d.moved, d.pose.absent)
		}
		allowed := max(slack, 3*float64(l.Error))
		before, missed := len(wrong), s.missed
		if i == d.moved {
			s.moved[l.Finding]++
			if l.Finding == Unsure {
				s.refused++
				refusedAny = true
			}
			continue
		}
		switch l.Finding {
		case Unsure:
			s.refused++
			refusedAny = true
			if s.reasons == nil {
				s.reasons = map[string]int{}
			}
			s.reasons[l.Reason]++
		case Off:
			if !math.IsInf(truth, -1) {
				bad("%s off, is %+.3f", l.Name, truth)
			}
		case Brighter, Darker:
			sign := 1.
			if l.Finding == Darker {
				sign = -1
			}
			if truth*sign < mention-slack || math.Abs(err) > allowed {
				bad("%s %s %+.3f±%.3f, is %+.3f", l.Name, l.Finding, float64(l.Stops), float64(l.Error), truth)
			}
		case Coloured:
			if d.colour[i] == 0 {
				bad("%s colour %+.0f mired tint %.2f, is unmoved", l.Name, float64(l.Mired), float64(l.Tint))
			}
		case Same:
			switch {
			case math.Abs(truth) >= mention+slack || math.Abs(err) > allowed:
				bad("%s same %+.3f±%.3f, is %+.3f", l.Name, float64(l.Stops), float64(l.Error), truth)
			case math.Abs(truth) >= mention-1e-9 || d.colour[i] != 0:
				s.missed++
			}
		default:
			bad("%s %s", l.Name, l.Finding)
		}
		kind := &s.sizes[d.sizeOf(i)]
		kind.all++
		switch {
		case len(wrong) > before:
			s.wrong++
			kind.wrong++
		case l.Finding == Unsure:
			kind.refused++
		case s.missed > missed:
			kind.missed++
		default:
			kind.right++
		}
		if l.Finding != Unsure && !math.IsInf(truth, -1) && !math.IsNaN(err) && !math.IsInf(err, 0) && d.colour[i] == 0 {
			if l.Share >= .03 {
				s.level = append(s.level, math.Abs(err))
			} else {
				s.faint = append(s.faint, math.Abs(err))
			}
			s.z = append(s.z, err/float64(l.Error))
			if s.byName == nil {
				s.byName = map[string][]float64{}
			}
			s.byName[l.Name] = append(s.byName[l.Name], math.Abs(err+float64(r.Camera.Gain)-d.gain))
			if !math.IsNaN(float64(l.Mired)) {
				s.colour = append(s.colour, math.Abs(float64(l.Mired)))
				s.zColour = append(s.zColour, float64(l.Mired)/float64(l.MiredError))
			}
		}
	}
	if len(r.Unknown) > 0 && d.moved < 0 {
		s.ghosts++
	}
	if len(r.Camera.Registration.Error) > 0 && r.Camera.Registration.Sure {
		n := d.nudge
		if n.scale == 0 {
			n.scale = 1
		}
		reg := r.Camera.Registration
		s.shift = append(s.shift, math.Hypot(reg.DX-n.dx, reg.DY-n.dy))
	}
	if r.Outcome != OutcomeUnsure && math.Abs(float64(r.Camera.Gain)-d.gain) > .05 && !refusedAny {
		s.cameraWrong++
		bad("camera %+.3f, is %+.3f", float64(r.Camera.Gain), d.gain)
	}
	if len(wrong) > 0 {
		s.wrongDays++
	}
	if refusedAny {
		s.refusedDays++
	}
	return wrong
}

func quantiles(x []float64) string {
	if len(x) == 0 {
		return "none"
	}
	y := append([]float64{}, x...)
	sort.Float64s(y)
	at := func(q float64) float64 { return y[int(q*float64(len(y)-1))] }
	return fmt.Sprintf("median %.4f, 95 %% %.4f, 99 %% %.4f, worst %.4f (%d)", at(.5), at(.95), at(.99), at(1), len(y))
}

func within(z []float64, k float64) float64 {
	n := 0
	for _, x := range z {
		if math.Abs(x) <= k {
			n++
		}
	}
	return float64(n) / float64(len(z))
}

func (s *score) table() string {
	var b strings.Builder
	fmt.Fprintf(&b, "days %d, lamps judged %d\n", s.days, s.lamps-s.refused)
	fmt.Fprintf(&b, "wrong confident verdicts: %d of %d lamps (%.2f %%), on %d days; camera wrong %d\n", s.wrong, s.lamps, 100*float64(s.wrong)/float64(s.lamps), s.wrongDays, s.cameraWrong)
	fmt.Fprintf(&b, "misses %d (%.1f %%), refusals %d (%.1f %%) on %d days\n", s.missed, 100*float64(s.missed)/float64(s.lamps), s.refused, 100*float64(s.refused)/float64(s.lamps), s.refusedDays)
	for k, o := range s.sizes {
		n := math.Max(1, float64(o.all)) / 100
		fmt.Fprintf(&b, "  %-14s %4d lamps: right %5.1f %%, missed %4.1f %%, refused %4.1f %%, wrong %4.2f %%\n", sizeNames[k], o.all, float64(o.right)/n, float64(o.missed)/n, float64(o.refused)/n, float64(o.wrong)/n)
	}
	fmt.Fprintf(&b, "level error, stops, lamps ≥ 3 %%: %s\n", quantiles(s.level))
	fmt.Fprintf(&b, "level error, stops, fainter:    %s\n", quantiles(s.faint))
	fmt.Fprintf(&b, "colour error, mired:            %s\n", quantiles(s.colour))
	fmt.Fprintf(&b, "camera shift error, pixels:     %s\n", quantiles(s.shift))
	fmt.Fprintf(&b, "errors within 1 SE %.1f %%, 2 SE %.1f %%, 3 SE %.1f %%\n", 100*within(s.z, 1), 100*within(s.z, 2), 100*within(s.z, 3))
	fmt.Fprintf(&b, "colour within 1 SE %.1f %%, 2 SE %.1f %%, 3 SE %.1f %%\n", 100*within(s.zColour, 1), 100*within(s.zColour, 2), 100*within(s.zColour, 3))
	fmt.Fprintf(&b, "unknown light found where none was: %d days\n", s.ghosts)
	fmt.Fprintf(&b, "lamps pushed aside were found: %v\n", s.moved)
	for n, e := range s.byName {
		fmt.Fprintf(&b, "  %s with gain: %s\n", n, quantiles(e))
	}
	for r, n := range s.reasons {
		fmt.Fprintf(&b, "refused %d: %s\n", n, r)
	}
	return b.String()
}

// madeSet films and separates a garage.
func madeSet(t testing.TB, rng *rand.Rand, lamps, w, h int) (*garage, *Set, madeCamera) {
	g := newGarage(rng, lamps)
	cam := newCamera()
	text := "all"
	for _, n := range g.names() {
		text += ", -" + n + ", all"
	}
	d := mustOrder(t, text+", dark").Design(nil)
	sep, err := Separate(g.filmed(rng, &cam, d, w, h, 12, pose{}, .01), d, SeparateOptions{Noise: cam.noise()})
	if err != nil {
		t.Fatal(err)
	}
	s := NewSet(sep)
	for i := range s.Mix {
		s.Mix[i] = .4 + .6*rng.Float64()
	}
	return g, s, cam
}

// codedSet films a garage's switch clip through an encoder.
func (c coding) codedSet(t testing.TB, rng *rand.Rand, lamps, w, h int) (*garage, *Set, madeCamera, float64) {
	g := newGarage(rng, lamps)
	cam := newCamera()
	text := "all"
	for _, n := range g.names() {
		text += ", -" + n + ", all"
	}
	o := mustOrder(t, text+", dark")
	poses := make([][]*picture.Image, 3)
	for i := range poses {
		const sway = .01
		poses[i] = g.render(w, h, pose{x: sway * (2*rng.Float64() - 1), lean: sway * (2*rng.Float64() - 1)}, nudge{})
	}
	var light *picture.Image
	l, rec, err := c.learn(t, rng, &cam, o, 20, func(hold, frame int) *picture.Image {
		if frame == 0 {
			light = mixed(poses[rng.IntN(len(poses))], flat(o.Holds[hold].Setting))
		}
		return light
	})
	if err != nil {
		t.Logf("a switch clip is refused: %v", err)
		return nil, nil, cam, 0
	}
	s := NewSet(l.Separation)
	for i := range s.Mix {
		s.Mix[i] = .4 + .6*rng.Float64()
	}
	return g, s, cam, rec.Correlation
}

func TestDays(t *testing.T) {
	const w, h, eachSet = 320, 180, 12
	sc := score{moved: map[Finding]int{}}
	var c coding
	switch *codeFlag {
	case "intra10":
		c = intra10(1)
	case "long8":
		c = long8(1)
	}
	for made := 0; made < *daysFlag; {
		rng := rand.New(rand.NewPCG(*seedFlag, uint64(made)))
		lamps := 3 + rng.IntN(5)
		var g *garage
		var s *Set
		var cam madeCamera
		correlation := 1.
		if *codeFlag != "" {
			needEncoder(t)
			if g, s, cam, correlation = c.codedSet(t, rng, lamps, w, h); s == nil {
				made++
				continue
			}
		} else {
			g, s, cam = madeSet(t, rng, lamps, w, h)
		}
		for k := 0; k < eachSet && made < *daysFlag; k++ {
			made++
			d := drawDay(rng, lamps)
			var today *Light
			if *codeFlag != "" {
				light, cam := d.light(g, cam, s.Mix, w, h)
				today = c.today(t, rng, &cam, correlation, 20, func(int) *picture.Image { return light })
			} else {
				today = d.shoot(rng, g, cam, s.Mix, w, h)
			}
			r, err := s.Check(today)
			if err != nil {
				t.Fatal(err)
			}
			if wrong := sc.add(&d, r, s.Habit, g); len(wrong) > 0 && *sayFlag {
				t.Logf("day %d (%d lamps, moved %d, gain %+.2f, balance %+.0f, ambient %+.2f, %+v %+v, explained %.2f): %s", made, lamps, d.moved, d.gain, d.balance, d.ambient, d.pose, d.nudge, r.Explained, strings.Join(wrong, "; "))
			}
		}
	}
	t.Log("\n" + sc.table())
}
