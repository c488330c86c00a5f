package job

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// workingWidth is the most a working picture is wide (5-lamps.md, Learn).
const workingWidth = 960

// Decoding says what a clip's codes stand for.
type Decoding struct {
	Curve    *colour.Curve
	Override media.Override
	// Signal is the range in which the curve's own codes are told from E′, where
	// it isn't the frames' own: a still that was grabbed from a narrow-range clip
	// holds the clip's E′ in full-range codes. Empty: the frames'.
	Signal colour.Range
}

// signalFromE is the curve's own, for frames of a range.
func (d Decoding) signalFromE(frames colour.Range) (slope, offset float64) {
	if d.Signal != "" {
		frames = d.Signal
	}
	return d.Curve.SignalFromE(frames)
}

// decodingOf finds a curve by its id.
func decodingOf(curve string, o media.Override) (Decoding, error) {
	c, err := colour.CurveByID(curve)
	return Decoding{Curve: c, Override: o}, err
}

// lightDecoder takes frames of one format to working pictures: scene-linear
// camera RGB, each pixel the mean of a square of n×n, averaged in light.
//
// Codes go through whole-number tables to a place in one table of light. The
// two pixels of a pair that share a chroma sample get the pair's mean chroma
// (linear between samples, after their siting); TestLightDecoder holds it to
// the slow way.
type lightDecoder struct {
	format picture.Format
	n      int // side of the square
	w, h   int // of the working picture
	pair   int // luma samples that share a chroma offset: 2 or 1

	luma   []int32 // place of a luma code
	crR    []int32 // chroma's share of the place, times chromaFine
	cbG    []int32
	crG    []int32
	cbB    []int32
	light  *[lightPlaces]float32
	cosite bool // chroma stands on the pair's first pixel, else midway
	clip   int32
	fast   *lightSquares // nil: none for this format
}

const (
	// The table of light has a place for each eighth of a 10-bit code. Taking
	// the nearest errs by at most a sixteenth of a code, to either side alike.
	lightSteps  = 8 * 876
	lightBase   = 10240 // place of E′ = 0; codes of any range and matrix stay inside
	lightPlaces = 1 << 15
	chromaFine  = 16
	// A sample whose light comes so near to the recording's clip counts as
	// clipped, since the clip is softened by the codec and, in a saturated
	// colour, stands lower than a neutral's.
	clipNear = 0.9
)

// newLightDecoder prepares for frames of a format. widest bounds the working
// width; clipCode is the recording's clip as a 10-bit luma code, 0 when unknown.
func newLightDecoder(f picture.Format, d Decoding, widest int, clipCode float64) *lightDecoder {
	return lightDecoderBy(f, d, squareFor(f.Width, widest), clipCode)
}

// squareFor is the side of the squares that make a frame at most so wide.
func squareFor(width, widest int) int { return max(1, (width+widest-1)/widest) }

// lightDecoderBy averages squares of n×n.
func lightDecoderBy(f picture.Format, d Decoding, n int, clipCode float64) *lightDecoder {
	l := &lightDecoder{format: f, n: n, w: f.Width / n, h: f.Height / n, pair: 1, clip: math.MaxInt32}
	if f.Sub != picture.Sub444 && n%2 == 0 {
		l.pair = 2
	}
	l.cosite = f.Siting != picture.SiteCentre
	place := func(e float64) int32 { return int32(math.Round(e * lightSteps)) }
	codes := 1 << f.Bits
	m := f.Matrix.ToRGB()
	l.luma, l.crR, l.cbG, l.crG, l.cbB = make([]int32, codes), make([]int32, codes), make([]int32, codes), make([]int32, codes), make([]int32, codes)
	for c := range codes {
		l.luma[c] = lightBase + place(f.Range.LumaFromCode(float64(c), f.Bits))
		e := chromaFine * f.Range.ChromaFromCode(float64(c), f.Bits)
		l.crR[c], l.cbG[c], l.crG[c], l.cbB[c] = place(m[0][2]*e), place(m[1][1]*e), place(m[1][2]*e), place(m[2][1]*e)
	}
	slope, offset := d.signalFromE(f.Range)
	at := func(i int) float64 { return d.Curve.Decode(slope*float64(i-lightBase)/lightSteps + offset) }
	l.light = new([lightPlaces]float32)
	for i := range l.light {
		l.light[i] = float32(max(-1, min(at(i), lightMost)))
	}
	l.fast = squaresFor(f, n, l.light)
	if clipCode > 0 {
		x := clipNear * d.clipLight(clipCode, f)
		l.clip = lightPlaces
		for i := range l.light {
			if float64(l.light[i]) >= x {
				l.clip = int32(i)
				break
			}
		}
	}
	return l
}

// lightMost bounds what a code may stand for: 16 stops over grey.
const lightMost = colour.Grey * (1 << 16)

// clipLight is the scene light of a 10-bit luma code.
func (d Decoding) clipLight(code float64, f picture.Format) float64 {
	slope, offset := d.signalFromE(f.Range)
	e := f.Range.LumaFromCode(code*float64(int(1)<<f.Bits)/1024, f.Bits)
	return d.Curve.Decode(slope*e + offset)
}

// newLight makes a working picture to decode into.
func (l *lightDecoder) newLight() *lamps.Light {
	return &lamps.Light{Image: picture.NewImage(l.w, l.h, picture.SpaceSceneLinear), Frames: 1}
}

// decode fills out from a frame.
func (l *lightDecoder) decode(f *picture.Frame, out *lamps.Light) { l.decodeRows(f, out, 1) }

