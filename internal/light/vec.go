package light

import "math"

// Vec is a place in metres, or a direction.
type Vec struct{ X, Y, Z float64 }

// Add is a+b.
func (a Vec) Add(b Vec) Vec { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }

// Sub is a−b.
func (a Vec) Sub(b Vec) Vec { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }

// Times is k·a.
func (a Vec) Times(k float64) Vec { return Vec{k * a.X, k * a.Y, k * a.Z} }

// Dot is the inner product.
func (a Vec) Dot(b Vec) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }

// Cross is the outer product.
func (a Vec) Cross(b Vec) Vec {
	return Vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// Length is |a|.
func (a Vec) Length() float64 { return math.Sqrt(a.Dot(a)) }

// Unit is a/|a|; of nothing it's straight down.
func (a Vec) Unit() Vec {
	l := a.Length()
	if l == 0 {
		return Vec{0, 0, -1}
	}
	return a.Times(1 / l)
}

// frame is a place with axes: z is the way a lamp faces, x its width's
// direction (level, when it can be), y its height's.
type frame struct{ o, x, y, z Vec }

// facing makes the frame of something at o that faces along d, turned about
// that axis by turn radians (clockwise as seen from behind it).
func facing(o, d Vec, turn float64) frame {
	f := frame{o: o, z: d.Unit()}
	up := Vec{0, 0, 1}
	if math.Abs(f.z.Z) > 1-1e-9 {
		up = Vec{0, 1, 0} // straight up or down: its height lies along the room
	}
	f.x = f.z.Cross(up).Unit()
	f.y = f.x.Cross(f.z)
	s, c := math.Sincos(turn)
	f.x, f.y = f.x.Times(c).Add(f.y.Times(-s)), f.x.Times(s).Add(f.y.Times(c))
	return f
}

// local gives a room's place in the frame's axes.
func (f *frame) local(p Vec) Vec {
	d := p.Sub(f.o)
	return Vec{d.Dot(f.x), d.Dot(f.y), d.Dot(f.z)}
}

// point gives the room's place of x, y, z in the frame's axes.
func (f *frame) point(x, y, z float64) Vec {
	return f.o.Add(f.x.Times(x)).Add(f.y.Times(y)).Add(f.z.Times(z))
}
