package lamps

import (
	"math"
	"slices"
)

// A frame's signature: the light of a coarse grid of cells, and the picture's
// mean colour, each through a square root, which makes photon noise about the
// same at every level.
const (
	cellsAcross   = 12
	cellsDown     = 7
	signatureSize = cellsAcross*cellsDown + 2
	// rootFloor keeps the root's slope finite at black; about the light at
	// which reading noise and photon noise are equal.
	rootFloor = 0.002
)

// SignatureStep is the distance of the rows of a picture of h rows that its
// signature is made of: of a large picture not each is needed.
func SignatureStep(h int) int { return max(1, h/signatureRows) }

const signatureRows = 135

// signature of a picture, and its mean light, which isn't finite where a sample
// of it isn't.
func signature(l *Light) (s []float64, mean float64) {
	s = make([]float64, signatureSize)
	var count [cellsAcross * cellsDown]float64
	var colour [3]float64
	w, h := l.W, l.H
	rows := 0.0
	for y := 0; y < h; y += SignatureStep(h) {
		rows++
		row := y * cellsDown / h * cellsAcross
		for i := range cellsAcross {
			from, to := (i*w+cellsAcross-1)/cellsAcross, ((i+1)*w+cellsAcross-1)/cellsAcross
			r, g, b := rgbSum(l.Pix[3*(y*w+from) : 3*(y*w+to)])
			s[row+i] += (r + 2*g + b) / 4
			count[row+i] += float64(to - from)
			colour[0] += r
			colour[1] += g
			colour[2] += b
		}
	}
	for c, n := range count {
		mean += s[c]
		s[c] = math.Sqrt(max(s[c]/n, 0) + rootFloor)
	}
	n := rows * float64(w)
	g := math.Sqrt(max(colour[1]/n, 0) + rootFloor)
	s[signatureSize-2] = math.Sqrt(max(colour[0]/n, 0)+rootFloor) - g
	s[signatureSize-1] = math.Sqrt(max(colour[2]/n, 0)+rootFloor) - g
	return s, mean / n
}

// rgbSum adds up the channels of a run of pixels, those of even and of odd
// places apart, so that no addition waits for the one before it.
func rgbSum(pix []float32) (r, g, b float64) {
	var r1, g1, b1 float64
	for len(pix) >= 6 {
		r += float64(pix[0])
		g += float64(pix[1])
		b += float64(pix[2])
		r1 += float64(pix[3])
		g1 += float64(pix[4])
		b1 += float64(pix[5])
		pix = pix[6:]
	}
	if len(pix) >= 3 {
		r += float64(pix[0])
		g += float64(pix[1])
		b += float64(pix[2])
	}
	return r + r1, g + g1, b + b1
}

// signatureLight turns a cell's signature back into light.
func signatureLight(v float64) float64 { return v*v - rootFloor }

// signatureNoise measures, for each number of the series, the deviation of its
// noise, from the median absolute difference of neighbouring frames (a change
// of light touches few of them), and how much longer than a frame it lasts:
// the ratio of the spread at a longer lag to that of neighbours.
func signatureNoise(series [][]float64) (sigma []float64, correlation float64) {
	n := len(series)
	if n < 3 {
		return nil, 1
	}
	d := len(series[0])
	// A slow fade moves every frame of a long stretch, so medians are taken in
	// short chunks, and a quiet one of these counts.
	chunks := max(1, (n-1)/noiseChunk)
	x := make([]float64, 0, 2*noiseChunk)
	spread := func(k, from, to, lag int) float64 {
		x = x[:0]
		for t := max(from, lag); t < to; t++ {
			x = append(x, math.Abs(series[t][k]-series[t-lag][k]))
		}
		return median(x) / normalQuartile / math.Sqrt2
	}
	all := make([]noiseOfChunk, chunks)
	for c := range all {
		from, to := 1+c*(n-1)/chunks, 1+(c+1)*(n-1)/chunks
		all[c].near = make([]float64, d)
		var ratio []float64
		for k := range d {
			near := max(spread(k, from, to, 1), leastSignatureNoise)
			all[c].near[k] = near
			all[c].activity += math.Log(near)
			if to-from > 2*longestLag {
				far := near
				for _, lag := range longLags {
					far = max(far, spread(k, from+lag, to, lag))
				}
				ratio = append(ratio, sq(far/near))
			}
		}
		all[c].ratio = 1
		if len(ratio) > 0 {
			// Three lags' largest is larger than one by chance alone.
			all[c].ratio = max(1, median(ratio)/chanceRatio)
		}
	}
	slices.SortFunc(all, func(a, b noiseOfChunk) int { return compare(a.activity, b.activity) })
	all = all[:(chunks+2)/3]
	sigma = make([]float64, d)
	var ratios []float64
	for _, c := range all {
		for k, v := range c.near {
			sigma[k] += v / float64(len(all))
		}
		ratios = append(ratios, c.ratio)
	}
	// γ(long)/γ(1) = 1/(1−ρ₁) for noise that has died out by the long lag; the
	// variance of a mean is then (1+ρ₁)/(1−ρ₁) times that of independent frames,
	// and neighbours, sharing noise, differ by less than it.
	rho := min(1-1/median(ratios), .95)
	for k := range sigma {
		sigma[k] /= math.Sqrt(1 - rho)
	}
	return sigma, (1 + rho) / (1 - rho)
}

// noiseOfChunk is the noise seen in a short run of frames.
type noiseOfChunk struct {
	near     []float64
	activity float64
	ratio    float64 // of variances at a long lag and between neighbours
}

// longLags are lags, in frames, over which shared noise has died out and slow
// flicker shows its full swing.
var longLags = []int{3, 4, 6}

const (
	longestLag          = 6
	chanceRatio         = 1.35 // TestSignatureNoise
	noiseChunk          = 25   // frames
	leastSignatureNoise = 2e-5
)

// scaled divides a series by its noise.
func scaled(series [][]float64, sigma []float64) [][]float64 {
	out := make([][]float64, len(series))
	flat := make([]float64, len(series)*len(sigma))
	for t, p := range series {
		out[t] = flat[t*len(sigma) : (t+1)*len(sigma)]
		for k, v := range p {
			out[t][k] = v / sigma[k]
		}
	}
	return out
}
