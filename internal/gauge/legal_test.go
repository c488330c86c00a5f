package gauge

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// The slow, obvious form: each of nine pixels' R′G′B′ as the frame itself
// reads it, weighted.
func slowFiltered(f *picture.Frame, x, y int) [4]float64 {
	kr, kg, kb := f.Matrix.Weights()
	var out [4]float64
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			k := float64((2-dx*dx)*(2-dy*dy)) / 16
			c := f.RGB(x+dx, y+dy)
			for i, v := range c {
				out[i] += k * v
			}
			out[3] += k * (kr*c[0] + kg*c[1] + kb*c[2])
		}
	}
	return out
}

func TestLegalAgreesWithTheSlowForm(t *testing.T) {
	for _, f := range []picture.Format{
		{Width: 40, Height: 30, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft},
		{Width: 41, Height: 31, Bits: 8, Sub: picture.Sub420, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft},
		{Width: 40, Height: 30, Bits: 10, Sub: picture.Sub420, Range: colour.Narrow, Matrix: colour.MatrixBT2020, Siting: picture.SiteTopLeft},
		{Width: 40, Height: 30, Bits: 8, Sub: picture.Sub420, Range: colour.Full, Matrix: colour.MatrixBT601, Siting: picture.SiteCentre},
		{Width: 40, Height: 30, Bits: 12, Sub: picture.Sub444, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft},
	} {
		for _, step := range []int{1, 3, 4} {
			frame := noiseFrame(f, 17)
			l := NewLegal()
			l.Add((&Viewer{Step: step}).Look(frame))
			m := codeToE(f)
			lo, hi := legalRange(f.Bits)
			n, bad := 0, 0
			for y := step; y/step < f.Height/step && y < f.Height-2; y += step {
				for x := step; x/step < f.Width/step && x < f.Width-2; x += step {
					want := slowFiltered(frame, x, y)
					luma, cb, cr := l.filtered(frame, x, y)
					got := [4]float64{float64(m.y*luma + m.rCr*cr + m.r0), float64(m.y*luma + m.gCb*cb + m.gCr*cr + m.g0), float64(m.y*luma + m.bCb*cb + m.b0), float64(m.y*luma + m.y0)}
					for i := range want {
						if math.Abs(got[i]-want[i]) > 2e-5 {
							t.Fatalf("%v, pixel %d,%d: %v, want %v", f, x, y, got, want)
						}
						if want[i] < lo || want[i] > hi {
							bad++
							break
						}
					}
					n++
				}
			}
			if n == 0 || step == 1 && bad == 0 {
				t.Errorf("%v: nothing was tried", f)
			}
		}
	}
}

func TestLegalRangeIsThatOfR103(t *testing.T) {
	var qc struct {
		R103 struct {
			Eight []float64 `json:"preferred_8bit"`
			Ten   []float64 `json:"preferred_10bit"`
			Area  float64   `json:"area_tolerance_percent"`
		} `json:"ebu_r103"`
	}
	truthJSON(t, "video-qc.json", &qc)
	for bits, want := range map[int][]float64{8: qc.R103.Eight, 10: qc.R103.Ten} {
		lo, hi := legalRange(bits)
		a, b := colour.Narrow.LumaToCode(lo, bits), colour.Narrow.LumaToCode(hi, bits)
		if math.Abs(a-want[0]) > 1e-9 || math.Abs(b-want[1]) > 1e-9 {
			t.Errorf("%d bits: %g to %g, want %v", bits, a, b, want)
		}
	}
	if qc.R103.Area != LegalArea {
		t.Errorf("allowance %g %%, want %g", LegalArea, qc.R103.Area)
	}
}

type barTruth struct {
	Name  string   `json:"name"`
	Codes []int    `json:"ycbcr10_standard"`
	Full  []int    `json:"ycbcr10"`
	Angle *float64 `json:"angle_deg"`
}

