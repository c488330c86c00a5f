package demo

import "math"

// tint is a share of one of the palette's reflectances.
type tint struct {
	colour int
	share  float32
}

// spot is one point of a surface, first where it is, then what it's like.
type spot struct {
	p     vec // in the world
	q     vec // in the part's own frame
	n     vec // shading normal; a material may tilt it
	ng    vec // the triangle's own normal, toward the viewer
	along vec // a hair's direction; zero elsewhere
	seed  uint32
	tints [3]tint // diffuse reflectance: shares of palette colours
	f0    float32 // specular reflectance head-on; 0 = none
	rough float32 // GGX α
	metal int     // palette colour of a metal's reflection; −1 for a dielectric
	lamp  int8    // the lamp whose face this is; −1 for none
}

func (s *spot) paint(colour int, share float32) { s.tints[0] = tint{colour, share} }

func (s *spot) mix(a, b int, t float32) {
	s.tints[0] = tint{a, 1 - t}
	s.tints[1] = tint{b, t}
}

// times scales the diffuse reflectance.
func (s *spot) times(k float32) {
	for i := range s.tints {
		s.tints[i].share *= k
	}
}

// gloss sets a dielectric coat.
func (s *spot) gloss(f0, rough float32) { s.f0, s.rough = f0, rough }

// bare makes it a bare metal.
func (s *spot) bare(colour int, rough float32) {
	s.metal, s.rough, s.f0 = colour, rough, 1
	s.tints = [3]tint{}
}

// bump tilts the shading normal by the slope of a height field (metres) at
// the local point; step is the width over which the slope is taken.
func (s *spot) bump(f frame, height func(q vec) float32, step float32) {
	h := height(s.q)
	g := vec{
		(height(vec{s.q.x + step, s.q.y, s.q.z}) - h) / step,
		(height(vec{s.q.x, s.q.y + step, s.q.z}) - h) / step,
		(height(vec{s.q.x, s.q.y, s.q.z + step}) - h) / step,
	}
	w := f.dir(g)
	w = w.sub(s.n.mul(w.dot(s.n)))
	n := s.n.sub(w).unit()
	if n.dot(s.ng) > 0.05 {
		s.n = n
	}
}

// material says what a surface is like at a spot.
type material struct {
	name  string
	paint func(s *spot, f frame)
}

// ggx is the distribution of microfacets (Walter et al., "Microfacet Models
// for Refraction through Rough Surfaces", EGSR 2007, eq. 33).
func ggx(cosH, a float32) float32 {
	d := cosH*cosH*(a*a-1) + 1
	return a * a / (math.Pi * d * d)
}

// smithOver4 is G2/(4·n·l·n·v), height-correlated Smith (Heitz, JCGT 3(2), 2014, eq. 99).
func smithOver4(nl, nv, a float32) float32 {
	a2 := a * a
	l := nv * sqrt32(nl*nl*(1-a2)+a2)
	v := nl * sqrt32(nv*nv*(1-a2)+a2)
	return 0.5 / (l + v)
}

// smithG1 is the masking of one direction.
func smithG1(nv, a float32) float32 {
	a2 := a * a
	return 2 * nv / (nv + sqrt32(a2+(1-a2)*nv*nv))
}

// schlick is the rise of reflection toward grazing (Schlick 1994): the share
// that goes over to white.
func schlick(cos float32) float32 {
	m := clamp32(1-cos, 0, 1)
	m2 := m * m
	return m2 * m2 * m
}

// visibleNormal draws a microfacet normal as seen from direction v (in the
// tangent frame, z up): Heitz, "Sampling the GGX Distribution of Visible
// Normals", JCGT 7(4), 2018.
func visibleNormal(v vec, a, u1, u2 float32) vec {
	vh := vec{a * v.x, a * v.y, v.z}.unit()
	t1 := vec{1, 0, 0}
	if l := vh.x*vh.x + vh.y*vh.y; l > 1e-12 {
		t1 = vec{-vh.y, vh.x, 0}.mul(1 / sqrt32(l))
	}
	t2 := vh.cross(t1)
	r := sqrt32(u1)
	phi := 2 * math.Pi * u2
	p1 := r * cos32(phi)
	p2 := r * sin32(phi)
	s := 0.5 * (1 + vh.z)
	p2 = (1-s)*sqrt32(max(0, 1-p1*p1)) + s*p2
	n := t1.mul(p1).add(t2.mul(p2)).add(vh.mul(sqrt32(max(0, 1-p1*p1-p2*p2))))
	return vec{a * n.x, a * n.y, max(1e-6, n.z)}.unit()
}
