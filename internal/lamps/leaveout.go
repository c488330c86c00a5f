package lamps

import "sync"

// What spoils bins spoils whole stretches of the picture, and the biweight,
// once settled, vouches for what it settled on. So the fit is tried again
// without each of a few tiles of the picture: where a lamp's level hangs on one
// of them it moves, and its error is widened to the delete-a-group jackknife's
// (Efron and Tibshirani, An Introduction to the Bootstrap, 1993, section 11.5).
const (
	tilesAcross = 4
	tilesDown   = 3
	leaveRounds = 6
	// leaveSettled ends the rounds when no weight moves by more than a fiftieth
	// of its error (moved counts tenths): the shift looked for is in errors.
	leaveSettled = 0.2
)

// leaveOut widens cov by the jackknife over tiles.
func (f *robustFit) leaveOut() {
	const tiles = tilesAcross * tilesDown
	shift := make([][]float64, tiles)
	var wait sync.WaitGroup
	for t := range tiles {
		wait.Go(func() { shift[t] = f.without(t) })
	}
	wait.Wait()
	m := 3 * f.k
	v := make([]float64, m*m)
	for _, d := range shift {
		for a, x := range d {
			for b, y := range d {
				v[a*m+b] += x * y * float64(tiles-1) / tiles
			}
		}
	}
	f.widen(v)
}

// without gives how β moves when a tile is left out; nil when too little is left.
func (f *robustFit) without(tile int) []float64 {
	g := *f
	g.left = make([]bool, f.n)
	g.scratch = nil
	g.weight = make([]float64, f.n)
	g.norm = make([]float64, f.n)
	for c := range 3 {
		g.beta[c] = append([]float64{}, f.beta[c]...)
		g.sd[c] = append([]float64{}, f.sd[c]...)
	}
	n := 0
	for i, p := range f.place {
		x, y := p%f.gridW*tilesAcross/f.gridW, p/f.gridW*tilesDown/f.gridH
		g.left[i] = y*tilesAcross+x == tile || f.left != nil && f.left[i]
		if !g.left[i] {
			n++
		}
	}
	if n < fewestBins || n == f.n {
		return nil
	}
	for range leaveRounds {
		g.show()
		g.measure(g.residuals())
		g.weigh()
		last := g.beta
		if !g.step() {
			return nil
		}
		if g.moved(last) < leaveSettled {
			break
		}
	}
	out := make([]float64, 0, 3*f.k)
	for c := range 3 {
		for j := range f.k {
			out = append(out, g.beta[c][j]-f.beta[c][j])
		}
	}
	return out
}
