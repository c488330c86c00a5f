package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Legal checks a finished file's levels as EBU R 103 asks: R, G, B and Y alike
// within −5 to 105 % of the narrow range, measured after a spatial low-pass,
// so that single pixels of over- and undershoot don't count; up to 1 % of a
// picture's area may exceed.
//
// The recommendation asks for a low-pass and leaves its kind open as far as we
// know; here it is the binomial of 3×3 pixels (1 2 1 each way, over 4).
//
// Source: EBU R 103, tolerances for digital component video
type Legal struct {
	format   picture.Format
	frames   int
	over     int // frames with more than the allowance
	worst    float64
	worstAt  float64
	area     [4]float64 // R, G, B, Y: sum over frames
	any      float64
	low, top [4]float64 // reached after the low-pass, as E′
	peak     *series    // part outside, by frame
	h, v     chromaWeights
}

const (
	// LegalArea is the part of the picture, in per cent, that may exceed, and
	// the limit from which it is told (EBU R 103).
	LegalArea = 1.0

	legalTolerance = 0.05 // of the expected range, both ends included
	legalBins      = 1024
)

// chromaWeights are the weights of the chroma samples before, at and after
// that of an even and of an odd luma position, after reconstruction at luma's
// places (picture.Frame.RGB) and the low-pass.
type chromaWeights struct{ even, odd [3]float32 }

var (
	weightsSame   = chromaWeights{[3]float32{1. / 4, 2. / 4, 1. / 4}, [3]float32{1. / 4, 2. / 4, 1. / 4}} // not subsampled
	weightsCoSite = chromaWeights{[3]float32{1. / 8, 6. / 8, 1. / 8}, [3]float32{0, 1. / 2, 1. / 2}}
	weightsMidway = chromaWeights{[3]float32{5. / 16, 10. / 16, 1. / 16}, [3]float32{1. / 16, 10. / 16, 5. / 16}}
)

// legalRange are the least and greatest E′ allowed. EBU R 103 rounds 5 % of
// the expected range to whole codes: 5 to 246 of 8 bits, 20 to 984 of 10.
func legalRange(bits int) (lo, hi float64) {
	slope, offset := colour.Narrow.LumaScale(bits)
	t := math.Round(legalTolerance * (slope + 1))
	return colour.Narrow.LumaFromCode(offset-t, bits), colour.Narrow.LumaFromCode(offset+slope+t, bits)
}

// NewLegal makes a checker.
func NewLegal() *Legal {
	l := &Legal{peak: newSeries(1, legalBins)}
	for i := range l.low {
		l.low[i], l.top[i] = math.Inf(1), math.Inf(-1)
	}
	return l
}

// Add checks a frame.
func (l *Legal) Add(v *View) {
	if l.format != v.Format {
		l.format = v.Format
		l.h, l.v = weightsSame, weightsSame
		if v.Sub != picture.Sub444 {
			l.h = weightsCoSite
			if v.Siting == picture.SiteCentre {
				l.h = weightsMidway
			}
		}
		if v.Sub == picture.Sub420 {
			l.v = weightsMidway
			if v.Siting == picture.SiteTopLeft {
				l.v = weightsCoSite
			}
		}
	}
	lo, hi := legalRange(v.Bits)
	low, top := float32(lo), float32(hi)
	m := codeToE(v.Format)
	var outside [5]int
	n := 0
	var least, most [4]float32
	for i := range least {
		least[i], most[i] = math.MaxFloat32, -math.MaxFloat32
	}
	for y := 0; y < v.H; y++ {
		fy := y * v.Step
		if fy < 1 || fy >= v.Height-1 {
			continue
		}
		for x := 0; x < v.W; x++ {
			fx := x * v.Step
			if fx < 1 || fx >= v.Width-1 {
				continue
			}
			luma, cb, cr := l.filtered(v.Frame, fx, fy)
			e := m.y*luma + m.y0
			c := [4]float32{m.y*luma + m.rCr*cr + m.r0, m.y*luma + m.gCb*cb + m.gCr*cr + m.g0, m.y*luma + m.bCb*cb + m.b0, e}
			bad := false
			for i, s := range c {
				least[i], most[i] = min(least[i], s), max(most[i], s)
				if s < low || s > top {
					outside[i]++
					bad = true
				}
			}
			if bad {
				outside[4]++
			}
			n++
		}
	}
	if n == 0 {
		return
	}
	l.frames++
	for i := range l.low {
		l.low[i], l.top[i] = min(l.low[i], float64(least[i])), max(l.top[i], float64(most[i]))
		l.area[i] += float64(outside[i]) / float64(n)
	}
	part := float64(outside[4]) / float64(n)
	l.any += part
	l.peak.add(v.Time, part)
	if 100*part > LegalArea {
		l.over++
	}
	if part > l.worst {
		l.worst, l.worstAt = part, v.Time
	}
}

