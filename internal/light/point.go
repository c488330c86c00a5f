package light

import (
	"math"

	"lampwise/internal/unit"
)

// Distribution is a lamp's measured candela: C planes about its axis, γ from
// its axis (CIE 121). LM-63 and EULUMDAT files give one.
type Distribution interface {
	Candela(c, gamma unit.Degree) unit.Candela
	Flux() unit.Lumen
}

// Beam is a distribution made from what a maker prints: the candela on the
// axis (lux times distance squared) and the beam angle, at whose edge half of
// it is left. With the field angle, at whose edge a tenth is left, the fall's
// shape is known too; without it's taken as Gaussian. I(γ) = I₀·2^−(γ/half)^m.
type Beam struct {
	Peak unit.Candela
	Half unit.Degree // half of the beam angle
	Fall float64     // m; 2 is a Gaussian
}

// NewBeam makes a beam from lux at a distance and the full beam angle; field is
// the full field angle, 0 when not known.
func NewBeam(e unit.Lux, distance unit.Metre, beam, field unit.Degree) Beam {
	b := Beam{Peak: unit.Candela(float64(e) * float64(distance*distance)), Half: beam / 2, Fall: 2}
	if field > 0 {
		b.Fall = math.Log(math.Log2(10)) / math.Log(float64(field/beam))
	}
	return b
}

// Candela implements Distribution.
func (b Beam) Candela(_, gamma unit.Degree) unit.Candela {
	return b.Peak * unit.Candela(math.Exp2(-math.Pow(math.Abs(float64(gamma/b.Half)), b.Fall)))
}

// Flux implements Distribution: the sum over the sphere, in steps of a quarter degree.
func (b Beam) Flux() unit.Lumen {
	const steps = 720
	sum := 0.0
	for i := range steps {
		g := (float64(i) + 0.5) * math.Pi / steps
		sum += float64(b.Candela(0, unit.Radian(g).Degree())) * math.Sin(g) * 2 * math.Pi * math.Pi / steps
	}
	return unit.Lumen(sum)
}

// Even is a distribution that is the same all round: a bare bulb.
type Even unit.Candela

// Candela implements Distribution.
func (e Even) Candela(_, _ unit.Degree) unit.Candela { return unit.Candela(e) }

// Flux implements Distribution: 4π·I.
func (e Even) Flux() unit.Lumen { return unit.Lumen(4 * math.Pi * float64(e)) }

// pointFace is a distribution's light from a point, or from an opening of a
// given size over which it's spread evenly.
type pointFace struct {
	frame
	shape        Distribution
	gain         float64
	halfX, halfY float64
}

// aim gives the C and γ of the direction from the lamp to p: γ from the way it
// faces, C about it from its width's direction toward its height's.
func (s *pointFace) aim(d Vec) (c, gamma unit.Degree) {
	x, y, z := d.Dot(s.x), d.Dot(s.y), d.Dot(s.z)
	gamma = unit.Radian(math.Atan2(math.Hypot(x, y), z)).Degree()
	c = unit.Radian(math.Atan2(y, x)).Degree()
	if c < 0 {
		c += 360
	}
	return c, gamma
}

// at is E = I(C, γ)·cos α/d² (CIE 121; the point method).
//
// Source: CIE 121, the point method
func (s *pointFace) at(p, n Vec) float64 {
	k := s.across(p)
	if k == 1 {
		return s.from(s.o, p, n)
	}
	sum := 0.0
	for i := range k {
		for j := range k {
			sum += s.from(s.point(s.halfX*(2*(float64(i)+0.5)/float64(k)-1), s.halfY*(2*(float64(j)+0.5)/float64(k)-1), 0), p, n)
		}
	}
	return sum / float64(k*k)
}

// across is how finely an opening is cut by how near it is: at five times its
// size the point stands for it within about 1 %.
func (s *pointFace) across(p Vec) int {
	size := 2 * math.Max(s.halfX, s.halfY)
	if size == 0 {
		return 1
	}
	return max(1, min(8, int(math.Ceil(5*size/math.Max(1e-3, p.Sub(s.o).Length())))))
}

func (s *pointFace) from(o, p, n Vec) float64 {
	d := p.Sub(o)
	d2 := d.Dot(d)
	cos := -d.Dot(n)
	if cos <= 0 || d2 == 0 {
		return 0
	}
	r := math.Sqrt(d2)
	var i float64
	switch shape := s.shape.(type) {
	case Even:
		i = float64(shape)
	case Beam: // the same all round its axis: C needn't be known
		gamma := math.Atan2(d.Cross(s.z).Length(), d.Dot(s.z)) * 180 / math.Pi
		i = float64(shape.Candela(0, unit.Degree(gamma)))
	default:
		c, gamma := s.aim(d)
		i = float64(s.shape.Candela(c, gamma))
	}
	return s.gain * i * cos / (d2 * r)
}

func (s *pointFace) flux() float64   { return s.gain * float64(s.shape.Flux()) }
func (s *pointFace) scale(k float64) { s.gain *= k }
func (s *pointFace) axis() *frame    { return &s.frame }

func (s *pointFace) spots() []Vec {
	if s.halfX == 0 && s.halfY == 0 {
		return []Vec{s.o}
	}
	var out []Vec
	for _, u := range []float64{-0.75, -0.25, 0.25, 0.75} {
		for _, v := range []float64{-0.75, -0.25, 0.25, 0.75} {
			out = append(out, s.point(u*s.halfX, v*s.halfY, 0))
		}
	}
	return out
}
