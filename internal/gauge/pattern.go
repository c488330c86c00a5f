package gauge

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"
)

// pattern looks for regular stripes that can harm photosensitive viewers, in
// the manner of ITU-R BT.1702: more than five pairs of light and dark, clearly
// seen, over more than 40 % of the picture, or over more than a quarter where
// they move or reverse. It sees straight, even stripes and rows of like things,
// in any direction; rings, rays and stripes in perspective it doesn't.
//
// Every patternEvery a picture's luminance is taken apart into waves. Each of
// the few that stand out most is followed over the picture: where it makes up
// most of what changes there, and by more than patternChange, there are stripes.
type pattern struct {
	w, h, step   int
	side         int       // places of the transform
	now, before  []float64 // cd/m² of cells
	spectrum     []complex128
	mean, square []float64
	row          []float64
	last         float64
	looked       int
	found        []patternSeen // in a row, up to now
	worst        patternSeen
	from, to     float64
	any          bool
}

// patternSeen is a pattern in one picture.
type patternSeen struct {
	at         float64 // s
	pairs      float64
	area       float64
	difference float64 // cd/m² from dark to light
	moves      bool
	power      float64 // of the wave, over where it makes stripes
}

// The stripes' figures are those of the recommendation (from memory), the
// luminance and the time are of A. Wilkins, J. Emmett, G. Harding 2005,
// "Characterizing the Patterned Images That Precipitate Seizures and Optimizing
// Guidelines To Prevent Them", Epilepsia 46(8), abstract.
const (
	patternPairs    = 5
	patternStill    = 0.40
	patternMoving   = 0.25
	patternChange   = 20.0    // cd/m² from dark to light
	patternLight    = 50.0    // cd/m² of the light stripes
	patternLong     = 0.5     // s
	patternEvery    = 0.12    // s; ours
	patternSide     = 256     // cells at most, and places of the transform
	patternWaves    = 3       // that are followed; ours
	patternOwn      = 0.4     // part of the change about a cell that is the wave's own; ours
	patternFaded    = 0.1     // of a wave's power at the picture's border; ours
	patternFinest   = 1.0 / 3 // cycles a cell; ours
	patternWindow   = 1.5     // periods about a cell, twice over; ours
	patternSteady   = math.Pi / 8
	patternRelative = 0.25 // error of the difference: squares and sines of one size differ so
)

func (k *pattern) start(w, h int) {
	step := (max(w, h) + patternSide - 1) / patternSide
	*k = pattern{step: step, w: w / step, h: h / step, last: math.Inf(-1)}
	n := k.w * k.h
	k.now, k.before, k.mean, k.square = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for k.side = 32; k.side < max(k.w, k.h); {
		k.side *= 2
	}
	k.spectrum = make([]complex128, k.side*k.side)
	k.row = make([]float64, max(k.w, k.h))
}

// wants says whether the picture at a time is one to look at.
func (k *pattern) wants(t float64) bool { return t-k.last >= patternEvery || t < k.last }

// add looks at a picture: luminance gives the cd/m² of a View's sample.
func (k *pattern) add(t float64, w int, luminance func(at int) float64) {
	k.now, k.before = k.before, k.now
	k.last = t
	area := float64(k.step * k.step)
	for y := range k.h {
		for x := range k.w {
			sum := 0.0
			for yy := y * k.step; yy < (y+1)*k.step; yy++ {
				for xx := x * k.step; xx < (x+1)*k.step; xx++ {
					sum += luminance(yy*w + xx)
				}
			}
			k.now[y*k.w+x] = sum / area
		}
	}
	k.looked++
	seen := patternSeen{at: t}
	for _, f := range k.strongest() {
		if s := k.follow(f); s.power > seen.power {
			s.at = t
			seen = s
		}
	}
	if !seen.counts() {
		k.found = k.found[:0]
		return
	}
	k.found = append(k.found, seen)
	if t-k.found[0].at < patternLong {
		return
	}
	if !k.any {
		k.any, k.from = true, k.found[0].at
	}
	k.to = t
	// The picture in the middle of what was seen stands for it.
	all := slices.Clone(k.found)
	slices.SortFunc(all, func(a, b patternSeen) int { return cmp.Compare(a.pairs, b.pairs) })
	if s := all[len(all)/2]; s.area > k.worst.area {
		k.worst = s
	}
	k.worst.moves = k.worst.moves || seen.moves
}

