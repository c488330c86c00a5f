package gauge

import (
	"fmt"
	"math"
)

// Handled watches whether the picture stays where it is: a stabiliser that
// wanders on a tripod, a tripod that gives way, a hand. The picture is parted
// into tiles; each tells by how much it moved (Lucas & Kanade 1981, with the
// light's gain and offset fitted along), and what the middle of them says
// counts: somebody who moves covers some tiles only.
type Handled struct {
	w, h   int
	ref    []float32
	now    []float32
	rows   []float32
	base   [2]float64 // samples; where the reference stood
	frames int
	lost   int
	over   *series // x, y, in pixels of the clip
}

const (
	// HandlingLimit is by how many pixels the picture must wander before it is told.
	HandlingLimit = 0.5

	tilesAcross, tilesDown = 8, 5
	fewestTiles            = 8
	tileStructure          = 4.0 // squared gradient, in 10-bit codes, that a tile needs in the mean
	reachTrusted           = 0.5 // samples; farther, the reference is taken anew
	reachMost              = 2.0 // samples from one look to the next; more is another picture
	handlingError          = 0.2 // pixels
	handlingPart           = 0.15
	handlingBins           = 1024
)

// Add looks at a frame.
func (k *Handled) Add(v *View) {
	if k.w != v.W || k.h != v.H {
		n := len(v.Mean)
		*k = Handled{w: v.W, h: v.H, ref: make([]float32, n), now: make([]float32, n), rows: make([]float32, n), over: newSeries(2, handlingBins)}
		k.soften(v.Mean)
		copy(k.ref, k.now)
	} else {
		k.soften(v.Mean)
	}
	k.frames++
	d, ok := k.shift(v)
	if !ok {
		k.lost++
		return
	}
	at := [2]float64{k.base[0] + d[0], k.base[1] + d[1]}
	k.over.add(v.Time, at[0]*float64(v.Step), at[1]*float64(v.Step))
	if math.Hypot(d[0], d[1]) > reachTrusted {
		k.base = at
		copy(k.ref, k.now)
	}
}

// soften blurs the picture into now by 1 4 6 4 1 each way: a straight line
// stands for an edge only where it is wider than the movement.
func (k *Handled) soften(in []float32) {
	blur := func(out, in []float32, stride int) {
		edge := 2 * stride
		copy(out[:edge], in[:edge])
		copy(out[len(out)-edge:], in[len(in)-edge:])
		for i := edge; i < len(in)-edge; i++ {
			out[i] = (in[i-2*stride] + in[i+2*stride] + 4*(in[i-stride]+in[i+stride]) + 6*in[i]) * (1.0 / 16)
		}
	}
	if len(in) < 8*k.w {
		copy(k.now, in)
		return
	}
	blur(k.rows, in, 1)
	blur(k.now, k.rows, k.w)
}

// shift is how far the picture lies from the reference, in samples, right and down.
func (k *Handled) shift(v *View) (d [2]float64, ok bool) {
	unit10 := 1024 / float64(int(1)<<v.Bits)
	var dx, dy []float64
	for ty := range tilesDown {
		for tx := range tilesAcross {
			x0, x1 := max(3, tx*v.W/tilesAcross), min(v.W-3, (tx+1)*v.W/tilesAcross)
			y0, y1 := max(3, ty*v.H/tilesDown), min(v.H-3, (ty+1)*v.H/tilesDown)
			if x, y, ok := k.tile(v, x0, y0, x1, y1, unit10); ok {
				dx, dy = append(dx, x), append(dy, y)
			}
		}
	}
	if len(dx) < fewestTiles {
		return d, false
	}
	d = [2]float64{median(dx), median(dy)}
	return d, math.Hypot(d[0], d[1]) <= reachMost
}

