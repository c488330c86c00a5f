package job

import (
	"math"
	"runtime"
	"sync"

	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
)

// blockSide and blockStep choose what is compared of a frame: means over
// squares of blockSide pixels, one square in each blockStep pixels across and
// down. A codec's noise and the dither average out in a square; a wrong
// colour doesn't.
const (
	blockSide = 16
	blockStep = 32
)

// difference gathers CIEDE2000 between two pictures' squares.
type difference struct {
	n        int
	sum, max float64
}

func (d *difference) add(de float64) {
	d.n++
	d.sum += de
	d.max = math.Max(d.max, de)
}

func (d *difference) mean() float64 {
	if d.n == 0 {
		return 0
	}
	return d.sum / float64(d.n)
}

func (d *difference) merge(o difference) {
	d.n, d.sum, d.max = d.n+o.n, d.sum+o.sum, math.Max(d.max, o.max)
}

// exactFrame is the finished picture of a frame by the exact path, before it
// is dithered and rounded to codes: display signal.
func exactFrame(path *grade.Path, program *picture.Program, in *picture.Frame) func(x, y int) [3]float64 {
	return func(x, y int) [3]float64 {
		v := path.Exact(program.Input.Signal(in.RGB(x, y)))
		if program.Vignette != nil {
			g := program.Vignette.SignalGain(x, y, in.Width, in.Height)
			for i := range v {
				v[i] *= g
			}
		}
		if program.Output.Limiter == picture.LimiterRGB {
			for i := range v {
				v[i] = min(1, max(0, v[i]))
			}
		}
		return v
	}
}

// squares returns the mean light of each compared square as CIELAB, rows first.
func squares(w, h int, at func(x, y int) [3]float64) [][3]float64 {
	across, down := squareCount(w), squareCount(h)
	labs := make([][3]float64, across*down)
	parallel(down, func(j int) {
		for i := range across {
			labs[j*across+i] = squareLab(i*blockStep, j*blockStep, min(blockSide, w), min(blockSide, h), at)
		}
	})
	return labs
}

func squareCount(side int) int { return max(1, (side-blockSide)/blockStep+1) }

func squareLab(x0, y0, w, h int, at func(x, y int) [3]float64) [3]float64 {
	var sum [3]float64
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			for i, v := range at(x, y) {
				sum[i] += colour.BT1886.Decode(max(0, v))
			}
		}
	}
	var signal colour.RGB
	for i, s := range sum {
		signal[i] = colour.BT1886.Encode(s / float64(w*h))
	}
	return colour.DisplayLab(signal)
}

// compare gathers the difference of two frames' squares.
func compare(a, b [][3]float64) difference {
	var d difference
	for i := range a {
		d.add(colour.DeltaE2000(a[i], b[i]))
	}
	return d
}

// parallel calls f for 0..n-1 on all cores.
func parallel(n int, f func(i int)) {
	var wg sync.WaitGroup
	workers := min(n, runtime.GOMAXPROCS(0))
	for k := range workers {
		wg.Go(func() {
			for i := k; i < n; i += workers {
				f(i)
			}
		})
	}
	wg.Wait()
}
