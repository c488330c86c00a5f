package light

import "math"

// face is a lamp's light-giving face at full level, placed in the room. All
// its numbers are SI: lux, candela per square metre, lumen.
type face interface {
	// at is the illuminance on a small plane at p with the unit normal n, with
	// nothing in between.
	at(p, n Vec) float64
	// spots are places spread over the face, each standing for its part, for
	// finding how much of it something hides.
	spots() []Vec
	// flux is all the light that leaves the face.
	flux() float64
	// scale multiplies what the face gives.
	scale(k float64)
	// axis is the face's middle and the way it faces.
	axis() *frame
}

// sphereFace is a lantern: a ball, evenly bright all round.
type sphereFace struct {
	frame
	radius, luminance float64
}

// at is the irradiance of a uniform sphere on a plane that may cut it: the
// disc that the sphere shows is projected and clipped at the plane. Fully
// above: E = π·L·(R/d)²·cos θ. Cut: Snyder, "Area light sources for real-time
// graphics", Microsoft Research MSR-TR-96-11 (1996), in the form with
// x = √(1/sin²σ − 1), from memory; the tests hold it to direct summation.
func (s *sphereFace) at(p, n Vec) float64 {
	d := s.o.Sub(p)
	d2 := d.Dot(d)
	r2 := s.radius * s.radius
	if d2 <= r2 {
		return math.NaN() // inside: refused by Check
	}
	dist := math.Sqrt(d2)
	cos := d.Dot(n) / dist
	sin2s := r2 / d2
	sinS := s.radius / dist
	switch {
	case cos >= sinS:
		return math.Pi * s.luminance * sin2s * cos
	case cos <= -sinS:
		return 0
	}
	sin := math.Sqrt(1 - cos*cos)
	x := math.Sqrt(1/sin2s - 1)
	y := -x * cos / sin
	root := sin * math.Sqrt(math.Max(0, 1-y*y))
	e := (cos*math.Acos(math.Max(-1, math.Min(1, y)))-x*root)*sin2s + math.Atan(root/x)
	return s.luminance * math.Max(0, e)
}

func (s *sphereFace) flux() float64   { return 4 * math.Pi * math.Pi * s.radius * s.radius * s.luminance }
func (s *sphereFace) scale(k float64) { s.luminance *= k }
func (s *sphereFace) axis() *frame    { return &s.frame }

// ballSpots is how many spots a ball shows.
const ballSpots = 24

// shown spreads spots evenly over the disc that the ball shows to p: on a
// spiral of golden angles, each standing for an equal part.
func (s *sphereFace) shown(p Vec, out *[ballSpots]Vec) {
	f := facing(s.o, p.Sub(s.o), 0)
	const golden = math.Pi * (3 - 2.23606797749979) // π·(3 − √5)
	for i := range out {
		r := s.radius * math.Sqrt((float64(i)+0.5)/ballSpots)
		sin, cos := math.Sincos(golden * float64(i))
		out[i] = f.point(r*cos, r*sin, 0)
	}
}

// spots of a sphere lie inside it: seen from anywhere they cover its disc.
func (s *sphereFace) spots() []Vec {
	out := []Vec{s.o}
	for _, k := range []float64{-0.66, 0.66} {
		out = append(out, s.point(k*s.radius, 0, 0), s.point(0, k*s.radius, 0), s.point(0, 0, k*s.radius))
	}
	return out
}

// tubeFace is a bare tube: a cylinder with evenly bright sides, thin against
// its distance.
type tubeFace struct {
	frame                   // x along the tube
	half, radius, luminance float64
}

// at sums the line's pieces, each of intensity 2·R·L·sin α a metre (α from the
// tube's axis): with the foot of p on the axis at distance h and l = h·tan φ,
// dE = (2·R·L/h)·cos φ·(cos φ·u + sin φ·x)·n dφ. The part under the plane's
// horizon is cut off. A cylinder without end gives π·L·R/h at any h, which is
// this sum's, too.
func (t *tubeFace) at(p, n Vec) float64 {
	d := t.o.Sub(p)
	mid := d.Dot(t.x)
	foot := d.Sub(t.x.Times(mid))
	h := foot.Length()
	if h < t.radius {
		h = t.radius
	}
	u := foot.Times(1 / h)
	a, b := mid-t.half, mid+t.half
	// n·(foot + l·x) > 0 on one side of l0.
	nf, nx := n.Dot(foot), n.Dot(t.x)
	if math.Abs(nx) < 1e-12 {
		if nf <= 0 {
			return 0
		}
	} else if l0 := -nf / nx; nx > 0 {
		a = math.Max(a, l0)
	} else {
		b = math.Min(b, l0)
	}
	if a >= b {
		return 0
	}
	f := func(l float64) (alongU, alongX float64) {
		r := math.Hypot(h, l)
		sin, cos := l/r, h/r
		return 0.5 * (math.Atan2(l, h) + sin*cos), 0.5 * sin * sin
	}
	ua, xa := f(a)
	ub, xb := f(b)
	return math.Max(0, 2*t.radius*t.luminance/h*((ub-ua)*u.Dot(n)+(xb-xa)*nx))
}

func (t *tubeFace) flux() float64 {
	return math.Pi * t.luminance * 2 * math.Pi * t.radius * 2 * t.half
}
func (t *tubeFace) scale(k float64) { t.luminance *= k }
func (t *tubeFace) axis() *frame    { return &t.frame }

func (t *tubeFace) spots() []Vec {
	var out []Vec
	const n = 8
	for i := range n {
		out = append(out, t.point((2*(float64(i)+0.5)/n-1)*t.half, 0, 0))
	}
	return out
}