// filtered is luma and chroma, in codes, after the low-pass about a pixel that
// is not on the picture's edge.
func (l *Legal) filtered(f *picture.Frame, x, y int) (luma, cb, cr float32) {
	w := f.Width
	up, at, down := f.Y[(y-1)*w+x-1:][:3], f.Y[y*w+x-1:][:3], f.Y[(y+1)*w+x-1:][:3]
	luma = float32(int(up[0])+int(up[2])+int(down[0])+int(down[2])+2*(int(up[1])+int(down[1])+int(at[0])+int(at[2]))+4*int(at[1])) / 16
	cw, ch := f.ChromaSize()
	cx, cy, wh, wv := x, y, l.h.even, l.v.even
	if f.Sub != picture.Sub444 {
		cx = x / 2
		if x%2 == 1 {
			wh = l.h.odd
		}
	}
	if f.Sub == picture.Sub420 {
		cy = y / 2
		if y%2 == 1 {
			wv = l.v.odd
		}
	}
	if f.Sub == picture.Sub422 {
		wv = weightsSame.even
	}
	c0, c2 := max(cx-1, 0), min(cx+1, cw-1)
	for j, k := range wv {
		if k == 0 {
			continue
		}
		row := min(max(cy+j-1, 0), ch-1) * cw
		cb += k * (wh[0]*float32(f.Cb[row+c0]) + wh[1]*float32(f.Cb[row+cx]) + wh[2]*float32(f.Cb[row+c2]))
		cr += k * (wh[0]*float32(f.Cr[row+c0]) + wh[1]*float32(f.Cr[row+cx]) + wh[2]*float32(f.Cr[row+c2]))
	}
	return luma, cb, cr
}

// Levels is what Legal found. Parts are 0..1 of the picture, levels in per
// cent of the narrow range, after the low-pass.
type Levels struct {
	Frames int     `json:"frames"`
	Over   int     `json:"over"`  // frames of which more than 1 % exceed
	Worst  float64 `json:"worst"` // part that exceeds, in the worst frame
	At     float64 `json:"at"`    // s, of that frame
	Mean   float64 `json:"mean"`  // the same, mean of all frames
	// Of each component: part that exceeds (mean), least and greatest level.
	R        LevelRange `json:"r"`
	G        LevelRange `json:"g"`
	B        LevelRange `json:"b"`
	Y        LevelRange `json:"y"`
	Problems []Problem  `json:"problems,omitempty"`
	Notes    []string   `json:"notes,omitempty"`
}

// LevelRange is one component's.
type LevelRange struct {
	Part  float64 `json:"part"`
	Least float64 `json:"least"`
	Most  float64 `json:"most"`
}

// Result tells.
func (l *Legal) Result() Levels {
	out := Levels{Frames: l.frames, Over: l.over, Worst: l.worst, At: l.worstAt}
	if l.frames == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	n := float64(l.frames)
	out.Mean = l.any / n
	for i, r := range []*LevelRange{&out.R, &out.G, &out.B, &out.Y} {
		*r = LevelRange{Part: l.area[i] / n, Least: 100 * l.low[i], Most: 100 * l.top[i]}
	}
	if l.over == 0 {
		return out
	}
	p := Problem{
		Kind: "levels", What: fmt.Sprintf("more than 1 %% of the picture lies outside −5 to 105 %% in %d of %d frames, %.1f %% of it in the worst (EBU R 103)", l.over, l.frames, 100*l.worst),
		Size: 100 * l.worst, Error: 0.1 + 10*l.worst, Unit: "% of the picture", Severity: Warn,
		Advice: "switch the grade's limiter on (rgb), or lower the highlights and the saturation of coloured lamps",
	}
	first := true
	for _, m := range l.peak.moments(0) {
		if 100*m.Most > LegalArea {
			if first {
				p.From, first = m.From, false
			}
			p.To = m.To
		}
	}
	out.Problems = append(out.Problems, p)
	return out
}
