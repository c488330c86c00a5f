package light

import (
	"slices"

	"lampwise/internal/unit"
)

// Kind is a generic lamp: what a lamp of that sort is like when nothing better
// is known. The figures are round ones of ordinary small lamps (common
// practice, no source); a lamp's own figures in the plan go before them.
type Kind struct {
	Name    string
	Says    string // what it is
	Assumes string // what is taken for granted
	lamp    LampPlan
}

var kinds = []Kind{
	{
		"panel-60", "soft panel, 60 × 60 cm, LED behind a diffuser",
		"matt and even; 2500 lx at 1 m, 100 W, 5600 K, can be dimmed to 1 %",
		LampPlan{Shape: ShapeRect, Size: []unit.Metre{0.6, 0.6}, Lux: 2500, Distance: 1, Watts: 100, Kelvin: 5600, Lowest: 0.01, Dimming: "pulse"},
	},
	{
		"panel-30", "small soft panel, 30 × 20 cm",
		"matt and even; 600 lx at 1 m, 20 W, 5600 K, can be dimmed to 5 %",
		LampPlan{Shape: ShapeRect, Size: []unit.Metre{0.3, 0.2}, Lux: 600, Distance: 1, Watts: 20, Kelvin: 5600, Lowest: 0.05, Dimming: "pulse"},
	},
	{
		"lantern-65", "lantern, ball of 65 cm",
		"even all round; 8000 lm, 100 W, 5600 K, can be dimmed to 1 %",
		LampPlan{Shape: ShapeBall, Size: []unit.Metre{0.65}, Lumens: 8000, Watts: 100, Kelvin: 5600, Lowest: 0.01, Dimming: "pulse"},
	},
	{
		"softbox-90", "eight-sided softbox, about 90 cm, taken as a disc",
		"matt and even; 3000 lx at 1 m, 150 W, 5600 K, can be dimmed to 1 %",
		LampPlan{Shape: ShapeDisc, Size: []unit.Metre{0.9}, Lux: 3000, Distance: 1, Watts: 150, Kelvin: 5600, Lowest: 0.01, Dimming: "pulse"},
	},
	{
		"tube-120", "bare tube, 120 cm, 26 mm thick",
		"matt all round its length; 3000 lm, 36 W, 4000 K, follows the mains, can't be dimmed",
		LampPlan{Shape: ShapeTube, Size: []unit.Metre{1.2, 0.026}, Lumens: 3000, Watts: 36, Kelvin: 4000, Lowest: 1, Dimming: "mains"},
	},
	{
		"strip-100", "LED strip, 100 cm in a profile, taken as a tube 12 mm thick",
		"1000 lm, 12 W, 3000 K, can be dimmed to 2 %",
		LampPlan{Shape: ShapeTube, Size: []unit.Metre{1.0, 0.012}, Lumens: 1000, Watts: 12, Kelvin: 3000, Lowest: 0.02, Dimming: "pulse"},
	},
	{
		"bulb", "bare bulb",
		"even all round from a point; 806 lm, 9 W, 2700 K, can be dimmed to 10 %",
		LampPlan{Shape: ShapePoint, Lumens: 806, Watts: 9, Kelvin: 2700, Lowest: 0.1, Dimming: "pulse"},
	},
	{
		"spot-30", "small spot, beam of 30°",
		"Gaussian beam; 3000 lx at 1 m, 60 W, 5600 K, can be dimmed to 1 %",
		LampPlan{Shape: ShapeBeam, Beam: 30, Lux: 3000, Distance: 1, Watts: 60, Kelvin: 5600, Lowest: 0.01, Dimming: "pulse"},
	},
	{
		"window", "window, 100 × 120 cm, overcast sky outside",
		"matt and even, 1000 cd/m² (half of an overcast sky of 2000 cd/m² hidden by ground and houses); 6500 K; can't be dimmed, changes by the hour",
		LampPlan{Shape: ShapeRect, Size: []unit.Metre{1.0, 1.2}, Luminance: 1000, Kelvin: 6500, Lowest: 1, Ambient: true},
	},
}

// Kinds lists the generic lamps.
func Kinds() []Kind { return slices.Clone(kinds) }

// KindByName finds one.
func KindByName(name string) (Kind, bool) {
	for _, k := range kinds {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

// Lamp is the kind's own figures.
func (k *Kind) Lamp() LampPlan { return k.lamp }

// under lays the kind's figures under what the plan says of the lamp.
func (k *Kind) under(l *LampPlan) {
	d := k.lamp
	if l.Shape == "" && l.Photometry == "" {
		l.Shape = d.Shape
	}
	if l.Size == nil && l.Photometry == "" {
		l.Size = slices.Clone(d.Size)
	}
	if l.Lux == 0 && l.Distance == 0 && l.Lumens == 0 && l.Luminance == 0 && l.Photometry == "" {
		l.Lux, l.Distance, l.Lumens, l.Luminance = d.Lux, d.Distance, d.Lumens, d.Luminance
	}
	if l.Beam == 0 && l.Photometry == "" {
		l.Beam = d.Beam
	}
	if l.Watts == 0 {
		l.Watts = d.Watts
	}
	if l.Kelvin == 0 && !l.Coloured {
		l.Kelvin = d.Kelvin
	}
	if l.Lowest == 0 {
		l.Lowest = d.Lowest
	}
	if l.Dimming == "" {
		l.Dimming = d.Dimming
	}
	l.Ambient = l.Ambient || d.Ambient
}
