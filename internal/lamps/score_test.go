package lamps

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

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