// bars paints code triples side by side.
func bars(codes [][]int) *picture.Frame {
	f := picture.NewFrame(picture.Format{Width: 480, Height: 270, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	for y := range f.Height {
		for x := range f.Width {
			c := codes[x*len(codes)/f.Width]
			f.Y[y*f.Width+x] = uint16(c[0])
			f.Cb[y*f.Width/2+x/2], f.Cr[y*f.Width/2+x/2] = uint16(c[1]), uint16(c[2])
		}
	}
	return f
}

func TestBarsAreLegalAndSuperWhiteIsNot(t *testing.T) {
	var qc struct {
		SD    []barTruth `json:"bars_smpte_rp219_75pct_709"`
		Full  []barTruth `json:"bars_100pct_709"`
		Extra struct {
			Valley int `json:"sub_black_valley"`
			Peak   int `json:"super_white_peak"`
		} `json:"hd_bars_extra_10bit"`
	}
	truthJSON(t, "video-qc.json", &qc)
	var sd, full [][]int
	for _, b := range qc.SD {
		sd = append(sd, b.Codes)
	}
	for _, b := range qc.Full {
		full = append(full, b.Full)
	}
	check := func(f *picture.Frame) Levels {
		l := NewLegal()
		var v Viewer
		l.Add(v.Look(f))
		return l.Result()
	}
	// Where two bars meet chroma is blurred over, a few columns in 480.
	for name, f := range map[string]*picture.Frame{"75 %": bars(sd), "100 %": bars(full)} {
		r := check(f)
		if len(r.Problems) > 0 || r.Y.Least < -5 || r.Y.Most > 105 {
			t.Errorf("bars of %s: %+v", name, r)
		}
		t.Logf("bars of %s: %.2f %% outside", name, 100*r.Worst)
	}
	over := bars([][]int{{940, 512, 512}})
	for i := range len(over.Y) / 20 {
		over.Y[i] = uint16(qc.Extra.Peak)
	}
	if r := check(over); len(r.Problems) != 1 || math.Abs(100*r.Worst-5) > 0.7 {
		t.Errorf("super white: %+v", r)
	}
	under := bars([][]int{{64, 512, 512}})
	for i := range len(under.Y) / 20 {
		under.Y[i] = uint16(qc.Extra.Valley)
	}
	if r := check(under); len(r.Problems) != 1 || r.Y.Least > -6 {
		t.Errorf("sub-black: %+v", r)
	}
	// Single pixels of overshoot don't count.
	single := bars([][]int{{940, 512, 512}})
	for i := range single.Y {
		if i%9 == 0 && i/480%4 == 0 {
			single.Y[i] = 1000
		}
	}
	if r := check(single); len(r.Problems) != 0 {
		t.Errorf("single pixels: %+v", r)
	}
}

func TestLegalDrill(t *testing.T) {
	drill(t, "outside −5…105 %, % of the picture", LegalArea, 30, 8, func(n uint64, size float64) (bool, float64, float64) {
		f := noiseFrame(format709, n)
		r := newRand(n)
		for i, c := range f.Y {
			f.Y[i] = 300 + c%400
		}
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = 492+f.Cb[i]%40, 492+f.Cr[i]%40
		}
		// A block of a highlight at 112 %.
		side := math.Sqrt(size / 100)
		x0, y0, x1, y1 := Box{0.1 + 0.3*r.Float64(), 0.1 + 0.3*r.Float64(), side, side}.Pixels(f.Width, f.Height)
		if size > 0 {
			for y := y0; y < y1; y++ {
				for x := x0; x < x1; x++ {
					f.Y[y*f.Width+x] = 1010
				}
			}
		}
		l := NewLegal()
		var v Viewer
		l.Add(v.Look(f))
		for _, p := range l.Result().Problems {
			// A block's border is softened by the low-pass, and sides are whole pixels.
			return true, p.Size, p.Error + 40*side*4/float64(f.Width) + 100*2*side/float64(f.Height)
		}
		return false, 0, 0
	})
}
