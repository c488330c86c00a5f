package demo

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// shape is a lamp's light-giving face.
type shape uint8

const (
	shapeSphere shape = iota // a lantern: centre, radius
	shapeRect                // a card or a door's opening: corner frame, half sizes
	shapeDisc                // a spot or a small lens: centre, radius, facing y
	shapeTube                // a fluorescent tube: centre, half length along x, radius
)

// emitter is where a lamp's light comes from. Its frame's y axis is the way it
// faces; radiance is in cd/m² for the lamp's full level and its spectrum has Y = 1.
type emitter struct {
	shape    shape
	frame    frame
	halfX    float32 // rect: half width; tube: half length; sphere, disc: radius
	halfZ    float32 // rect: half depth; tube: radius
	radiance float32
	// beam narrows a disc's light: radiance falls as exp(−(θ/beam)²), θ in rad; 0 = none.
	beam float32
	// hot is how bright a face's middle is: a card lit from one side isn't
	// even, nor is a small lens; 0 = even.
	hot float32
}

// lightSample is one point of a lamp as seen from a point of the room.
type lightSample struct {
	dir  vec
	dist float32
	l    float32 // radiance toward the point, cd/m²
	pdf  float32 // per solid angle
}

// sample draws a point of the lamp seen from p.
func (e *emitter) sample(p vec, u, v float32) (s lightSample, ok bool) {
	switch e.shape {
	case shapeSphere:
		return e.sampleSphere(p, u, v)
	case shapeTube:
		return e.sampleTube(p, u, v)
	}
	var q vec
	var face float32
	switch {
	case e.shape == shapeRect && e.near(p):
		return e.sampleRect(p, u, v)
	case e.shape == shapeRect:
		q = e.frame.point(vec{(2*u - 1) * e.halfX, 0, (2*v - 1) * e.halfZ})
		face = 4 * e.halfX * e.halfZ
	default:
		r := e.halfX * sqrt32(u)
		q = e.frame.point(vec{r * cos32(2*math.Pi*v), 0, r * sin32(2*math.Pi*v)})
		face = math.Pi * e.halfX * e.halfX
	}
	d := q.sub(p)
	d2 := d.dot(d)
	s.dist = sqrt32(d2)
	s.dir = d.mul(1 / s.dist)
	cos := -s.dir.dot(e.frame.y)
	if cos <= 1e-4 || d2 < 1e-8 {
		return s, false
	}
	s.pdf = d2 / (cos * face)
	s.l = e.toward(q, cos)
	return s, true
}

// toward is the radiance a flat lamp's point q sends at an angle of the given cosine.
func (e *emitter) toward(q vec, cos float32) float32 {
	l := e.radiance
	if e.beam > 0 {
		t := float32(math.Acos(float64(min(cos, 1)))) / e.beam
		l *= float32(math.Exp(float64(-t * t)))
	}
	if e.hot > 0 && e.shape == shapeDisc {
		w := e.frame.inside(q)
		r2 := (w.x*w.x + w.z*w.z) / (e.halfX * e.halfX)
		return l * (0.35 + (e.hot-1)*float32(math.Exp(float64(-7*r2))))
	}
	if e.hot > 0 {
		w := e.frame.inside(q)
		x, z := w.x/e.halfX-0.15, w.z/e.halfZ+0.1
		l *= 1 + (e.hot-1)*float32(math.Exp(float64(-1.6*(x*x+z*z))))
	}
	return l
}

// sampleSphere draws a direction inside the cone the sphere fills.
func (e *emitter) sampleSphere(p vec, u, v float32) (s lightSample, ok bool) {
	c := e.frame.o.sub(p)
	d2 := c.dot(c)
	r2 := e.halfX * e.halfX
	if d2 <= r2*1.0001 {
		return s, false
	}
	sin2 := r2 / d2
	oneMinusMax := sin2 / (1 + sqrt32(1-sin2)) // 1 − cos of the cone's half angle, without cancellation
	h := u * oneMinusMax
	cos := 1 - h
	sin := sqrt32(max(0, h*(2-h)))
	w := c.mul(1 / sqrt32(d2))
	x, y := basis(w)
	s.dir = w.mul(cos).add(x.mul(sin * cos32(2*math.Pi*v))).add(y.mul(sin * sin32(2*math.Pi*v)))
	s.pdf = 1 / (2 * math.Pi * oneMinusMax)
	d := sqrt32(d2)
	s.dist = d*cos - sqrt32(max(0, r2-d2*sin*sin))
	s.l = e.radiance
	return s, true
}

