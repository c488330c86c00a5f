package gauge

import (
	"encoding/json"
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// An edge blurred by a Gaussian, summed by brute force, is the judge of the
// closed form.
func TestEdgeEnergy(t *testing.T) {
	for _, s := range []float64{0.3, 1, 2.5, 6} {
		for _, lag := range focusLag {
			sum, h := 0.0, 0.01
			for x := -100.0; x < 100; x += h {
				f := func(x float64) float64 { return (1 + math.Erf(x/s/math.Sqrt2)) / 2 }
				d := f(x+float64(lag)/2) - f(x-float64(lag)/2)
				sum += d * d * h
			}
			if got := edgeEnergy(s, lag); math.Abs(got-sum) > 1e-3*sum+0.02 {
				t.Errorf("blur %g, lag %d: %.4f, summed %.4f", s, lag, got, sum)
			}
		}
	}
}

// tiles is a picture of edges at all angles, blurred by base everywhere and by
// more inside the face.
func tiles(w, h int, n uint64, face Region, base, more float64) []float32 {
	r := newRand(n)
	sharp := make([]float32, w*h)
	for i := range sharp {
		sharp[i] = 400
	}
	for range 120 {
		cx, cy, s, a, v := r.Float64()*float64(w), r.Float64()*float64(h), 8+30*r.Float64(), r.Float64()*math.Pi, float32(250+300*r.Float64())
		co, si := math.Cos(a), math.Sin(a)
		for y := max(0, int(cy-s*1.5)); y < min(h, int(cy+s*1.5)); y++ {
			for x := max(0, int(cx-s*1.5)); x < min(w, int(cx+s*1.5)); x++ {
				dx, dy := float64(x)-cx, float64(y)-cy
				if math.Abs(dx*co+dy*si) < s && math.Abs(dy*co-dx*si) < s*0.6 {
					sharp[y*w+x] = v
				}
			}
		}
	}
	out := gauss(sharp, w, h, base)
	soft := gauss(sharp, w, h, math.Hypot(base, more))
	face.points(w, h, 1, func(x, y int) { out[y*w+x] = soft[y*w+x] })
	return out
}

func gauss(src []float32, w, h int, s float64) []float32 {
	reach := int(3*s) + 1
	k, total := make([]float32, 2*reach+1), float32(0)
	for i := range k {
		d := float64(i - reach)
		k[i] = float32(math.Exp(-d * d / (2 * s * s)))
		total += k[i]
	}
	mid, out := make([]float32, w*h), make([]float32, w*h)
	for y := range h {
		for x := range w {
			sum := float32(0)
			for i, c := range k {
				sum += c * src[y*w+min(max(x+i-reach, 0), w-1)]
			}
			mid[y*w+x] = sum / total
		}
	}
	for y := range h {
		for x := range w {
			sum := float32(0)
			for i, c := range k {
				sum += c * mid[min(max(y+i-reach, 0), h-1)*w+x]
			}
			out[y*w+x] = sum / total
		}
	}
	return out
}

var testFace = Region{Name: "face-lit", Box: Box{0.35, 0.2, 0.25, 0.5}, Shape: ShapeEllipse}

func sharpness(n uint64, more float64, sigma float64) Sharpness {
	const w, h, base = 400, 225, 0.7
	pic := tiles(w, h, n, testFace, base, more)
	f := picture.NewFrame(picture.Format{Width: w, Height: h, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	r := newRand(n + 1)
	k, noise := NewFocus(&testFace), NewNoise(Camera{})
	var v Viewer
	for i := range 3 {
		at := r.IntN(len(gaussPool))
		for p, x := range pic {
			f.Y[p] = uint16(math.Round(float64(x) + sigma*float64(gaussPool[(at+p)&(len(gaussPool)-1)])))
		}
		f.Index, f.Time = i, float64(i)/25
		look := v.Look(f)
		k.Add(look)
		noise.Add(look)
	}
	found := noise.Result()
	return k.Result(&found)
}

func TestFocusDrill(t *testing.T) {
	t.Parallel()
	drill(t, "blur of the face, pixels", FocusLimit, 12, 6, func(n uint64, size float64) (bool, float64, float64) {
		const base = 0.7
		r := sharpness(n, math.Sqrt((base+size)*(base+size)-base*base), []float64{1, 4, 8}[n%3])
		for _, p := range r.Problems {
			if p.Kind == "focus" {
				return true, p.Size, p.Error
			}
		}
		return false, 0, 0
	})
}

func TestFocusThatMovesAndFocusThatCannotBeTold(t *testing.T) {
	const w, h = 400, 225
	f := picture.NewFrame(picture.Format{Width: w, Height: h, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	var pics [12][]float32
	for i := range pics {
		pics[i] = tiles(w, h, 900, testFace, 0.7, 2.4*float64(i)/11+0.01)
	}
	k := NewFocus(&testFace)
	var v Viewer
	for i := range 60 {
		at := min(max(i-24, 0), 11) // softer within half a second
		for p, x := range pics[at] {
			f.Y[p] = uint16(x + 0.5)
		}
		f.Index, f.Time = i, float64(i)/25
		k.Add(v.Look(f))
	}
	got := k.Result(nil)
	moved := false
	for _, p := range got.Problems {
		moved = moved || p.Kind == "focus-moves" && math.Abs(p.Size-1.8) < 0.6 && p.From > 0.8 && p.To < 1.7
	}
	if !moved {
		t.Errorf("%+v", got.Problems)
	}
	c, _ := colour.CurveByID("log-420")
	for _, face := range []*Region{nil, &testFace} {
		k := NewFocus(face)
		k.Add(v.Look(flat(format709, c, [3]float64{0.2, 0.2, 0.2})))
		r := k.Result(nil)
		if r.Face != nil || r.Rest != nil || len(r.Notes) == 0 || len(r.Problems) > 0 {
			t.Errorf("an even picture: %+v", r)
		}
		if _, err := json.Marshal(r); err != nil {
			t.Error(err)
		}
	}
}
