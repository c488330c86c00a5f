package picture

import (
	"fmt"
	"strconv"

	"lampwise/internal/colour"
)

// MaxSide is the largest width or height of a frame.
const MaxSide = 1 << 14

// Check says what is wrong with a format, nil when nothing is.
func (f Format) Check() error {
	if f.Width < 1 || f.Height < 1 || f.Width > MaxSide || f.Height > MaxSide {
		return fmt.Errorf("size %d×%d is not within 1×1 to %d×%d", f.Width, f.Height, MaxSide, MaxSide)
	}
	return first(
		known("bits", strconv.Itoa(f.Bits), "8", "10", "12", "16"),
		known("subsampling", string(f.Sub), string(Sub444), string(Sub422), string(Sub420)),
		known("range", string(f.Range), string(colour.Narrow), string(colour.Full)),
		known("matrix", string(f.Matrix), string(colour.MatrixBT709), string(colour.MatrixBT601), string(colour.MatrixBT2020)),
		known("siting", string(f.Siting), string(SiteLeft), string(SiteTopLeft), string(SiteCentre)),
	)
}

// Check says whether the planes have the sizes the format asks for.
func (f *Frame) Check() error {
	if err := f.Format.Check(); err != nil {
		return err
	}
	cw, ch := f.ChromaSize()
	if len(f.Y) != f.Width*f.Height || len(f.Cb) != cw*ch || len(f.Cr) != cw*ch {
		return fmt.Errorf("planes of %d, %d and %d samples; %d×%d %s has %d, %d and %d",
			len(f.Y), len(f.Cb), len(f.Cr), f.Width, f.Height, f.Sub, f.Width*f.Height, cw*ch, cw*ch)
	}
	return nil
}

// RGB returns R′G′B′ of the pixel at column x and row y as E′ (0 = black and
// 1 = white of the frame's range, not clamped). Chroma between its samples is
// linear; beyond the edge the edge's sample is repeated. With chroma sample k
// of a row at luma column 2k (left, topleft) or 2k + ½ (centre), and likewise
// of a column at luma row 2k (topleft) or 2k + ½ (left, centre):
//
//	co-sited:  C(2k) = c[k]                   C(2k+1) = ½c[k] + ½c[k+1]
//	midway:    C(2k) = ¼c[k−1] + ¾c[k]        C(2k+1) = ¾c[k] + ¼c[k+1]
//
// 4:2:2 uses the first line or the second across, and nothing down.
func (f *Frame) RGB(x, y int) [3]float64 {
	yy := f.Range.LumaFromCode(float64(f.Y[y*f.Width+x]), f.Bits)
	h, v := chromaTaps(f.Format, x, y)
	cw, _ := f.ChromaSize()
	mix := func(plane []uint16) float64 {
		var sum int
		for _, tv := range v {
			for _, th := range h {
				sum += tv.weight * th.weight * int(plane[tv.at*cw+th.at])
			}
		}
		return f.Range.ChromaFromCode(float64(sum)/(tapUnit*tapUnit), f.Bits)
	}
	return f.Matrix.ToRGB().Apply([3]float64{yy, mix(f.Cb), mix(f.Cr)})
}

// tap is a chroma sample and its weight in quarters.
type tap struct{ at, weight int }

const tapUnit = 4

// chromaTaps gives the two samples across and the two down that the chroma at
// luma place x, y is mixed from. Weights of each pair sum to tapUnit.
func chromaTaps(f Format, x, y int) (h, v [2]tap) {
	cw, ch := f.ChromaSize()
	h = [2]tap{{x, tapUnit}, {x, 0}}
	v = [2]tap{{y, tapUnit}, {y, 0}}
	if f.Sub != Sub444 {
		h = upsample(x, cw, f.Siting == SiteCentre)
	}
	if f.Sub == Sub420 {
		v = upsample(y, ch, f.Siting != SiteTopLeft)
	}
	return h, v
}

func upsample(at, n int, midway bool) [2]tap {
	k, odd := at/2, at%2 == 1
	switch {
	case midway && odd:
		return [2]tap{{k, 3}, {min(k+1, n-1), 1}}
	case midway:
		return [2]tap{{k, 3}, {max(k-1, 0), 1}}
	case odd:
		return [2]tap{{k, 2}, {min(k+1, n-1), 2}}
	}
	return [2]tap{{k, 4}, {k, 0}}
}

// downTaps gives the luma-rate samples that chroma sample k of a row (or
// column) of n luma samples is filtered from, each with its weight of 4:
//
//	co-sited:  ¼C(2k−1) + ½C(2k) + ¼C(2k+1)
//	midway:    ½C(2k) + ½C(2k+1)
//
// beyond the edge the edge's sample is repeated.
func downTaps(k, n int, midway bool) [3]tap {
	at := min(2*k, n-1)
	next := min(2*k+1, n-1)
	if midway {
		return [3]tap{{at, 2}, {next, 2}, {at, 0}}
	}
	return [3]tap{{max(2*k-1, 0), 1}, {at, 2}, {next, 1}}
}