// near says whether a rectangle is so close that points drawn evenly on it
// would differ much in what they give; from afar that's cheaper.
func (e *emitter) near(p vec) bool {
	d := p.sub(e.frame.o)
	return d.dot(d) < 5*(e.halfX*e.halfX+e.halfZ*e.halfZ)
}

// rectView is a rectangle as seen from a point: what drawing directions
// evenly over its solid angle needs.
type rectView struct {
	x0, x1, y0, y1, z float64 // in the rectangle's axes, from the point
	b0, b1, k, solid  float64
}

// look prepares a rectangle for a point in front of it (Ureña, Fajardo & King,
// "An Area-Preserving Parametrization for Spherical Rectangles", EGSR 2013).
func (e *emitter) look(p vec) (r rectView, ok bool) {
	d := e.frame.inside(p)
	r.z = float64(d.y)
	if r.z <= 1e-5 {
		return r, false
	}
	hx, hz := float64(e.halfX), float64(e.halfZ)
	r.x0, r.x1 = -hx-float64(d.x), hx-float64(d.x)
	r.y0, r.y1 = -hz-float64(d.z), hz-float64(d.z)
	z2 := r.z * r.z
	// Normals of the four planes through the point and an edge: their z parts
	// give the inner angles of the rectangle's spherical image.
	n0 := -r.y0 / math.Sqrt(z2+r.y0*r.y0)
	n1 := r.x1 / math.Sqrt(z2+r.x1*r.x1)
	n2 := r.y1 / math.Sqrt(z2+r.y1*r.y1)
	n3 := -r.x0 / math.Sqrt(z2+r.x0*r.x0)
	g := func(a, b float64) float64 { return math.Acos(math.Max(-1, math.Min(1, -a*b))) }
	g0, g1, g2, g3 := g(n0, n1), g(n1, n2), g(n2, n3), g(n3, n0)
	r.b0, r.b1 = n0, n2
	r.k = 2*math.Pi - g2 - g3
	r.solid = g0 + g1 - r.k
	return r, r.solid > 1e-7
}

// sampleRect draws a direction evenly from those the rectangle fills, so that
// nothing grows without bound close to it.
func (e *emitter) sampleRect(p vec, u, v float32) (s lightSample, ok bool) {
	r, ok := e.look(p)
	if !ok {
		return s, false
	}
	au := float64(u)*r.solid + r.k
	sin, cos := math.Sincos(au)
	fu := (cos*r.b0 - r.b1) / sin
	cu := math.Max(-1, math.Min(1, math.Copysign(1, fu)/math.Sqrt(fu*fu+r.b0*r.b0)))
	// cu is the sine toward x at the drawn column: back to the plane.
	x := cu * r.z / math.Max(1e-9, math.Sqrt(1-cu*cu))
	x = math.Max(r.x0, math.Min(r.x1, x))
	d := math.Sqrt(x*x + r.z*r.z)
	h0, h1 := r.y0/math.Sqrt(d*d+r.y0*r.y0), r.y1/math.Sqrt(d*d+r.y1*r.y1)
	h := h0 + float64(v)*(h1-h0)
	y := r.y1
	if h*h < 1-1e-9 {
		y = math.Max(r.y0, math.Min(r.y1, h*d/math.Sqrt(1-h*h)))
	}
	dist := math.Sqrt(d*d + y*y)
	s.dist = float32(dist)
	s.dir = e.frame.dir(v3(x/dist, -r.z/dist, y/dist))
	s.pdf = float32(1 / r.solid)
	s.l = e.toward(p.mad(s.dist, s.dir), float32(r.z/dist))
	return s, true
}

