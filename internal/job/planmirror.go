package job

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/light"
	"lampwise/internal/unit"
)

// planmirror.go looks for lamps whose image a place may throw into the lens. A
// plan takes every surface as matt; satin paint and tools aren't.

// mirrorSpread is how far from the mirror's direction a satin surface still
// shines (common practice, no source).
const mirrorSpread unit.Degree = 15

// mirrorDoubt is how far a plan may err where a lamp is mirrored: between matt
// paint and bare steel lies more than the half stop that a plan is good to.
const mirrorDoubt unit.Stop = 1

// mirrored lists the lamps that a place of the room may mirror into the lens:
// seen from there they lie within mirrorSpread of the camera's mirrored
// direction, their own size counted, and light it directly.
func (out *Planned) mirrored(p light.Place, lit []light.Lit) []string {
	names := []string{}
	if p.Body != light.Whole {
		return names // skin's shine is small and part of its reflectance
	}
	s := out.scene
	eye := s.Eye().Sub(p.At).Unit()
	mirror := p.Normal.Times(2 * eye.Dot(p.Normal)).Sub(eye)
	for i := range s.Plan.Lamps {
		l := &s.Plan.Lamps[i]
		if !(lit[i].Direct > 0) {
			continue
		}
		at, _, _, _ := s.Axis(i)
		d := at.Sub(p.At)
		half := 0.0
		for _, v := range l.Size {
			half = math.Max(half, float64(v)/2)
		}
		angle := unit.Radian(math.Acos(math.Max(-1, math.Min(1, d.Unit().Dot(mirror))))).Degree()
		if angle-unit.Radian(math.Atan2(half, d.Length())).Degree() < mirrorSpread {
			names = append(names, l.Name)
		}
	}
	return names
}

// mirrors tells of what was found.
func (out *Planned) mirrors() {
	for _, r := range out.Readings {
		if len(r.Mirrors) > 0 {
			out.Notes = append(out.Notes, fmt.Sprintf("The %s mirrors %s into the lens: what shines there (paint, steel, a screen) reads brighter than planned. Move the lamp or the camera, turn the surface, or expect it.", r.Region, listed(r.Mirrors)))
		}
	}
}

// doubtOf is how far lamp l's own light at a place may err.
func (r *PlannedReading) doubtOf(l *PlannedLamp) float64 {
	if slices.Contains(r.Mirrors, l.Name) {
		return math.Max(l.SE, float64(mirrorDoubt))
	}
	return l.SE
}