func (s patternSeen) counts() bool {
	// Half a pair more, so that five and a fraction are five.
	return s.pairs > patternPairs+0.5 && (s.area > patternStill || s.moves && s.area > patternMoving)
}

// strongest gives the waves that stand out most, in cycles a cell.
func (k *pattern) strongest() [][2]float64 {
	clear(k.spectrum)
	mean := 0.0
	for _, v := range k.now {
		mean += v
	}
	mean /= float64(len(k.now))
	for y := range k.h {
		// Fading to the borders, so that these make no waves of their own.
		down := math.Sin(math.Pi * (float64(y) + 0.5) / float64(k.h))
		for x := range k.w {
			fade := down * math.Sin(math.Pi*(float64(x)+0.5)/float64(k.w))
			k.spectrum[y*k.side+x] = complex((k.now[y*k.w+x]-mean)*fade, 0)
		}
	}
	half := k.side / 2
	transform2(k.spectrum, k.side, k.h, half+1)
	type peak struct {
		fx, fy, power float64
	}
	var peaks []peak
	power := func(x, y int) float64 {
		if x < 0 { // a real picture's other half is the same
			x, y = -x, -y
		}
		v := k.spectrum[(y&(k.side-1))*k.side+x]
		return real(v)*real(v) + imag(v)*imag(v)
	}
	// No wave of the least stripes over the least area is weaker, faded as they may be.
	least := patternChange / math.Pi * patternMoving * patternFaded * float64(len(k.now))
	for y := -half; y < half; y++ {
		for x := range half {
			fx, fy := float64(x)/float64(k.side), float64(y)/float64(k.side)
			if fx*float64(k.w)+math.Abs(fy)*float64(k.h) <= patternPairs || fx*fx+fy*fy > patternFinest*patternFinest {
				continue
			}
			p := power(x, y)
			if p < least*least || p < power(x-1, y) || p < power(x+1, y) || p < power(x, y-1) || p < power(x, y+1) {
				continue
			}
			// Pictures have more of slow waves than of fast ones by themselves.
			peaks = append(peaks, peak{fx, fy, p * (fx*fx + fy*fy)})
		}
	}
	slices.SortFunc(peaks, func(a, b peak) int { return cmp.Compare(b.power, a.power) })
	var out [][2]float64
	for _, p := range peaks[:min(patternWaves, len(peaks))] {
		out = append(out, [2]float64{p.fx, p.fy})
	}
	return out
}

// follow finds where a wave makes stripes.
func (k *pattern) follow(f [2]float64) patternSeen {
	period := 1 / math.Hypot(f[0], f[1])
	side := max(3, int(math.Round(patternWindow*period)))
	wave := k.demodulate(k.now, f, side)
	for i, v := range k.now {
		d := v - k.mean[i]
		k.square[i] = d * d
	}
	for range 2 {
		boxes2(k.square, k.w, k.h, side, k.row)
	}
	n, power, difference := 0, 0.0, 0.0
	var along []float64
	length := math.Hypot(f[0], f[1])
	on := make([]bool, len(wave))
	for i, c := range wave {
		a := 2 * cmplx.Abs(c)
		own := a * a / 2 / max(k.square[i], 1e-9)
		d := a * stripeOfWave(own)
		if d < patternChange || own < patternOwn || k.mean[i]+d/2 < patternLight {
			continue
		}
		power += a * a
		on[i] = true
		n++
		difference += d
		along = append(along, (f[0]*float64(i%k.w)+f[1]*float64(i/k.w))/length)
	}
	s := patternSeen{area: float64(n) / float64(len(wave)), power: power}
	if s.area <= patternMoving {
		return s
	}
	s.difference = difference / float64(n)
	// From the first stripe to the last, but for strays.
	slices.Sort(along)
	const stray = 0.005
	s.pairs = (along[int(float64(n)*(1-stray))] - along[int(float64(n)*stray)] + 1) * length
	if k.looked > 1 {
		before := k.demodulate(k.before, f, side)
		var turn complex128
		for i, is := range on {
			if is {
				turn += wave[i] * cmplx.Conj(before[i])
			}
		}
		s.moves = math.Abs(cmplx.Phase(turn)) > patternSteady
	}
	return s
}