// tile solves now − ref = −dx·∂x − dy·∂y + gain·ref + offset over a tile.
func (k *Handled) tile(v *View, x0, y0, x1, y1 int, unit10 float64) (dx, dy float64, ok bool) {
	var a [4][5]float64
	n := 0.0
	for y := y0; y < y1; y += 2 {
		row := y * v.W
		for x := x0; x < x1; x++ {
			i := row + x
			r, now := k.ref[i], k.now[i]
			// Gradients of both, so that the fit is right to second order.
			gx := float64(k.ref[i+1]-k.ref[i-1]+k.now[i+1]-k.now[i-1]) / 4 * unit10
			gy := float64(k.ref[i+v.W]-k.ref[i-v.W]+k.now[i+v.W]-k.now[i-v.W]) / 4 * unit10
			s, e := float64(r)*unit10, float64(now-r)*unit10
			f := [4]float64{-gx, -gy, s / 512, 1}
			for p := range 4 {
				for q := p; q < 4; q++ {
					a[p][q] += f[p] * f[q]
				}
				a[p][4] += f[p] * e
			}
			n++
		}
	}
	if n == 0 || a[0][0] < tileStructure*n || a[1][1] < tileStructure*n {
		return 0, 0, false
	}
	for p := range 4 {
		for q := range p {
			a[p][q] = a[q][p]
		}
		a[p][p] *= 1 + 1e-9
	}
	for p := range 4 {
		if a[p][p] <= 1e-12*n {
			return 0, 0, false
		}
		for q := p + 1; q < 4; q++ {
			f := a[q][p] / a[p][p]
			for c := p; c < 5; c++ {
				a[q][c] -= f * a[p][c]
			}
		}
	}
	var out [4]float64
	for p := 3; p >= 0; p-- {
		out[p] = a[p][4]
		for q := p + 1; q < 4; q++ {
			out[p] -= a[p][q] * out[q]
		}
		out[p] /= a[p][p]
	}
	return out[0], out[1], true
}

// Handling is what Handled found.
type Handling struct {
	Frames int `json:"frames"`
	// Reach is the farthest from the first place, in pixels; nil where the
	// picture has too little structure to tell.
	Reach    *float64  `json:"reach"`
	X        []Moment  `json:"x,omitempty"` // over time, pixels to the right
	Y        []Moment  `json:"y,omitempty"` // and down
	Problems []Problem `json:"problems,omitempty"`
	Notes    []string  `json:"notes,omitempty"`
}

// Result tells.
func (k *Handled) Result() Handling {
	out := Handling{Frames: k.frames}
	if k.over == nil || 2*k.lost > k.frames {
		out.Notes = append(out.Notes, "too little structure in the picture, or too many cuts, to tell whether it stays where it is")
		return out
	}
	out.X, out.Y = k.over.moments(0), k.over.moments(1)
	if len(out.X) < 2 {
		out.X, out.Y = nil, nil
		return out
	}
	x0, y0 := out.X[0].Mean, out.Y[0].Mean
	reach, turns, last, way := 0.0, 0, 0.0, 0.0
	from, to := 0.0, 0.0
	for i := range out.X {
		dx, dy := out.X[i].Mean-x0, out.Y[i].Mean-y0
		if r := math.Hypot(dx, dy); r > reach {
			reach, to = r, out.X[i].To
		}
		if from == 0 && math.Hypot(dx, dy) > HandlingLimit {
			from = out.X[i].From
		}
		// Turns back and forth tell a shake from a drift.
		step := dx + dy - last
		if math.Abs(step) > HandlingLimit/2 {
			if way*step < 0 {
				turns++
			}
			way, last = step, dx+dy
		}
	}
	out.Reach = &reach
	if reach < thresholdFactor*HandlingLimit {
		return out
	}
	p := Problem{
		Kind: "handling-drift", What: fmt.Sprintf("the picture wanders by %.1f pixels", reach), Size: reach, Error: handlingError + handlingPart*reach, Unit: "pixels", From: from, To: to, Severity: Note,
		Advice: "switch the stabiliser off on a tripod and lock the head; if the camera is moved on purpose, say so once: --intended moving",
	}
	const shake = 3
	if turns >= shake {
		p.Kind, p.What = "handling-shake", fmt.Sprintf("the picture shakes or wanders by up to %.1f pixels", reach)
	}
	// Common practice, no source: from two pixels on lamp pictures and mattes miss their edges.
	if reach >= 2 {
		p.Severity = Warn
	}
	out.Problems = append(out.Problems, p)
	return out
}