// sampleTube draws a point of the strip that the tube shows to p: a Lambertian
// cylinder looks evenly bright, so the strip's light is that of its
// projection. Points along it are drawn evenly in the angle they're seen at
// (Kulla & Fajardo, "Importance Sampling Techniques for Path Tracing in
// Participating Media", EGSR 2012, equi-angular), which tames the near end.
func (e *emitter) sampleTube(p vec, u, v float32) (s lightSample, ok bool) {
	axis := e.frame.x
	c := e.frame.o.sub(p)
	mid := c.dot(axis) // of the tube's middle, along the axis from p's foot
	h := c.sub(axis.mul(mid)).length()
	if h <= e.halfZ*1.0001 {
		return s, false
	}
	lo, hi := e.tubeSpan(mid, h)
	along := h * float32(math.Tan(float64(lo+u*(hi-lo))))
	foot := c.sub(axis.mul(mid))
	d := foot.add(axis.mul(along))
	d = d.mad((2*v-1)*e.halfZ, axis.cross(foot).unit())
	d2 := d.dot(d)
	s.dist = sqrt32(d2)
	s.dir = d.mul(1 / s.dist)
	// Per length h/(Δ·(h²+along²)), per width 1/(2·radius); to solid angle by
	// d²/sin, the sine being h/√(h²+along²).
	reach := h*h + along*along
	s.pdf = d2 / (sqrt32(reach) * (hi - lo) * 2 * e.halfZ)
	s.dist -= e.halfZ
	s.l = e.radiance
	return s, true
}

// tubeSpan is the angles between which a tube's ends are seen. The tube's near
// side counts, on the average π/4 of the radius before the axis.
func (e *emitter) tubeSpan(mid, h float32) (lo, hi float32) {
	near := h - math.Pi/4*e.halfZ
	return float32(math.Atan(float64((mid - e.halfX) / near))), float32(math.Atan(float64((mid + e.halfX) / near)))
}

// seen is the radiance of the lamp's face at q in the direction back along d,
// and the density with which sample would have drawn that direction from p.
func (e *emitter) seen(p, q, d vec) (l, pdf float32) {
	switch e.shape {
	case shapeSphere:
		c := e.frame.o.sub(p)
		sin2 := e.halfX * e.halfX / c.dot(c)
		if sin2 >= 1 {
			return e.radiance, 0
		}
		return e.radiance, 1 / (2 * math.Pi * sin2 / (1 + sqrt32(1-sin2)))
	case shapeTube:
		c := e.frame.o.sub(p)
		mid := c.dot(e.frame.x)
		h := c.sub(e.frame.x.mul(mid)).length()
		lo, hi := e.tubeSpan(mid, h)
		r := q.sub(p).length()
		return e.radiance, r / ((hi - lo) * 2 * e.halfZ)
	case shapeRect:
		if !e.near(p) {
			break
		}
		r, ok := e.look(p)
		cos := -d.dot(e.frame.y)
		if !ok || cos <= 0 {
			return 0, 0
		}
		return e.toward(q, cos), float32(1 / r.solid)
	}
	cos := -d.dot(e.frame.y)
	if cos <= 1e-4 {
		return 0, 0
	}
	face := math.Pi * e.halfX * e.halfX
	if e.shape == shapeRect {
		face = 4 * e.halfX * e.halfZ
	}
	r := q.sub(p)
	return e.toward(q, cos), r.dot(r) / (cos * face)
}

