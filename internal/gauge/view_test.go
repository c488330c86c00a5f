package gauge

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// noiseFrame fills all planes with codes over the whole depth.
func noiseFrame(f picture.Format, n uint64) *picture.Frame {
	r := newRand(n)
	p := picture.NewFrame(f)
	for _, plane := range [][]uint16{p.Y, p.Cb, p.Cr} {
		for i := range plane {
			plane[i] = uint16(r.IntN(1 << f.Bits))
		}
	}
	return p
}

func TestViewAveragesAllPixelsAndReadsCodesAsTheFrameDoes(t *testing.T) {
	for _, f := range []picture.Format{
		{Width: 64, Height: 36, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft},
		{Width: 67, Height: 41, Bits: 8, Sub: picture.Sub420, Range: colour.Full, Matrix: colour.MatrixBT601, Siting: picture.SiteTopLeft},
		{Width: 5, Height: 3, Bits: 12, Sub: picture.Sub444, Range: colour.Narrow, Matrix: colour.MatrixBT2020, Siting: picture.SiteLeft},
		{Width: 2, Height: 2, Bits: 16, Sub: picture.Sub444, Range: colour.Full, Matrix: colour.MatrixBT709, Siting: picture.SiteCentre},
	} {
		for _, step := range []int{1, 2, 3, 4} {
			frame := noiseFrame(f, uint64(step))
			v := (&Viewer{Step: step}).Look(frame)
			sum, vsum := 0.0, 0.0
			for _, c := range frame.Y {
				sum += float64(c)
			}
			for i := range v.Y {
				x0, y0 := i%v.W*step, i/v.W*step
				x1, y1 := x0+step, y0+step
				if i%v.W == v.W-1 {
					x1 = f.Width
				}
				if i/v.W == v.H-1 {
					y1 = f.Height
				}
				vsum += float64(v.Mean[i]) * float64((x1-x0)*(y1-y0))
				if v.Y[i] != frame.Y[min(y0, f.Height-1)*f.Width+min(x0, f.Width-1)] {
					t.Fatalf("%v step %d: sample %d is not the block's corner", f, step, i)
				}
			}
			if math.Abs(vsum-sum) > 1e-5*sum {
				t.Errorf("%v step %d: blocks have the sum %.1f; the frame %.1f", f, step, vsum, sum)
			}
			// Where chroma is co-sited with the sample the frame's own exact
			// reading is the judge.
			if f.Siting == picture.SiteTopLeft || f.Sub == picture.Sub444 || f.Sub == picture.Sub422 {
				e := v.E()
				for i := range v.Y {
					x, y := i%v.W*step, i/v.W*step
					if f.Sub != picture.Sub444 && x%2 == 1 || f.Sub == picture.Sub420 && y%2 == 1 || x >= f.Width || y >= f.Height {
						continue
					}
					want := frame.RGB(x, y)
					for c := range want {
						if math.Abs(float64(e[c][i])-want[c]) > 1e-5 {
							t.Fatalf("%v step %d, pixel %d,%d: E′ %v, the frame says %v", f, step, x, y, [3]float32{e[0][i], e[1][i], e[2][i]}, want)
						}
					}
				}
			}
		}
	}
}

func TestViewsAreNeighboursOnlyInTheClip(t *testing.T) {
	f := picture.NewFrame(picture.Format{Width: 8, Height: 8, Bits: 8, Sub: picture.Sub420, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	var v Viewer
	for _, c := range []struct {
		index int
		next  bool
	}{{0, false}, {1, true}, {2, true}, {10, false}, {11, true}, {11, false}, {5, false}} {
		f.Index = c.index
		f.Y[0] = uint16(c.index)
		got := v.Look(f)
		if (got.Before != nil) != c.next {
			t.Errorf("frame %d: neighbour %v, want %v", c.index, got.Before != nil, c.next)
		}
		if got.Before != nil && int(got.Before.Y[0]) != c.index-1 {
			t.Errorf("frame %d: the one before shows %d", c.index, got.Before.Y[0])
		}
	}
}

func TestSeriesJoinsNeighboursAndLosesNothing(t *testing.T) {
	s := newSeries(2, 16)
	n, sum := 1000, 0.0
	for i := range n {
		v := float64(i % 37)
		sum += v
		s.add(float64(i), v, math.NaN())
	}
	m := s.moments(0)
	got, frames := 0.0, 0
	for i, b := range m {
		got += b.Mean * float64(b.N)
		frames += b.N
		if b.Least > b.Mean || b.Most < b.Mean || b.To < b.From || i > 0 && b.From != m[i-1].To+1 {
			t.Errorf("bin %d: %+v", i, b)
		}
	}
	if len(m) > 16 || frames != n || math.Abs(got-sum) > 1e-6 {
		t.Errorf("%d bins hold %d frames with sum %g, want %d with %g", len(m), frames, got, n, sum)
	}
	if s.moments(1) != nil {
		t.Error("a value that was never known has moments")
	}
}
