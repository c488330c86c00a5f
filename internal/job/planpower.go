package job

import (
	"fmt"
	"math"

	"lampwise/internal/light"
)

// PlannedPower is the electrical load.
type PlannedPower struct {
	Watts    float64          `json:"watts"`
	Circuits []PlannedCircuit `json:"circuits"`
	Loose    []string         `json:"no_circuit"` // lamps that hang on no circuit of the plan
}

// PlannedCircuit is one circuit's load.
type PlannedCircuit struct {
	Name    string   `json:"name"`
	Volts   float64  `json:"volts"`
	Breaker float64  `json:"breaker_a"`
	Watts   float64  `json:"watts"`
	Amperes float64  `json:"amperes"`
	Limit   float64  `json:"limit_a"`  // 80 % of the breaker
	Margin  float64  `json:"margin_a"` // limit less load
	Over    bool     `json:"over"`
	Lamps   []string `json:"lamps"`
}

// continuous is the part of a breaker that a load of hours may take (the
// customary 80 % for continuous load; common practice, from memory of North
// American codes. Local codes decide).
const continuous = 0.8

// power sums watts and amperes, every lamp at full: a dimmer may be turned up.
func (out *Planned) power() {
	p := out.scene.Plan
	out.Power = PlannedPower{Circuits: []PlannedCircuit{}, Loose: []string{}}
	for i := range p.Circuits {
		k := &p.Circuits[i]
		c := PlannedCircuit{Name: k.Name, Volts: float64(k.Volts), Breaker: float64(k.Breaker), Limit: continuous * float64(k.Breaker), Lamps: []string{}}
		c.Watts, c.Amperes = float64(k.Other), float64(k.Other.Ampere(k.Volts, 1))
		for j := range p.Lamps {
			l := &p.Lamps[j]
			if l.Circuit == k.Name {
				c.Watts += float64(l.Watts)
				c.Amperes += float64(l.Watts.Ampere(k.Volts, l.PowerFactor))
				c.Lamps = append(c.Lamps, l.Name)
			}
		}
		c.Margin = c.Limit - c.Amperes
		c.Over = c.Margin < 0
		out.Power.Circuits = append(out.Power.Circuits, c)
		out.Power.Watts += c.Watts
	}
	for i := range p.Lamps {
		if l := &p.Lamps[i]; l.Circuit == "" && l.Watts > 0 {
			out.Power.Loose = append(out.Power.Loose, l.Name)
			out.Power.Watts += float64(l.Watts)
		}
	}
}

// The borders at which a caution is given.
const (
	overhead    = 2.0  // m: above a standing head
	overReach   = 1.2  // m: how near over the subject a lamp hangs to be told of
	glaring     = 1e4  // cd/m²: under it a white lamp can't exceed risk group 1 (IEC TR 62778, from memory)
	nearEyes    = 1.5  // m
	hotWatts    = 60.0 // W
	closeToWall = 0.3  // m: a hot lamp and what may scorch
	deferral    = "These are the usual cautions, not all there is to know: local codes and a licensed electrician decide."
	usual       = "Secure every stand (sandbag) and everything overhead (safety bond); let lamps cool before touching them; unplug before opening."
)

// cautions are given with every plan.
func (out *Planned) cautions() {
	p := out.scene.Plan
	s := out.scene
	add := func(format string, args ...any) {
		out.Cautions = append(out.Cautions, fmt.Sprintf(format, args...))
	}
	for _, c := range out.Power.Circuits {
		if c.Over {
			add("Circuit %s is overloaded for hours of use: %.1f A of %.1f A (80 %% of its %.0f A breaker). Move a lamp to another circuit.", c.Name, c.Amperes, c.Limit, c.Breaker)
		}
	}
	if len(out.Power.Loose) > 0 {
		add("No circuit is given for %s: their load isn't counted on any breaker.", listed(out.Power.Loose))
	}
	for i := range p.Lamps {
		l := &p.Lamps[i]
		at, _, _, _ := s.Axis(i)
		head := s.Head()
		if !l.Ambient && at.Z >= overhead && math.Hypot(at.X-head.X, at.Y-head.Y) < overReach {
			add("Lamp %s hangs over the subject: bond it with a steel safety wire to something that holds by itself.", l.Name)
		}
		if v := luminance(l, float64(s.Flux(i))) * *l.Level; v > glaring {
			if d := float64(s.Distance(i, head)); d < nearEyes {
				add("Lamp %s shines about %.0f kcd/m², %.1f m from the eyes: don't look into it; a lamp sold for the purpose states its risk group (IEC 62471).", l.Name, v/1000, d)
			}
		}
		if float64(l.Watts) >= hotWatts {
			for _, v := range []float64{at.X, float64(p.Room.Width) - at.X, at.Y, float64(p.Room.Depth) - at.Y, float64(p.Room.Height) - at.Z} {
				if v < closeToWall && !l.Ambient {
					add("Lamp %s (%.0f W) stands %.2f m from a wall or the ceiling: leave room for its heat, and nothing over it that may scorch.", l.Name, float64(l.Watts), v)
					break
				}
			}
		}
	}
	for _, l := range out.Lamps {
		if l.Flicker != "" {
			add("Lamp %s %s. Flashing light can hurt: ITU-R BT.1702 sets what a picture may do.", l.Name, l.Flicker)
		}
	}
	if len(p.Lamps) > 1 {
		add("Cables: along the walls, flat and taped where anyone walks, never across the way to the camera.")
	}
	out.Cautions = append(out.Cautions, usual, deferral)
}

// luminance of a lamp's face at full, cd/m²; 0 when it has no size.
func luminance(l *light.LampPlan, flux float64) float64 {
	if len(l.Size) == 0 || l.Diffusion != nil {
		return 0
	}
	a := float64(l.Size[0])
	switch l.Shape {
	case light.ShapeBall:
		return flux / (math.Pi * math.Pi * a * a)
	case light.ShapeTube:
		return flux / (math.Pi * math.Pi * a * float64(l.Size[1]))
	case light.ShapeDisc:
		return flux / (math.Pi * math.Pi * a * a / 4)
	case light.ShapeRect:
		return flux / (math.Pi * a * float64(l.Size[1]))
	}
	return 0
}

func listed(names []string) string {
	switch n := len(names); n {
	case 0:
		return ""
	case 1:
		return names[0]
	default:
		out := names[0]
		for _, s := range names[1 : n-1] {
			out += ", " + s
		}
		return out + " and " + names[n-1]
	}
}
