package demo

import "math"

// vec is a point or a direction in metres. float32: the room is 6 m long and
// a pixel on the figure is 1 mm wide, so 24 bits leave a factor of 1000.
type vec struct{ x, y, z float32 }

func v3(x, y, z float64) vec { return vec{float32(x), float32(y), float32(z)} }

func (a vec) add(b vec) vec            { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) sub(b vec) vec            { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) mul(k float32) vec        { return vec{a.x * k, a.y * k, a.z * k} }
func (a vec) scale(b vec) vec          { return vec{a.x * b.x, a.y * b.y, a.z * b.z} }
func (a vec) mad(k float32, b vec) vec { return vec{a.x + k*b.x, a.y + k*b.y, a.z + k*b.z} }
func (a vec) dot(b vec) float32        { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) neg() vec                 { return vec{-a.x, -a.y, -a.z} }
func (a vec) length() float32          { return sqrt32(a.dot(a)) }
func (a vec) cross(b vec) vec {
	return vec{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}

func (a vec) unit() vec {
	l := a.dot(a)
	if l == 0 {
		return vec{0, 1, 0}
	}
	return a.mul(1 / sqrt32(l))
}

func (a vec) lerp(b vec, t float32) vec { return a.add(b.sub(a).mul(t)) }

func minVec(a, b vec) vec { return vec{min(a.x, b.x), min(a.y, b.y), min(a.z, b.z)} }
func maxVec(a, b vec) vec { return vec{max(a.x, b.x), max(a.y, b.y), max(a.z, b.z)} }

func sqrt32(x float32) float32 { return float32(math.Sqrt(float64(x))) }
func abs32(x float32) float32  { return math.Float32frombits(math.Float32bits(x) &^ (1 << 31)) }
func sin32(x float32) float32  { return float32(math.Sin(float64(x))) }
func cos32(x float32) float32  { return float32(math.Cos(float64(x))) }

func clamp32(x, lo, hi float32) float32 { return max(lo, min(hi, x)) }

func smooth32(lo, hi, x float32) float32 {
	t := clamp32((x-lo)/(hi-lo), 0, 1)
	return t * t * (3 - 2*t)
}

// basis gives two directions that stand square on the unit vector n
// (Duff et al., "Building an Orthonormal Basis, Revisited", JCGT 6(1), 2017).
func basis(n vec) (t, b vec) {
	s := float32(math.Copysign(1, float64(n.z)))
	a := -1 / (s + n.z)
	c := n.x * n.y * a
	return vec{1 + s*n.x*n.x*a, s * c, -s * n.x}, vec{c, s + n.y*n.y*a, -n.y}
}

// frame is a place and three axes: it carries a part from where it was
// modelled to where it stands.
type frame struct{ o, x, y, z vec }

var world = frame{x: vec{1, 0, 0}, y: vec{0, 1, 0}, z: vec{0, 0, 1}}

func at(x, y, z float64) frame {
	f := world
	f.o = v3(x, y, z)
	return f
}

func (f frame) point(p vec) vec { return f.o.add(f.dir(p)) }
func (f frame) dir(p vec) vec {
	return f.x.mul(p.x).add(f.y.mul(p.y)).add(f.z.mul(p.z))
}

// inside gives p's coordinates in the frame; axes are of unit length.
func (f frame) inside(p vec) vec {
	d := p.sub(f.o)
	return vec{d.dot(f.x), d.dot(f.y), d.dot(f.z)}
}

// turn rotates the frame about one of its own axes (0 x, 1 y, 2 z) by degrees.
func (f frame) turn(axis int, degrees float64) frame {
	s, c := math.Sincos(degrees * math.Pi / 180)
	S, C := float32(s), float32(c)
	switch axis {
	case 0:
		f.y, f.z = f.y.mul(C).add(f.z.mul(S)), f.z.mul(C).sub(f.y.mul(S))
	case 1:
		f.z, f.x = f.z.mul(C).add(f.x.mul(S)), f.x.mul(C).sub(f.z.mul(S))
	default:
		f.x, f.y = f.x.mul(C).add(f.y.mul(S)), f.y.mul(C).sub(f.x.mul(S))
	}
	return f
}

// shift moves the frame along its own axes.
func (f frame) shift(x, y, z float64) frame {
	f.o = f.point(v3(x, y, z))
	return f
}

// along gives a frame at a whose y axis points to b.
func along(a, b vec) frame {
	y := b.sub(a).unit()
	x, z := basis(y)
	return frame{a, x, y, z}
}
