package light

import "math"

// flatFace is a rectangle or a disc that gives light on one side. It's cut
// into cells when it's not evenly bright or when it narrows its light; the
// whole of an even, matt face is one exact formula.
type flatFace struct {
	frame
	disc      bool
	halfX     float64 // a disc's radius
	halfY     float64
	luminance float64 // the mean, straight ahead
	// grid is the angle off the axis, in radians, at which a honeycomb or the
	// like halves the luminance; 0: none, a matt face.
	grid float64
	// cells, when there are any, are nx·ny shares of the mean luminance.
	cells  []float64
	nx, ny int
}

func (f *flatFace) area() float64 {
	if f.disc {
		return math.Pi * f.halfX * f.halfX
	}
	return 4 * f.halfX * f.halfY
}

func (f *flatFace) scale(k float64) { f.luminance *= k }
func (f *flatFace) axis() *frame    { return &f.frame }

// narrowed is the share of its luminance that a face with a grid shows at an
// angle: 2^−(θ/grid)², a model (from memory: honeycombs' curves are near a
// Gaussian down to a tenth).
func narrowed(cos, grid float64) float64 {
	if grid == 0 {
		return 1
	}
	t := math.Acos(math.Max(-1, math.Min(1, cos))) / grid
	return math.Exp2(-t * t)
}

// flux of a matt face is π·L·A; a grid's share is summed over the angle.
func (f *flatFace) flux() float64 {
	k := math.Pi
	if f.grid > 0 {
		const steps = 512
		k = 0
		for i := range steps {
			t := (float64(i) + 0.5) * math.Pi / 2 / steps
			k += narrowed(math.Cos(t), f.grid) * math.Cos(t) * math.Sin(t) * 2 * math.Pi * math.Pi / 2 / steps
		}
	}
	return k * f.luminance * f.area()
}

// cellsAcross is how finely a face with a grid is cut, by how near it is: the
// angle changes over a cell by less than about a fifth of the grid's.
func (f *flatFace) cellsAcross(d float64) int {
	if f.grid == 0 {
		return 1
	}
	size := 2 * math.Max(f.halfX, f.halfY)
	return max(1, min(12, int(math.Ceil(5*size/(d*math.Min(1, f.grid))))))
}

func (f *flatFace) at(p, n Vec) float64 {
	q := f.local(p)
	if q.Z <= 0 {
		return 0 // behind
	}
	if len(f.cells) > 0 {
		return f.cellwise(p, n)
	}
	k := f.cellsAcross(q.Length())
	if k == 1 {
		e := f.luminance
		if f.grid > 0 {
			e *= narrowed(q.Z/q.Length(), f.grid)
		}
		if f.disc {
			return e * f.discAt(p, n, q)
		}
		return e * f.rectAt(q, n, -f.halfX, f.halfX, -f.halfY, f.halfY)
	}
	sum := 0.0
	for i := range k {
		for j := range k {
			x0, x1 := f.halfX*(2*float64(i)/float64(k)-1), f.halfX*(2*float64(i+1)/float64(k)-1)
			y0, y1 := f.halfY*(2*float64(j)/float64(k)-1), f.halfY*(2*float64(j+1)/float64(k)-1)
			if f.disc {
				// Cells of a disc: rings and sectors of equal area, as points.
				r := f.halfX * math.Sqrt((float64(i)+0.5)/float64(k))
				s, c := math.Sincos(2 * math.Pi * (float64(j) + 0.5*float64(i%2)) / float64(k))
				sum += f.spotAt(p, n, f.point(r*c, r*s, 0), f.area()/float64(k*k))
				continue
			}
			m := Vec{(x0 + x1) / 2, (y0 + y1) / 2, 0}
			d := q.Sub(m)
			sum += narrowed(d.Z/d.Length(), f.grid) * f.rectAt(q, n, x0, x1, y0, y1)
		}
	}
	if f.disc {
		return sum
	}
	return sum * f.luminance
}

// spotAt is what a small part of the face, of the given area, gives.
func (f *flatFace) spotAt(p, n, s Vec, area float64) float64 {
	d := s.Sub(p)
	d2 := d.Dot(d)
	r := math.Sqrt(d2)
	ci, co := d.Dot(n)/r, -d.Dot(f.z)/r
	if ci <= 0 || co <= 0 {
		return 0
	}
	return f.luminance * narrowed(co, f.grid) * area * ci * co / d2
}

func (f *flatFace) cellwise(p, n Vec) float64 {
	q := f.local(p)
	sum := 0.0
	for i := range f.nx {
		for j := range f.ny {
			x0, x1 := f.halfX*(2*float64(i)/float64(f.nx)-1), f.halfX*(2*float64(i+1)/float64(f.nx)-1)
			y0, y1 := f.halfY*(2*float64(j)/float64(f.ny)-1), f.halfY*(2*float64(j+1)/float64(f.ny)-1)
			sum += f.cells[j*f.nx+i] * f.rectAt(q, n, x0, x1, y0, y1)
		}
	}
	return sum * f.luminance
}

// flatSpots is how many spots stand for a flat face when something may hide
// part of it.
const flatSpots = 32

// spots are spread by the R₂ sequence (Roberts 2018: steps of 1/p and 1/p²,
// p³ = p + 1), which no row of bars falls in step with.
func (f *flatFace) spots() []Vec {
	var out []Vec
	const p = 1.32471795724474602596
	for i := range flatSpots {
		_, u := math.Modf(0.5 + float64(i+1)/p)
		_, v := math.Modf(0.5 + float64(i+1)/(p*p))
		if f.disc {
			r := f.halfX * math.Sqrt(u)
			s, c := math.Sincos(2 * math.Pi * v)
			out = append(out, f.point(r*c, r*s, 0))
			continue
		}
		out = append(out, f.point((2*u-1)*f.halfX, (2*v-1)*f.halfY, 0))
	}
	return out
}