// decodeRows fills each step-th row of out, from the first on.
func (l *lightDecoder) decodeRows(f *picture.Frame, out *lamps.Light, step int) {
	if out.Clipped == nil && l.clip != math.MaxInt32 {
		out.Clipped = make([]bool, l.w*l.h)
	}
	const rows = 32 // a stretch of rows shares its buffers
	parallel((l.h+rows-1)/rows, func(part int) {
		if l.fast != nil {
			var r squareRow
			for y := (part*rows + step - 1) / step * step; y < min(l.h, (part+1)*rows); y += step {
				l.fast.row(l, f, out, y, &r)
			}
			return
		}
		b := &lightBuffers{off: make([]int32, 3*(l.w*l.n/l.pair)), sum: make([]float32, 3*l.w), top: make([]int32, l.w), chroma: -1}
		for y := (part*rows + step - 1) / step * step; y < min(l.h, (part+1)*rows); y += step {
			l.row(f, out, y, b)
		}
	})
}

// lightBuffers are what a row needs.
type lightBuffers struct {
	off    []int32 // chroma's share of the place, R, G, B for each pair or pixel
	sum    []float32
	top    []int32
	chroma int // the chroma row that off holds
}

func (l *lightDecoder) row(f *picture.Frame, out *lamps.Light, y int, b *lightBuffers) {
	clear(b.sum)
	clear(b.top)
	for k := range l.n {
		fy := y*l.n + k
		l.offsets(f, fy, b)
		row := f.Y[fy*f.Width : fy*f.Width+l.w*l.n]
		l.add(row, b)
	}
	scale := 1 / float32(l.n*l.n)
	dst := out.Pix[3*y*l.w : 3*(y+1)*l.w]
	for i, v := range b.sum {
		dst[i] = v * scale
	}
	if out.Clipped != nil {
		clipped := out.Clipped[y*l.w : (y+1)*l.w]
		for x, t := range b.top {
			clipped[x] = t >= l.clip
		}
	}
}

// offsets fills b.off for a luma row.
func (l *lightDecoder) offsets(f *picture.Frame, fy int, b *lightBuffers) {
	cw, ch := f.ChromaSize()
	cy := fy
	if f.Sub == picture.Sub420 {
		cy = min(fy/2, ch-1)
	}
	if cy == b.chroma {
		return
	}
	b.chroma = cy
	cb, cr := f.Cb[cy*cw:(cy+1)*cw], f.Cr[cy*cw:(cy+1)*cw]
	at := func(i int) (r, g, bl int32) {
		i = min(max(i, 0), cw-1)
		u, v := cb[i], cr[i]
		return l.crR[v], l.cbG[u] + l.crG[v], l.cbB[u]
	}
	off := b.off
	if l.pair == 2 && l.cosite {
		// The pair's mean: C(2k) = c[k], C(2k+1) = ½c[k] + ½c[k+1].
		r0, g0, b0 := at(0)
		for k := range len(off) / 3 {
			r1, g1, b1 := at(k + 1)
			o := off[3*k : 3*k+3]
			o[0], o[1], o[2] = (3*r0+r1)/(4*chromaFine), (3*g0+g1)/(4*chromaFine), (3*b0+b1)/(4*chromaFine)
			r0, g0, b0 = r1, g1, b1
		}
		return
	}
	for k := range len(off) / 3 {
		var r0, g0, b0, r1, g1, b1 int32
		switch {
		case f.Sub == picture.Sub444:
			r0, g0, b0 = at(k)
			r1, g1, b1 = r0, g0, b0
		case l.pair == 2:
			// Midway: ⅛c[k−1] + ¾c[k] + ⅛c[k+1], by halves.
			ra, ga, ba := at(k - 1)
			rb, gb, bb := at(k)
			rc, gc, bc := at(k + 1)
			r0, g0, b0 = (ra+3*rb)/4, (ga+3*gb)/4, (ba+3*bb)/4
			r1, g1, b1 = (rc+3*rb)/4, (gc+3*gb)/4, (bc+3*bb)/4
		case l.cosite:
			r0, g0, b0 = at(k / 2)
			r1, g1, b1 = at((k + 1) / 2)
		default:
			ra, ga, ba := at(k / 2)
			rb, gb, bb := at(k/2 + 2*(k%2) - 1)
			r0, g0, b0 = ra, ga, ba
			r1, g1, b1 = (ra+rb)/2, (ga+gb)/2, (ba+bb)/2
		}
		o := off[3*k : 3*k+3]
		o[0], o[1], o[2] = (r0+r1)/(2*chromaFine), (g0+g1)/(2*chromaFine), (b0+b1)/(2*chromaFine)
	}
}

// add adds a luma row of squares of any size.
func (l *lightDecoder) add(row []uint16, b *lightBuffers) {
	table, luma := l.light, l.luma
	groups := l.n / l.pair
	for x := range b.top {
		s := b.sum[3*x : 3*x+3]
		for j := range groups {
			at := x*groups + j
			o := b.off[3*at : 3*at+3]
			for i := range l.pair {
				p := luma[row[at*l.pair+i]]
				s[0] += table[(p+o[0])&(lightPlaces-1)]
				s[1] += table[(p+o[1])&(lightPlaces-1)]
				s[2] += table[(p+o[2])&(lightPlaces-1)]
				b.top[x] = max(b.top[x], p+max(o[0], o[1], o[2]))
			}
		}
	}
}
