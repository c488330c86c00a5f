package gauge

import (
	"math"
	"slices"
)

// Smooth tells how much of a picture is smooth, by level: walls and shadows
// where luma changes little over tens of pixels, which is where bands show, and
// how fast it changes there. What is one code throughout, as black and what is
// clipped, has no gradient that could band, and isn't counted.
type Smooth struct {
	frames  int
	area    [smoothLevels]float64
	slope   [smoothLevels]float64 // squared, summed
	blocks  float64
	quarter []float32
}

const (
	smoothLevels = 128
	smoothSide   = 8    // samples a side of a block
	smoothMost   = 12.0 // codes of 10 bits that a block's corners may differ by; noise is averaged out
)

// Add looks at a frame.
func (s *Smooth) Add(v *View) {
	s.frames++
	unit := float32(int(1)<<v.Bits) / 1024
	const half = smoothSide / 2
	for y := 0; y+smoothSide <= v.H; y += smoothSide {
		for x := 0; x+smoothSide <= v.W; x += smoothSide {
			// Means of the block's quarters: a gradient shows, noise doesn't.
			s.quarter = s.quarter[:0]
			sum := float32(0)
			for q := range 4 {
				m := float32(0)
				for yy := y + q/2*half; yy < y+(q/2+1)*half; yy++ {
					at := yy*v.W + x + q%2*half
					for _, c := range v.Mean[at : at+half] {
						m += c
					}
				}
				m /= half * half
				sum += m
				s.quarter = append(s.quarter, m)
			}
			s.blocks++
			if d := slices.Max(s.quarter) - slices.Min(s.quarter); d > 0 && d < smoothMost*unit {
				code := sum / 4
				level := min(int(code*smoothLevels/float32(int(1)<<v.Bits)), smoothLevels-1)
				s.area[level]++
				q, apart := s.quarter, unit*float32(half*v.Step)
				dx, dy := (q[1]+q[3]-q[0]-q[2])/2/apart, (q[2]+q[3]-q[0]-q[1])/2/apart
				s.slope[level] += float64(dx*dx + dy*dy)
			}
		}
	}
}

// SmoothArea is what Smooth found.
type SmoothArea struct {
	Share float64 `json:"share"` // of the picture
	// Area is the part of the picture that is smooth at each of 128 equal
	// stretches of luma code.
	Area []float64 `json:"area"`
	// Slope is how fast luma changes there, in 10-bit codes a pixel (root mean
	// square; noise adds a little); 0 where nothing is smooth.
	Slope []float64 `json:"slope"`
}

// Result tells.
func (s *Smooth) Result() SmoothArea {
	out := SmoothArea{Area: make([]float64, smoothLevels), Slope: make([]float64, smoothLevels)}
	if s.blocks == 0 {
		return out
	}
	for i, n := range s.area {
		out.Area[i] = n / s.blocks
		out.Share += out.Area[i]
		if n > 0 {
			out.Slope[i] = math.Sqrt(s.slope[i] / n)
		}
	}
	return out
}