// rectAt is π times the configuration factor of a part x0..x1, y0..y1 of the
// face's rectangle to the plane at q (in the face's axes): Lambert's sum over
// the edges of the polygon above the horizon (Lambert 1760; the form used is
// E = L/2·Σ Γᵢ·n·gᵢ, Γ the angle of an edge seen from p, g the unit normal of
// its triangle with p).
func (f *flatFace) rectAt(q, n Vec, x0, x1, y0, y1 float64) float64 {
	nl := Vec{n.Dot(f.x), n.Dot(f.y), n.Dot(f.z)}
	return polygonFactor(nl,
		Vec{x0 - q.X, y0 - q.Y, -q.Z}, Vec{x1 - q.X, y0 - q.Y, -q.Z},
		Vec{x1 - q.X, y1 - q.Y, -q.Z}, Vec{x0 - q.X, y1 - q.Y, -q.Z})
}

// polygonFactor is the illuminance from a quadrilateral of luminance 1, its
// corners given from the plane's place, on the plane's normal n. The corners
// go round anticlockwise as seen from the lit side.
func polygonFactor(n, a, b, c, d Vec) float64 {
	da, db, dc, dd := a.Dot(n), b.Dot(n), c.Dot(n), d.Dot(n)
	if da >= 0 && db >= 0 && dc >= 0 && dd >= 0 {
		return math.Abs(edge(n, a, b)+edge(n, b, c)+edge(n, c, d)+edge(n, d, a)) / 2
	}
	if da <= 0 && db <= 0 && dc <= 0 && dd <= 0 {
		return 0
	}
	// Cut at the horizon: at most five corners are left.
	var kept [6]Vec
	k := 0
	corner := [4]Vec{a, b, c, d}
	height := [4]float64{da, db, dc, dd}
	for i := range 4 {
		j := (i + 1) & 3
		if height[i] >= 0 {
			kept[k] = corner[i]
			k++
		}
		if (height[i] >= 0) != (height[j] >= 0) {
			t := height[i] / (height[i] - height[j])
			kept[k] = corner[i].Add(corner[j].Sub(corner[i]).Times(t))
			k++
		}
	}
	sum := 0.0
	for i := range k {
		sum += edge(n, kept[i], kept[(i+1)%k])
	}
	return math.Abs(sum) / 2
}

// edge is Γ·n·g of one edge.
func edge(n, a, b Vec) float64 {
	g := a.Cross(b)
	s := g.Length()
	if s < 1e-15 {
		return 0
	}
	return math.Atan2(s, a.Dot(b)) * n.Dot(g) / s
}

// discAt is the illuminance from the even disc of luminance 1. Above the
// horizon its light vector has a closed form: along the axis
// ½π(1 − (h²+r²−R²)/w), across it π·h/(2r)·((h²+r²+R²)/w − 1), with
// w = √((h²+r²+R²)² − 4R²r²) (configuration factors of a disc to parallel and
// perpendicular elements; Howell, A Catalog of Radiation Configuration
// Factors, B-12 and B-13, from memory, held to direct summation by the tests).
// Where the horizon cuts the disc a polygon of the same area is summed.
func (f *flatFace) discAt(p, n, q Vec) float64 {
	r2 := q.X*q.X + q.Y*q.Y
	r := math.Sqrt(r2)
	h := q.Z
	nl := Vec{n.Dot(f.x), n.Dot(f.y), n.Dot(f.z)}
	// The disc's highest and lowest point over the plane: middle ± R·|n across|.
	middle := -q.Dot(nl)
	swing := f.halfX * math.Hypot(nl.X, nl.Y)
	if middle <= -swing {
		return 0
	}
	if middle < swing {
		return f.discCut(q, nl)
	}
	rr := f.halfX * f.halfX
	s := h*h + r2 + rr
	w := math.Sqrt(math.Max(0, s*s-4*rr*r2))
	along := math.Pi / 2 * (1 - (h*h+r2-rr)/w)
	across := 0.0
	if r > 1e-9*f.halfX {
		across = math.Pi * h / (2 * r) * (s/w - 1)
		return math.Max(0, -nl.Z*along-(nl.X*q.X+nl.Y*q.Y)/r*across)
	}
	return math.Max(0, -nl.Z*along)
}

// discCut sums the part of the disc above the horizon as a polygon.
func (f *flatFace) discCut(q, nl Vec) float64 {
	const sides = 48
	// The radius that gives the polygon the disc's area.
	radius := f.halfX * math.Sqrt(2*math.Pi/sides/math.Sin(2*math.Pi/sides))
	sum := 0.0
	var first, last Vec
	started := false
	push := func(v Vec) {
		if started {
			sum += edge(nl, last, v)
		} else {
			first, started = v, true
		}
		last = v
	}
	at := func(i int) Vec {
		s, c := math.Sincos(2 * math.Pi * float64(i) / sides)
		return Vec{radius*c - q.X, radius*s - q.Y, -q.Z}
	}
	a := at(0)
	ha := a.Dot(nl)
	for i := 1; i <= sides; i++ {
		b := at(i)
		hb := b.Dot(nl)
		if ha >= 0 {
			push(a)
		}
		if (ha >= 0) != (hb >= 0) {
			push(a.Add(b.Sub(a).Times(ha / (ha - hb))))
		}
		a, ha = b, hb
	}
	if started {
		sum += edge(nl, last, first)
	}
	return math.Abs(sum) / 2
}
