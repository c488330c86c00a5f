package light

import "math"

// shine.go is what a surface's coat throws of a lamp into the lens: the varnish of
// satin paint, the skin's oil. Beneath it the surface is matt. A coat of n = 1.4
// to 1.5 mirrors 3 to 4 % head-on (Fresnel), spread by its roughness (GGX: Walter
// et al., "Microfacet Models for Refraction through Rough Surfaces", EGSR 2007,
// eq. 33; masking as Heitz, JCGT 3(2), 2014, eq. 99; rise toward grazing as
// Schlick 1994).

// Finish is a surface's coat; the empty one is matt.
type Finish struct {
	mirror float64 // reflectance head-on
	rough  float64 // GGX α
}

// finishes are the coats by name. Roughness is of the order that measured paints
// and skin have (round figures, from memory).
var finishes = map[string]Finish{
	"":      {},
	"matt":  {},
	"satin": {0.04, 0.35},
	"gloss": {0.04, 0.12},
	"skin":  {0.028, 0.35},
}

// FinishNamed gives a coat by its name, and whether there is one.
func FinishNamed(name string) (Finish, bool) {
	f, ok := finishes[name]
	return f, ok
}

// under is the share of the light that gets through the coat to the matt body, as
// seen at the cosine nv.
func (f Finish) under(nv float64) float64 { return 1 - f.fresnel(nv) }

func (f Finish) fresnel(cos float64) float64 {
	if f.mirror == 0 {
		return 0
	}
	return f.mirror + (1-f.mirror)*math.Pow(1-math.Max(0, math.Min(1, cos)), 5)
}

// toward is the coat's reflectance from direction in to direction eye, both
// unit, times π: for light of illuminance E it shows as E·toward of a white does.
func (f Finish) toward(in, eye, n Vec) float64 {
	nl, nv := in.Dot(n), eye.Dot(n)
	if f.mirror == 0 || nl <= 0 || nv <= 0 {
		return 0
	}
	h := in.Add(eye).Unit()
	a2 := f.rough * f.rough
	nh := h.Dot(n)
	d := nh*nh*(a2-1) + 1
	spread := a2 / (math.Pi * d * d)
	masked := 0.5 / (nv*math.Sqrt(nl*nl*(1-a2)+a2) + nl*math.Sqrt(nv*nv*(1-a2)+a2))
	return math.Pi * f.fresnel(eye.Dot(h)) * spread * masked
}
