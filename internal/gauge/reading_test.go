package gauge

import (
	"encoding/json"
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// flat is a frame of one scene-linear colour.
func flat(f picture.Format, c *colour.Curve, lin [3]float64) *picture.Frame {
	p := picture.NewFrame(f)
	fill(p, c, Box{0, 0, 1, 1}, lin)
	return p
}

// fill paints a box with a scene-linear colour.
func fill(p *picture.Frame, c *colour.Curve, b Box, lin [3]float64) {
	slope, offset := c.SignalFromE(p.Range)
	var e [3]float64
	for i := range e {
		e[i] = (c.Encode(lin[i]) - offset) / slope
	}
	ycc := p.Matrix.FromRGB().Apply(e)
	x0, y0, x1, y1 := b.Pixels(p.Width, p.Height)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			p.Y[y*p.Width+x] = uint16(max(0, math.Round(p.Range.LumaToCode(ycc[0], p.Bits))))
		}
	}
	cw, ch := p.ChromaSize()
	dx, dy := (p.Width+cw-1)/cw, (p.Height+ch-1)/ch
	for y := y0 / dy; y < min((y1+dy-1)/dy, ch); y++ {
		for x := x0 / dx; x < min((x1+dx-1)/dx, cw); x++ {
			p.Cb[y*cw+x] = uint16(math.Round(p.Range.ChromaToCode(ycc[1], p.Bits)))
			p.Cr[y*cw+x] = uint16(math.Round(p.Range.ChromaToCode(ycc[2], p.Bits)))
		}
	}
}

var format709 = picture.Format{Width: 160, Height: 90, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}

// A code of 12 bits is 0.003 to 0.012 stop on these curves from −3 to +2
// stops; rounding errs by half of that in each of three planes.
const (
	stopRounding  = 0.012
	miredRounding = 2.5
)

var format12 = picture.Format{Width: 160, Height: 90, Bits: 12, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}

func TestReadingsOfFlatFieldsInStopsAndKelvin(t *testing.T) {
	for _, id := range []string{"log-420", "log-400a", "log-445", "log-372"} {
		c, err := colour.CurveByID(id)
		if err != nil {
			t.Fatal(err)
		}
		g := colour.MustGamut(c.Gamuts[0])
		for _, want := range []float64{-3, 0, 2} {
			for _, kelvin := range []unit.Kelvin{3000, 4300, 5600} {
				white := colour.XYFromCCT(4300, 0)
				// Light of that colour on a neutral surface, as a camera
				// balanced to 4300 K records it.
				seen := colour.XYFromCCT(kelvin, 0).XYZ()
				rec := g.FromXYZ().Apply(colour.Adapt(white, g.W, colour.CAT16).Apply(seen))
				k := colour.Grey * math.Exp2(want)
				frame := flat(format12, c, [3]float64{rec[0] * k, rec[1] * k, rec[2] * k})
				var v Viewer
				r := NewReadings(Camera{Curve: c, Gamut: g, White: &white}, []Region{{Name: "card", Box: Box{0.4, 0.4, 0.2, 0.2}}})
				r.Add(v.Look(frame))
				got := r.Result()[0]
				// Adaptation keeps Y of the white only, so luminance of tinted light is not exactly k.
				lum := rec[0]*k*lumWeights(r.cam)[0] + rec[1]*k*lumWeights(r.cam)[1] + rec[2]*k*lumWeights(r.cam)[2]
				if got.Stops == nil || math.Abs(float64(*got.Stops)-math.Log2(lum/colour.Grey)) > stopRounding {
					t.Errorf("%s %g stops %g K: %v, want %.3f", id, want, kelvin, got.Stops, math.Log2(lum/colour.Grey))
				}
				if got.CCT == nil || math.Abs(float64(got.CCT.Mired()-kelvin.Mired())) > miredRounding || math.Abs(*got.Duv) > 0.0025 {
					t.Errorf("%s %g stops %g K: %+v", id, want, kelvin, got)
				}
			}
		}
	}
}

