package gauge

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// most is the fullest cell of a grid.
func most(g Grid) (x, y int, n uint32) {
	for i, c := range g {
		if c > n {
			x, y, n = i%ScopeSide, i/ScopeSide, c
		}
	}
	return x, y, n
}

// cellOf is where a vectorscope's cell lies in U or V.
func cellOf(k int) float64 { return (float64(k)+0.5)/ScopeSide*2*ScopeChroma - ScopeChroma }

func TestVectorscopePutsBarsAndTheSkinAxisWhereTheyBelong(t *testing.T) {
	var qc struct {
		SD    []barTruth `json:"bars_smpte_rp219_75pct_709"`
		Extra struct {
			PlusI []int `json:"plus_I"`
		} `json:"hd_bars_extra_10bit"`
	}
	truthJSON(t, "video-qc.json", &qc)
	look := func(c []int) *ScopeData {
		s := NewScopes(Camera{})
		var v Viewer
		s.Add(v.Look(bars([][]int{c})))
		return s.Result()
	}
	const cell = 2 * ScopeChroma / ScopeSide
	for _, b := range qc.SD {
		d := look(b.Codes)
		x, y, n := most(d.Vector)
		cb, cr := colour.Narrow.ChromaFromCode(float64(b.Codes[1]), 10), colour.Narrow.ChromaFromCode(float64(b.Codes[2]), 10)
		// U and V by their definition, from R′G′B′ and BT.601's luma.
		p := colour.MatrixBT709.ToRGB().Apply([3]float64{0.5, cb, cr})
		kr, kg, kb := colour.MatrixBT601.Weights()
		l := kr*p[0] + kg*p[1] + kb*p[2]
		u, v := 0.492*(p[2]-l), 0.877*(p[0]-l)
		if int(n) != d.Samples || math.Abs(cellOf(x)-u) > cell || math.Abs(cellOf(y)-v) > cell {
			t.Errorf("%s: %d of %d samples at U %.3f V %.3f, want %.3f %.3f", b.Name, n, d.Samples, cellOf(x), cellOf(y), u, v)
		}
		if _, y, n := most(d.Luma); n == 0 || y != b.Codes[0]/4 {
			t.Errorf("%s: luma in row %d, want code %d", b.Name, y, b.Codes[0])
		}
	}
	d := look(qc.Extra.PlusI)
	x, y, _ := most(d.Vector)
	got := degrees(math.Atan2(cellOf(y), cellOf(x)))
	// A cell seen from the axis's length.
	if r := math.Hypot(cellOf(x), cellOf(y)); math.Abs(got-float64(SkinLine)) > degrees(cell/r) {
		t.Errorf("+I lies at %.1f°, the skin line at %.0f°", got, float64(SkinLine))
	}
}

func TestScopesCountEachSampleOnceAndPlaceLight(t *testing.T) {
	s := newScene(320, 180, 10, 1)
	f := s.frame(shot{x: 0.5, y: 0.6})
	sc := NewScopes(s.camera())
	var v Viewer
	view := v.Look(f)
	sc.Add(view)
	d := sc.Result()
	for name, g := range map[string]Grid{"luma": d.Luma, "red": d.R, "green": d.G, "blue": d.B} {
		n := 0
		for _, c := range g.Histogram() {
			n += int(c)
		}
		if n != d.Samples {
			t.Errorf("%s holds %d of %d samples", name, n, d.Samples)
		}
	}
	// A grey of the camera's own white lies at its chromaticity.
	cam := s.camera()
	slope, offset := cam.Curve.SignalFromE(colour.Narrow)
	e := (cam.Curve.Encode(colour.Grey) - offset) / slope
	grey := NewScopes(cam)
	grey.AddColours(picture.Format{Width: 64, Height: 36, Bits: 10, Sub: picture.Sub444, Range: colour.Narrow, Matrix: colour.MatrixBT709}, 64, 36, func(x, y int) [3]float64 { return [3]float64{e, e, e} })
	x, y, n := most(grey.Result().Chroma)
	want := uv76(cam.Gamut.W)
	const cell = ScopeUV / ScopeSide
	if n != 64*36 || math.Abs((float64(x)+0.5)*cell-want[0]) > cell || math.Abs((float64(y)+0.5)*cell-want[1]) > cell {
		t.Errorf("grey at u′ %.4f v′ %.4f, white at %v", (float64(x)+0.5)*cell, (float64(y)+0.5)*cell, want)
	}
	if _, y, _ := most(grey.Result().Luma); y != 420/4 {
		t.Errorf("grey of log-420 in row %d", y)
	}
	if NewScopes(Camera{}).Result().Chroma != nil {
		t.Error("chromaticity without a curve")
	}
}