// build adds the face as triangles, so that it's seen and reflected. They let
// shadow rays through: a lamp doesn't stand in its own light.
func (e *emitter) build(b *builder, material int) {
	layer := b.layer
	b.begin(e.frame, material)
	b.open = true
	switch e.shape {
	case shapeSphere:
		b.ball(vec{}, vec{e.halfX, e.halfX, e.halfX}, 24)
	case shapeRect:
		x, z := e.halfX, e.halfZ
		b.facing(vec{0, 1, 0}, vec{-x, 0, -z}, vec{x, 0, -z}, vec{x, 0, z})
		b.facing(vec{0, 1, 0}, vec{-x, 0, -z}, vec{x, 0, z}, vec{-x, 0, z})
	case shapeDisc:
		const n = 32
		rim := func(i int) vec {
			s, c := math.Sincos(2 * math.Pi * float64(i) / n)
			return v3(float64(e.halfX)*c, 0, float64(e.halfX)*s)
		}
		for i := range n {
			b.facing(vec{0, 1, 0}, vec{}, rim(i), rim(i+1))
		}
	case shapeTube:
		b.rod(vec{-e.halfX, 0, 0}, vec{e.halfX, 0, 0}, float64(e.halfZ), 16)
	}
	b.open = false
	b.layer = layer
}

// Lamp is one source of the example that is switched on its own; the last of
// the list is the ambient, which isn't.
type Lamp struct {
	Name     string
	Level    float64     // in the reference mix; 1 = full
	Kelvin   unit.Kelvin // at full level; 0 for a coloured lamp
	Duv      float64
	Filament bool // reddens when dimmed
	Ambient  bool

	face    emitter
	spectra []spectrum // one; a filament has one for each of filamentNodes
	rise    float64    // time constant of coming on, s
	fall    float64    // of going off, s
	warm    float64    // extra light when cold, as a fraction, dying away with warmFor
	warmFor float64    // s
}

// A dimmed filament: light goes with the 3.4th power of the voltage and colour
// temperature with its 0.42nd (gas-filled lamps; handbook values, from memory),
// so T ∝ level^(0.42/3.4). From 2750 K that is 32 mired at half light, 68 at a quarter.
const filamentExponent = 0.42 / 3.4

// FilamentKelvin is the temperature of a filament of full kelvin at a level.
func FilamentKelvin(full unit.Kelvin, level float64) unit.Kelvin {
	return full * unit.Kelvin(math.Pow(math.Max(level, 1e-3), filamentExponent))
}

// filamentNodes are the levels at which a filament's picture is rendered; for
// others the three are mixed (filamentShares). They're near the Chebyshev
// points of 1/T between full light and a twentieth.
var filamentNodes = [3]float64{0.80, 0.22, 0.07}

// filamentShares gives the weights of the three pictures whose sum is the
// filament's light at a level: quadratic interpolation (Lagrange) in 1/T,
// where a black body's spectrum at constant light bends little.
func filamentShares(level float64) [3]float64 {
	x := float64(1 / FilamentKelvin(1, level))
	var n [3]float64
	for i, l := range filamentNodes {
		n[i] = float64(1 / FilamentKelvin(1, l))
	}
	var w [3]float64
	for i := range w {
		w[i] = level
		for j := range w {
			if j != i {
				w[i] *= (x - n[j]) / (n[i] - n[j])
			}
		}
	}
	return w
}

// whitePoint is the chromaticity of a black body moved off the locus by duv in
// CIE 1960 u, v (above is green).
func whitePoint(kelvin unit.Kelvin, duv float64) colour.XY {
	uv := func(t unit.Kelvin) (float64, float64) {
		s := planckSpectrum(t)
		c := xyzUnder(&s, &evenSpectrum).XY()
		d := -2*c.X + 12*c.Y + 3
		return 4 * c.X / d, 6 * c.Y / d
	}
	u, v := uv(kelvin)
	u1, v1 := uv(kelvin * 1.001)
	du, dv := u1-u, v1-v
	l := math.Hypot(du, dv)
	// Toward hotter, the normal that points up in v.
	nu, nv := dv/l, -du/l
	if nv < 0 {
		nu, nv = -nu, -nv
	}
	u, v = u+duv*nu, v+duv*nv
	d := 2*u - 8*v + 4
	return colour.XY{X: 3 * u / d, Y: 2 * v / d}
}