func TestReadingsSayWhatTheyDoNotKnow(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	g := colour.MustGamut(c.Gamuts[0])
	region := []Region{{Name: "face-lit", Box: Box{0.4, 0.4, 0.2, 0.3}, Shape: ShapeEllipse}}
	read := func(cam Camera, lin [3]float64) Reading {
		var v Viewer
		r := NewReadings(cam, region)
		r.Add(v.Look(flat(format709, c, lin)))
		out := r.Result()[0]
		if _, err := json.Marshal(out); err != nil {
			t.Errorf("%v: %v", lin, err)
		}
		return out
	}
	if r := read(Camera{}, [3]float64{0.2, 0.2, 0.2}); r.Stops != nil || r.XY != nil || r.CCT != nil || r.Clipped != nil || len(r.Notes) != 2 || r.Signal < 30 {
		t.Errorf("without a camera: %+v", r)
	}
	if r := read(Camera{Curve: c, Gamut: g}, [3]float64{-0.01, -0.01, -0.01}); r.Stops != nil || r.XY != nil || *r.Under != 1 {
		t.Errorf("no light: %+v", r)
	}
	if r := read(Camera{Curve: c, Gamut: g}, [3]float64{0.2, 0.2, 0.2}); r.CCT != nil || r.XY == nil {
		t.Errorf("white balance not known: %+v", r)
	}
	white := colour.XYFromCCT(5600, 0)
	if r := read(Camera{Curve: c, Gamut: g, White: &white}, [3]float64{0.05, 0.4, 0.35}); r.CCT != nil || r.Hue == nil || *r.Purity < 0.3 || *r.Purity > 1 {
		t.Errorf("a cyan tube: %+v", r)
	}
	clip := float64(c.Code10(1))
	if r := read(Camera{Curve: c, Gamut: g, ClipCode: clip}, [3]float64{1, 1, 1}); *r.Clipped != 1 || r.XY != nil {
		t.Errorf("all clipped: %+v", r)
	}
	if r := NewReadings(Camera{}, region).Result()[0]; r.Frames != 0 || len(r.Notes) == 0 {
		t.Errorf("no frames: %+v", r)
	}
}

func TestGapsBetweenLampsWithoutTheCamerasWhite(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	g := colour.MustGamut(c.Gamuts[0])
	key, rim := unit.Kelvin(3200), unit.Kelvin(5600)
	for _, balanced := range []unit.Kelvin{3200, 4300, 5600} {
		white := colour.XYFromCCT(balanced, 0)
		frame := flat(format709, c, [3]float64{0.1, 0.1, 0.1})
		for name, k := range map[string]unit.Kelvin{"key": key, "rim": rim} {
			rec := g.FromXYZ().Apply(colour.Adapt(white, g.W, colour.CAT16).Apply(colour.XYFromCCT(k, 0).XYZ()))
			b := Box{0, 0, 0.5, 1}
			if name == "rim" {
				b.X = 0.5
			}
			fill(frame, c, b, [3]float64{rec[0] * 0.2, rec[1] * 0.2, rec[2] * 0.2})
		}
		regions := []Region{{Name: "face-lit", Box: Box{0.1, 0.1, 0.3, 0.8}}, {Name: "hair", Box: Box{0.6, 0.1, 0.3, 0.8}}}
		for _, known := range []bool{true, false} {
			cam := Camera{Curve: c, Gamut: g}
			if known {
				cam.White = &white
			}
			var v Viewer
			r := NewReadings(cam, regions)
			r.Add(v.Look(frame))
			gaps := Gaps(cam, r.Result(), "face-lit")
			want := float64(rim.Mired() - key.Mired())
			if len(gaps) != 1 {
				t.Fatalf("balanced to %g K: %+v", balanced, gaps)
			}
			d := math.Abs(float64(gaps[0].Mired) - want)
			if d > float64(gaps[0].Error)+2*miredRounding {
				t.Errorf("balanced to %g K, white known %v: gap %.1f ± %.1f mired, want %.1f", balanced, known, gaps[0].Mired, gaps[0].Error, want)
			}
			t.Logf("balanced to %g K, known %v: %.1f ± %.1f (%.1f)", balanced, known, gaps[0].Mired, gaps[0].Error, want)
		}
	}
}

func TestSpreadAndErrorOfANoisyPatch(t *testing.T) {
	s := newScene(320, 180, 10, 5)
	s.still = true
	for c := range s.wall {
		for i := range s.wall[c] {
			s.wall[c][i] = colour.Grey
		}
	}
	var v Viewer
	r := NewReadings(s.camera(), []Region{{Name: "card", Box: Box{0.3, 0.3, 0.3, 0.3}}})
	const frames = 30
	for i := range frames {
		r.Add(v.Look(s.frame(shot{index: i, time: float64(i) / 25})))
	}
	got := r.Result()[0]
	sigma := math.Sqrt(s.a + s.b*colour.Grey)
	w := lumWeights(s.camera())
	want := sigma * math.Sqrt(w[0]*w[0]+w[1]*w[1]+w[2]*w[2]) / colour.Grey / math.Ln2
	// Chroma is at half the pixels, which adds to single pixels' scatter.
	if float64(*got.Spread) < want*0.9 || float64(*got.Spread) > want*1.6 || math.Abs(float64(*got.Stops)) > 0.01 {
		t.Errorf("spread %.4f stops %.4f, want %.4f and 0", *got.Spread, *got.Stops, want)
	}
	if se := float64(got.SE); se <= 0 || se > 0.002 {
		t.Errorf("standard error %.5f", se)
	}
	if len(got.Over) != frames {
		t.Errorf("%d moments", len(got.Over))
	}
}
