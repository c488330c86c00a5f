package lamps

import (
	"math"
	"math/bits"
	"slices"
)

// contrast is a difference of two channels of one source.
type contrast struct{ source, plus, minus int }

// explainColour finds the camera's white balance, unless that is held, and the
// lamps whose colour moved.
func (e *explanation) explainColour(src []source, cov []float64, habit Habit, held bool) {
	m := 3 * len(src)
	var rows []contrast
	for i, s := range src {
		if s.ambient {
			continue // daylight's colour follows the weather
		}
		switch {
		case s.use[1]:
			for _, c := range []int{0, 2} {
				if s.use[c] {
					rows = append(rows, contrast{i, c, 1})
				}
			}
		case s.use[0] && s.use[2]:
			rows = append(rows, contrast{i, 0, 2})
		}
	}
	n := len(rows)
	if n == 0 {
		return
	}
	at := func(r contrast, k int) float64 { // coefficient of stop k in the contrast
		switch k {
		case 3*r.source + r.plus:
			return 1
		case 3*r.source + r.minus:
			return -1
		}
		return 0
	}
	v := make([]float64, n)
	base := make([]float64, n*n)
	for i, r := range rows {
		v[i] = src[r.source].stops[r.plus] - src[r.source].stops[r.minus]
		for j, q := range rows {
			for _, a := range []int{3*r.source + r.plus, 3*r.source + r.minus} {
				for _, b := range []int{3*q.source + q.plus, 3*q.source + q.minus} {
					base[i*n+j] += at(r, a) * at(q, b) * cov[a*m+b]
				}
			}
		}
		base[i*n+i] += float64(habit.Colour) * float64(habit.Colour)
	}
	// White balance acts on a contrast as the difference of its channels' stops.
	balance := func(r contrast) [2]float64 { // of (red, blue) against green
		var b [2]float64
		add := func(c int, s float64) {
			switch c {
			case 0:
				b[0] += s
			case 2:
				b[1] += s
			}
		}
		add(r.plus, 1)
		add(r.minus, -1)
		return b
	}
	lampBits := uint32(0)
	for _, r := range rows {
		lampBits |= 1 << r.source
	}
	type hypothesis struct {
		moved uint32
		wb    bool
		log   float64
	}
	var all []hypothesis
	k := make([]float64, n*n)
	evaluate := func(moved uint32, wb bool) float64 {
		copy(k, base)
		for i, r := range rows {
			bi := balance(r)
			for j, q := range rows {
				if r.source == q.source && moved>>r.source&1 == 1 {
					same := 0.5 // the two contrasts of a source share green
					if i == j {
						same = 1
					}
					k[i*n+j] += same * colourSize * colourSize
				}
				if wb {
					bj := balance(q)
					k[i*n+j] += balanceSize * balanceSize * (bi[0]*bj[0] + bi[1]*bj[1])
				}
			}
		}
		return logNormal(k, v, n)
	}
	prior := func(p float64, yes int, of int) float64 {
		return float64(yes)*math.Log(p) + float64(of-yes)*math.Log1p(-p)
	}
	lamps := bits.OnesCount32(lampBits)
	for moved := range uint32(1) << len(src) {
		if moved&^lampBits != 0 || bits.OnesCount32(moved) > mostChanged {
			continue
		}
		for _, wb := range []bool{false, true} {
			if wb && held {
				continue
			}
			l := evaluate(moved, wb) + prior(believeColourMoves, bits.OnesCount32(moved), lamps)
			if wb {
				l += math.Log(believeBalance)
			} else {
				l += math.Log1p(-believeBalance)
			}
			all = append(all, hypothesis{moved, wb, l})
		}
	}
	best := slices.MaxFunc(all, func(a, b hypothesis) int { return compare(a.log, b.log) })
	e.balanceChanged = best.wb
	if best.wb {
		// Generalised least squares of (red, blue) over the lamps that kept theirs.
		copy(k, base)
		for i, r := range rows {
			for j, q := range rows {
				if r.source == q.source && best.moved>>r.source&1 == 1 {
					k[i*n+j] += 1e3 * boolTo(i == j)
				}
			}
		}
		a := make([]float64, 2*n)
		for i, r := range rows {
			b := balance(r)
			a[2*i], a[2*i+1] = b[0], b[1]
		}
		x, xc, ok := generalised(k, a, v, n, 2)
		if ok {
			e.balance[0], e.balance[2] = x[0], x[1]
			e.balanceError[0], e.balanceError[2] = math.Sqrt(xc[0]), math.Sqrt(xc[3])
		} else {
			e.balanceChanged = false
		}
	}
	for i, r := range rows {
		b := balance(r)
		left := v[i] - b[0]*e.balance[0] - b[1]*e.balance[2]
		e.colour[r.source][r.plus] = left
		e.colourError[r.source][r.plus] = math.Sqrt(base[i*n+i] + b[0]*b[0]*sq(e.balanceError[0]) + b[1]*b[1]*sq(e.balanceError[2]))
		e.colourMoved[r.source] = best.moved>>r.source&1 == 1
	}
}