// stripeOfWave is dark to light over the wave's amplitude: of square stripes,
// 8/π² of whose power is the wave's, up to that of sines, of which all is.
func stripeOfWave(own float64) float64 {
	const square, sine, part = math.Pi / 2, 2.0, 8 / (math.Pi * math.Pi)
	return square + (sine-square)*min(max((own-part)/(1-part), 0), 1)
}

// demodulate is what is left of a wave about each cell: half its amplitude, and
// its phase. Slower changes are taken out first; they are left in mean.
func (k *pattern) demodulate(from []float64, f [2]float64, side int) []complex128 {
	n := len(from)
	copy(k.mean, from)
	for range 2 {
		boxes2(k.mean, k.w, k.h, side, k.row)
	}
	re, im := make([]float64, n), make([]float64, n)
	for y := range k.h {
		turn := cmplx.Rect(1, -2*math.Pi*f[1]*float64(y))
		each := cmplx.Rect(1, -2*math.Pi*f[0])
		for x := range k.w {
			v := from[y*k.w+x] - k.mean[y*k.w+x]
			re[y*k.w+x], im[y*k.w+x] = v*real(turn), v*imag(turn)
			turn *= each
		}
	}
	out := make([]complex128, n)
	for range 2 {
		boxes2(re, k.w, k.h, side, k.row)
		boxes2(im, k.w, k.h, side, k.row)
	}
	for i := range out {
		out[i] = complex(re[i], im[i])
	}
	return out
}

// boxes2 averages over side cells along both directions; at the borders over
// those that there are.
func boxes2(v []float64, w, h, side int, row []float64) {
	line := func(from, stride, n int) {
		sum, count := 0.0, 0
		half := side / 2
		for i := range min(half+side%2, n) {
			sum += v[from+i*stride]
			count++
		}
		for i := range n {
			row[i] = sum / float64(count)
			if j := i + half + side%2; j < n {
				sum += v[from+j*stride]
				count++
			}
			if j := i - half; j >= 0 {
				sum -= v[from+j*stride]
				count--
			}
		}
		for i := range n {
			v[from+i*stride] = row[i]
		}
	}
	for y := range h {
		line(y*w, 1, w)
	}
	for x := range w {
		line(x, w, h)
	}
}

// transform2 is the discrete Fourier transform of a square of side n, a power of
// two, whose first rows alone are filled and whose first columns alone are wanted.
func transform2(v []complex128, n, rows, columns int) {
	for y := range rows {
		transform(v[y*n : (y+1)*n])
	}
	column := make([]complex128, n)
	for x := range columns {
		for y := range n {
			column[y] = v[y*n+x]
		}
		transform(column)
		for y := range n {
			v[y*n+x] = column[y]
		}
	}
}

// transform is that of a row, in place.
//
// Source: J. W. Cooley, J. W. Tukey 1965, "An Algorithm for the Machine Calculation of Complex Fourier Series", Mathematics of Computation 19
func transform(v []complex128) {
	n := len(v)
	for i, j := 1, 0; i < n; i++ {
		bit := n >> 1
		for ; j&bit != 0; bit >>= 1 {
			j ^= bit
		}
		j ^= bit
		if i < j {
			v[i], v[j] = v[j], v[i]
		}
	}
	for size := 2; size <= n; size *= 2 {
		half := size / 2
		turn, each := complex(1, 0), cmplx.Rect(1, -2*math.Pi/float64(size))
		for k := range half {
			for i := k; i < n; i += size {
				a, b := v[i], v[i+half]*turn
				v[i], v[i+half] = a+b, a-b
			}
			turn *= each
		}
	}
}
