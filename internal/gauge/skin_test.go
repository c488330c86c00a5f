package gauge

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

func TestScopeAxesAgainstBarsAndTheSkinLine(t *testing.T) {
	var qc struct {
		SD    []barTruth `json:"bars_smpte_rp219_75pct_709"`
		Extra struct {
			PlusI []int `json:"plus_I"`
		} `json:"hd_bars_extra_10bit"`
		Axis struct {
			UV    float64 `json:"composite_UV_plane_deg"`
			Cb    float64 `json:"cbcr_709_deg"`
			Cb601 float64 `json:"cbcr_601_deg"`
		} `json:"i_axis"`
	}
	truthJSON(t, "video-qc.json", &qc)
	chroma := func(c []int) (cb, cr float64) {
		return colour.Narrow.ChromaFromCode(float64(c[1]), 10), colour.Narrow.ChromaFromCode(float64(c[2]), 10)
	}
	for _, b := range qc.SD {
		if b.Angle == nil {
			continue
		}
		cb, cr := chroma(b.Codes)
		if got := math.Mod(degrees(math.Atan2(cr, cb))+360, 360); math.Abs(got-*b.Angle) > 0.1 {
			t.Errorf("%s: %.2f° in Cb, Cr, want %.2f", b.Name, got, *b.Angle)
		}
	}
	cb, cr := chroma(qc.Extra.PlusI)
	m := uvMatrix(colour.MatrixBT709)
	if got := degrees(math.Atan2(m[1][0]*cb+m[1][1]*cr, m[0][0]*cb+m[0][1]*cr)); math.Abs(got-qc.Axis.UV) > 0.1 || math.Abs(float64(SkinLine)-qc.Axis.UV) > 1e-9 {
		t.Errorf("+I lies at %.2f° in U, V, want %g", got, qc.Axis.UV)
	}
	// The trap: the same axis in plain Cb, Cr.
	for matrix, want := range map[colour.MatrixCoefficients]float64{colour.MatrixBT709: qc.Axis.Cb, colour.MatrixBT601: qc.Axis.Cb601} {
		cb, cr := chromaOf(matrix, float64(SkinLine), 1)
		if got := degrees(math.Atan2(cr, cb)); math.Abs(got-want) > 0.01 {
			t.Errorf("%s: the skin line lies at %.2f° in Cb, Cr, want %.2f", matrix, got, want)
		}
	}
}

// chromaOf gives Cb and Cr of a place in U, V.
func chromaOf(matrix colour.MatrixCoefficients, angle, radius float64) (cb, cr float64) {
	m := uvMatrix(matrix)
	s, c := math.Sincos(angle * math.Pi / 180)
	det := m[0][0]*m[1][1] - m[0][1]*m[1][0]
	return radius * (m[1][1]*c - m[0][1]*s) / det, radius * (m[0][0]*s - m[1][0]*c) / det
}

func TestSkinDrill(t *testing.T) {
	drill(t, "skin hue, degrees", float64(SkinLimit), 60, 12, func(n uint64, size float64) (bool, float64, float64) {
		f := picture.NewFrame(format709)
		r := newRand(n)
		sign := float64(1)
		if n%2 == 0 {
			sign = -1
		}
		cw, _ := f.ChromaSize()
		for i := range f.Cb {
			// Outside the face something else altogether.
			hue, c := 20.0, 0.2
			if x, y := i%cw*2, i/cw; x > 40 && x < 120 && y > 20 && y < 80 {
				hue, c = 123+sign*size+4*r.NormFloat64(), 0.1+0.03*r.NormFloat64()
			}
			cb, cr := chromaOf(colour.MatrixBT709, hue, c)
			f.Cb[i] = uint16(math.Round(colour.Narrow.ChromaToCode(cb, 10) + 1.5*r.NormFloat64()))
			f.Cr[i] = uint16(math.Round(colour.Narrow.ChromaToCode(cr, 10) + 1.5*r.NormFloat64()))
		}
		k := NewSkin(Region{Name: "face-lit", Box: Box{0.3, 0.3, 0.4, 0.5}, Shape: ShapeEllipse})
		var w Viewer
		k.Add(w.Look(f))
		for _, p := range k.Result().Problems {
			return true, sign * p.Size, p.Error
		}
		return false, 0, 0
	})
	// A grey face has no hue.
	k := NewSkin(Region{Name: "face-lit", Box: Box{0.3, 0.3, 0.4, 0.5}})
	c, _ := colour.CurveByID("bt709")
	var w Viewer
	k.Add(w.Look(flat(format709, c, [3]float64{0.2, 0.2, 0.2})))
	if r := k.Result(); r.Hue != nil || len(r.Notes) == 0 {
		t.Errorf("%+v", r)
	}
}
