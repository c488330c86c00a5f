package light

import "math"

// Map is the illuminance over the room at one height, all lamps at their
// levels: on small planes of one direction, a point every Step metres, from
// the corner (0, 0), W points along x and H along y.
type Map struct {
	Step, Z float64
	Normal  Vec
	W, H    int
	Lux     []float32 // row by row
}

// The light that comes by way of the room, and what hides lamps, change
// slowly: they're found on coarser grids and spread between.
const (
	bounceStep = 0.25 // m
	hiddenStep = 0.10 // m
)

// grid is a coarse grid over the room with n values at each point.
type grid struct {
	step float64
	w, h int
	v    [][]float64 // by point
}

func (s *Scene) coarse(step float64, at func(x, y float64) []float64) *grid {
	g := &grid{step: step, w: int(math.Ceil(s.w/step)) + 1, h: int(math.Ceil(s.d/step)) + 1}
	g.v = make([][]float64, g.w*g.h)
	parallel(g.h, func(j int) {
		for i := range g.w {
			// A point on or past a wall is taken just before it.
			x := math.Min(math.Max(float64(i)*step, 1e-3), s.w-1e-3)
			y := math.Min(math.Max(float64(j)*step, 1e-3), s.d-1e-3)
			g.v[j*g.w+i] = at(x, y)
		}
	})
	return g
}

// corners gives the four points round x, y and their weights.
func (g *grid) corners(x, y float64) (p [4][]float64, w [4]float64) {
	u, v := x/g.step, y/g.step
	i, j := min(int(u), g.w-2), min(int(v), g.h-2)
	fu, fv := u-float64(i), v-float64(j)
	k := j*g.w + i
	return [4][]float64{g.v[k], g.v[k+1], g.v[k+g.w], g.v[k+g.w+1]},
		[4]float64{(1 - fu) * (1 - fv), fu * (1 - fv), (1 - fu) * fv, fu * fv}
}

// Isolux maps the room at height z for planes of normal n.
func (s *Scene) Isolux(step, z float64, n Vec) *Map {
	m := &Map{Step: step, Z: z, Normal: n, W: int(s.w/step+1e-9) + 1, H: int(s.d/step+1e-9) + 1}
	m.Lux = make([]float32, m.W*m.H)
	level := make([]float64, len(s.lamps))
	back := make([]float64, len(s.patches)) // exitance of the mix
	for l := range level {
		level[l] = s.Level(l)
		for j, v := range s.exitance[l] {
			back[j] += level[l] * v
		}
	}
	bounced := s.coarse(bounceStep, func(x, y float64) []float64 {
		row := make([]float64, len(s.patches))
		s.factors(Vec{x, y, z}, n, Apart, row)
		raw := append([]float64(nil), row...)
		s.hide(Vec{x, y, z}, row)
		sum := 0.0
		for j, v := range row {
			sum += v * back[j]
		}
		for l, k := range level {
			if k > 0 {
				sum += k * s.unevenly(l, Vec{x, y, z}, n, raw, row)
			}
		}
		return []float64{sum}
	})
	// The subject moves: only things hide here.
	hides := false
	for i := range s.solids {
		hides = hides || !s.solids[i].subject
	}
	var shares *grid
	if hides {
		shares = s.coarse(hiddenStep, func(x, y float64) []float64 {
			p := Vec{x, y, z}
			row := make([]float64, len(s.lamps))
			for l := range row {
				if level[l] > 0 {
					row[l], _ = s.share(l, p, n, seat{body: Apart})
				}
			}
			return row
		})
	}
	direct := make([]*sheet, len(s.lamps))
	parallel(len(s.lamps), func(l int) {
		if level[l] > 0 {
			direct[l] = newSheet(m.W, m.H, func(i, j int) float64 {
				return s.lamps[l].face.at(Vec{float64(i) * step, float64(j) * step, z}, n)
			})
		}
	})
	parallel(m.H, func(j int) {
		y := float64(j) * step
		for i := range m.W {
			x := float64(i) * step
			c, w := bounced.corners(x, y)
			e := c[0][0]*w[0] + c[1][0]*w[1] + c[2][0]*w[2] + c[3][0]*w[3]
			if hides {
				c, w = shares.corners(x, y)
			}
			for l, d := range direct {
				if d == nil {
					continue
				}
				k := level[l]
				if hides {
					k *= c[0][l]*w[0] + c[1][l]*w[1] + c[2][l]*w[2] + c[3][l]*w[3]
				}
				if v := d.v[j*m.W+i]; v > 0 { // NaN: inside a ball
					e += k * v
				}
			}
			m.Lux[j*m.W+i] = float32(e)
		}
	})
	return m
}

