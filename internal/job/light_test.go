package job

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// TestLightDecoder holds the tables to the slow way: every pixel through the
// frame's own interpolation and the exact curve, averaged in light.
func TestLightDecoder(t *testing.T) {
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	for _, sub := range []picture.Subsampling{picture.Sub444, picture.Sub422, picture.Sub420} {
		for _, site := range []picture.Siting{picture.SiteLeft, picture.SiteCentre} {
			for _, bits := range []int{8, 10, 16} {
				for _, widest := range []int{400, 200, 100, 134} {
					for _, r := range []colour.Range{colour.Narrow, colour.Full} {
						f := picture.Format{Width: 400, Height: 120, Bits: bits, Sub: sub, Range: r, Matrix: colour.MatrixBT709, Siting: site}
						t.Run(fmt.Sprintf("%s-%s-%d-%d-%s", sub, site, bits, widest, r), func(t *testing.T) {
							lightAgainstSlow(t, f, Decoding{Curve: curve}, widest)
						})
					}
				}
			}
		}
	}
}

// chromaNoise is chroma's noise against luma's: a chroma sample of 4:2:0 is the
// mean of four pixels.
const chromaNoise = 0.5

// smoothFrame is a picture without detail finer than a few pixels, with noise
// of about a code in 10 bits, as a camera's lens leaves it.
func smoothFrame(f picture.Format, seed uint64) *picture.Frame {
	rng := rand.New(rand.NewPCG(seed, 1))
	fr := picture.NewFrame(f)
	unit := float64(int(1) << f.Bits)
	for y := range f.Height {
		for x := range f.Width {
			v := 0.36 + 0.12*math.Sin(float64(x)/37)*math.Cos(float64(y)/29)
			fr.Y[y*f.Width+x] = uint16(unit*v + rng.NormFloat64()*unit/1024)
		}
	}
	cw, ch := f.ChromaSize()
	sx, sy := float64(f.Width)/float64(cw), float64(f.Height)/float64(ch)
	for y := range ch {
		for x := range cw {
			px, py := sx*float64(x), sy*float64(y)
			fr.Cb[y*cw+x] = uint16(unit*(0.5+0.05*math.Sin(px/31+py/47)) + chromaNoise*rng.NormFloat64()*unit/1024)
			fr.Cr[y*cw+x] = uint16(unit*(0.5+0.05*math.Cos(px/41-py/23)) + chromaNoise*rng.NormFloat64()*unit/1024)
		}
	}
	return fr
}

func lightAgainstSlow(t *testing.T, f picture.Format, d Decoding, widest int) {
	frame := smoothFrame(f, 3)
	l := newLightDecoder(f, d, widest, 0)
	got := l.newLight()
	l.decode(frame, got)
	slope, offset := d.Curve.SignalFromE(f.Range)
	var sum, worst, bias float64
	n := 0
	for y := range l.h {
		for x := range l.w {
			var want [3]float64
			for k := range l.n * l.n {
				e := frame.RGB(x*l.n+k%l.n, y*l.n+k/l.n)
				for c := range want {
					want[c] += d.Curve.Decode(slope*e[c]+offset) / float64(l.n*l.n)
				}
			}
			for c := range want {
				s := math.Log2(float64(got.Pix[3*(y*l.w+x)+c]) / want[c])
				sum, bias, n = sum+math.Abs(s), bias+s, n+1
				worst = max(worst, math.Abs(s))
			}
		}
	}
	// Even light must come out even: to a thousandth of a stop in the mean. A
	// single pixel may differ by what chroma does inside a pair (the noise here
	// is white, which subsampled chroma never is).
	if b := math.Abs(bias / float64(n)); b > 0.001 {
		t.Errorf("biased by %.5f stop", b)
	}
	if m := sum / float64(n); m > 0.02 || worst > 0.2 {
		t.Errorf("differs by %.4f stop in the mean, %.4f at most", m, worst)
	}
}

func TestLightDecoderMarksClipped(t *testing.T) {
	curve, _ := colour.CurveByID("log-420")
	f := picture.Format{Width: 64, Height: 64, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	frame := picture.NewFrame(f)
	for i := range frame.Y {
		frame.Y[i] = 400
	}
	for i := range frame.Cb {
		frame.Cb[i], frame.Cr[i] = 512, 512
	}
	frame.Y[5*64+7] = 820
	l := newLightDecoder(f, Decoding{Curve: curve}, 32, 822)
	out := l.newLight()
	l.decode(frame, out)
	for p, c := range out.Clipped {
		if c != (p == 2*32+3) {
			t.Errorf("pixel %d: clipped %v", p, c)
		}
	}
}

func BenchmarkLightDecoder(b *testing.B) {
	curve, _ := colour.CurveByID("log-420")
	for _, w := range []int{1920, 3840} {
		for _, way := range []string{"fast", "plain"} {
			b.Run(fmt.Sprint(w, "-", way), func(b *testing.B) {
				f := picture.Format{Width: w, Height: w * 9 / 16, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
				frame := smoothFrame(f, 1)
				l := newLightDecoder(f, Decoding{Curve: curve}, workingWidth, 800)
				if way == "plain" {
					l.fast = nil
				}
				out := l.newLight()
				for b.Loop() {
					l.decode(frame, out)
				}
			})
		}
	}
}
