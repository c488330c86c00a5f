package light

import "math"

// litpatch.go finds a lamp's own light on the room's patches. Near a lamp it
// falls off across a patch: a tube under its hood lights a strip of it. What a
// place sees of such a patch hangs on which part of it faces there.

// finely is how finely a patch is cut to find lamp l's light on it: into quarters,
// and finer where the lamp is nearer than the patch's size.
func (s *Scene) finely(l int, a *patch) int {
	near := math.Inf(1)
	for _, q := range s.lamps[l].spots {
		d := q.Sub(a.at)
		near = math.Min(near, d.Dot(d))
	}
	size := 2 * math.Max(a.flat.halfX, a.flat.halfY)
	if near > size*size {
		return 2
	}
	return min(finest, int(math.Ceil(2*size/math.Sqrt(near))))
}

// finest bounds finely.
const finest = 8

// cell is the middle of a patch's cell u, v of k × k, in the patch's axes, and
// half its sizes.
func (a *patch) cell(u, v, k int) (x, y, hx, hy float64) {
	f := float64(k)
	return a.flat.halfX * (2*(float64(u)+0.5)/f - 1), a.flat.halfY * (2*(float64(v)+0.5)/f - 1), a.flat.halfX / f, a.flat.halfY / f
}

// litPatch is lamp l's direct light on a patch at full level, in the mean; and by
// its cells where they differ, nil where they needn't be told apart.
func (s *Scene) litPatch(l int, a *patch) (mean float64, cells []float64) {
	spot := func(u, v, k int) Vec {
		x, y, _, _ := a.cell(u, v, k)
		return a.at.Add(a.flat.x.Times(x)).Add(a.flat.y.Times(y))
	}
	k := s.finely(l, a)
	if k > 2 {
		faces := false
		for i := range 4 {
			faces = faces || s.lamps[l].face.at(spot(i/2, i%2, 2), a.n) > 0
		}
		if !faces {
			k = 2 // a window's own wall, a lamp's back
		}
	}
	cells = make([]float64, k*k)
	for i := range cells {
		cells[i] = s.direct(l, spot(i/k, i%k, k), a.n, Whole, Vec{})
		mean += cells[i] / float64(k*k)
	}
	if k == 2 {
		cells = nil
	}
	return mean, cells
}

// keepFlux scales what a lamp's light gives the patches so that their sum is
// no more than the lamp's own flux: a narrow beam or a near lamp is sampled
// badly by the middles of a few patches. A lamp in the open room loses no light.
func (s *Scene) keepFlux(l int) {
	sum := 0.0
	for i, e := range s.lit[l] {
		sum += e * s.patches[i].area
	}
	if !(sum > 0) {
		return
	}
	k := s.lamps[l].face.flux() / sum
	for i := range s.lit[l] {
		s.lit[l][i] *= k
		for j := range s.uneven[l][i] {
			s.uneven[l][i][j] *= k
		}
	}
}

// unevenly is what a plane at p, n gets more of lamp l, by way of patches that it
// lights unevenly, than if they were lit evenly; raw is what it sees of each patch,
// row the same past the lamps' bodies, which hide their own brightest spot on a wall.
func (s *Scene) unevenly(l int, p, n Vec, raw, row []float64) float64 {
	more := 0.0
	for j, cells := range s.uneven[l] {
		if cells == nil || raw[j] == 0 {
			continue
		}
		b := &s.patches[j]
		q := b.flat.local(p)
		k := int(math.Sqrt(float64(len(cells))))
		sum, weighed := 0.0, 0.0
		for u := range k {
			for v := range k {
				x, y, hx, hy := b.cell(u, v, k)
				c := b.at.Add(b.flat.x.Times(x)).Add(b.flat.y.Times(y))
				d := c.Sub(p)
				d2 := d.Dot(d)
				var f float64
				if d2 < 9*(hx*hx+hy*hy) {
					f = b.flat.rectAt(q, n, x-hx, x+hx, y-hy, y+hy)
				} else if a, o := d.Dot(n), -d.Dot(b.n); a > 0 && o > 0 {
					f = a * o / (d2 * d2) * 4 * hx * hy // so small from there that its middle will do
				}
				sum += f
				if f > 0 && !s.behindLamp(p, c) {
					weighed += f * cells[u*k+v]
				}
			}
		}
		if sum > 0 {
			more += b.reflectance * (raw[j]*weighed/sum - row[j]*s.lit[l][j])
		}
	}
	return more
}