// Contour is a line of equal illuminance: places x, y in the room.
type Contour struct {
	Level  float64 // lx
	Points [][2]float64
}

// Contours follows the map's lines at a level (marching squares; a saddle is
// cut by its middle), joined end to end.
func (m *Map) Contours(level float64) []Contour {
	type end struct{ i, j, side int } // the cell edge a line crosses: side 0 from (i,j) to (i+1,j), 1 from (i,j) to (i,j+1)
	at := func(i, j int) float64 { return float64(m.Lux[j*m.W+i]) }
	crossing := func(e end) [2]float64 {
		a, di, dj := at(e.i, e.j), 1-e.side, e.side
		t := (level - a) / (at(e.i+di, e.j+dj) - a)
		return [2]float64{(float64(e.i) + t*float64(di)) * m.Step, (float64(e.j) + t*float64(dj)) * m.Step}
	}
	links := map[end][]end{}
	for j := range m.H - 1 {
		for i := range m.W - 1 {
			a, b, c, d := at(i, j) >= level, at(i+1, j) >= level, at(i+1, j+1) >= level, at(i, j+1) >= level
			var cut []end
			if a != b {
				cut = append(cut, end{i, j, 0})
			}
			if b != c {
				cut = append(cut, end{i + 1, j, 1})
			}
			if c != d {
				cut = append(cut, end{i, j + 1, 0})
			}
			if d != a {
				cut = append(cut, end{i, j, 1})
			}
			pairs := [][2]int{{0, 1}}
			switch len(cut) {
			case 0:
				continue
			case 4:
				pairs = [][2]int{{0, 1}, {2, 3}}
				if middle := (at(i, j) + at(i+1, j) + at(i+1, j+1) + at(i, j+1)) / 4; (middle >= level) != a {
					pairs = [][2]int{{3, 0}, {1, 2}}
				}
			}
			for _, p := range pairs {
				links[cut[p[0]]] = append(links[cut[p[0]]], cut[p[1]])
				links[cut[p[1]]] = append(links[cut[p[1]]], cut[p[0]])
			}
		}
	}
	used := map[end]bool{}
	follow := func(from end) []end {
		out := []end{from}
		used[from] = true
		for {
			next, ok := end{}, false
			for _, e := range links[out[len(out)-1]] {
				if !used[e] {
					next, ok = e, true
					break
				}
			}
			if !ok {
				return out
			}
			used[next] = true
			out = append(out, next)
		}
	}
	var out []Contour
	trace := func(i, j, side int) {
		e := end{i, j, side}
		if len(links[e]) == 0 || used[e] {
			return
		}
		line := follow(e)
		closed := false
		// Back the other way from where it began.
		used[e] = false
		other := follow(e)
		for k := range len(other) - 1 {
			line = append([]end{other[k+1]}, line...)
		}
		for _, n := range links[line[len(line)-1]] {
			closed = closed || n == line[0] && len(line) > 2
		}
		c := Contour{Level: level}
		for _, p := range line {
			c.Points = append(c.Points, crossing(p))
		}
		if closed {
			c.Points = append(c.Points, c.Points[0])
		}
		out = append(out, c)
	}
	// In the map's order, so that a drawing is the same each time.
	for j := range m.H {
		for i := range m.W {
			trace(i, j, 0)
			trace(i, j, 1)
		}
	}
	return out
}
