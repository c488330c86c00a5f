package media

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// TestPhotographsThroughLogVideo takes real scene-linear photographs (OpenEXR's
// images, see the truth folder's README) through 10-bit 4:2:2 log video and
// back, by our writer and reader.
//
// With a lossless encoder only rounding to codes is left, and the bound is
// derived: half a code of luma and of each chroma, through the matrix, on the
// signal; what that is in light, the curve itself says. Each photograph's pixel
// stands twice in a row, so that its chroma has a sample of its own (co-sited,
// ITU-T H.273); the second of the two is between samples and isn't compared.
// With the intermediate's own encoder the errors are printed, in stops.
func TestPhotographsThroughLogVideo(t *testing.T) {
	needFFmpeg(t)
	folder := truthFolder(t)
	ctx := context.Background()
	for _, name := range []string{"Desk.exr", "StillLife.exr"} {
		path := filepath.Join(folder, "images", name)
		photo, err := ReadStill(ctx, path)
		if err != nil {
			t.Skipf("no photograph: %s: %v", path, err)
		}
		light := crop(photo.Image, 160, 120)
		for _, id := range []string{"log-420", "log-285", "log-351b"} {
			curve, err := colour.CurveByID(id)
			if err != nil {
				t.Fatal(err)
			}
			t.Run(name+" "+id, func(t *testing.T) {
				f := picture.Format{Width: 2 * light.W, Height: light.H, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
				for _, o := range []WriteOptions{
					{Format: f, Rate: Rational{25, 1}, Codec: CodecH264, Lossless: true},
					{Format: f, Rate: Rational{25, 1}, Codec: CodecIntermediate},
				} {
					if !o.Lossless && id != "log-420" {
						continue // told once: it says more of the codec than of the curve
					}
					sent := recorded(light, curve, f)
					got := throughVideo(ctx, t, sent, o)
					compareLight(t, light, curve, got, o.Lossless)
				}
			})
		}
	}
}

// crop cuts the middle out and scales it so that its median is grey.
func crop(im *picture.Image, w, h int) *picture.Image {
	out := picture.NewImage(w, h, picture.SpaceSceneLinear)
	var luma []float64
	for y := range h {
		for x := range w {
			v := im.At(x+(im.W-w)/2, y+(im.H-h)/2)
			out.Set(x, y, v)
			luma = append(luma, v[1])
		}
	}
	slices.Sort(luma)
	for i := range out.Pix {
		out.Pix[i] *= float32(colour.Grey / luma[len(luma)/2])
	}
	return out
}

// recorded is the frame that a camera with the curve would record, its codes
// rounded.
func recorded(light *picture.Image, curve *colour.Curve, f picture.Format) *picture.Frame {
	frame := picture.NewFrame(f)
	slope, offset := curve.SignalFromE(f.Range)
	lumaSlope, lumaOffset := f.Range.LumaScale(f.Bits)
	chromaSlope, chromaOffset := f.Range.ChromaScale(f.Bits)
	code := func(v float64) uint16 { return uint16(math.Round(math.Max(4, math.Min(1019, v)))) }
	for y := range light.H {
		for x := range light.W {
			v := light.At(x, y)
			for ch := range v {
				v[ch] = (curve.Encode(v[ch]) - offset) / slope
			}
			c := f.Matrix.FromRGB().Apply(v)
			frame.Y[y*f.Width+2*x] = code(lumaSlope*c[0] + lumaOffset)
			frame.Y[y*f.Width+2*x+1] = frame.Y[y*f.Width+2*x]
			frame.Cb[y*light.W+x] = code(chromaSlope*c[1] + chromaOffset)
			frame.Cr[y*light.W+x] = code(chromaSlope*c[2] + chromaOffset)
		}
	}
	return frame
}

func throughVideo(ctx context.Context, t *testing.T, sent *picture.Frame, o WriteOptions) *picture.Frame {
	t.Helper()
	file := filepath.Join(t.TempDir(), "log.mov")
	w, err := NewWriter(ctx, file, o)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	if err := w.Write(sent); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := OpenReader(ctx, file, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	got := picture.NewFrame(r.Format())
	if err := r.Next(got); err != nil {
		t.Fatal(err)
	}
	return got
}

func compareLight(t *testing.T, light *picture.Image, curve *colour.Curve, got *picture.Frame, exact bool) {
	t.Helper()
	slope, offset := curve.SignalFromE(got.Range)
	lumaSlope, _ := got.Range.LumaScale(got.Bits)
	chromaSlope, _ := got.Range.ChromaScale(got.Bits)
	m := got.Matrix.ToRGB()
	top := curve.Decode(1)
	var errors []float64
	outside := 0
	for y := range light.H {
		for x := range light.W {
			want, e := light.At(x, y), got.RGB(2*x, y)
			if math.Max(want[0], math.Max(want[1], want[2])) >= top {
				continue // brighter than the curve's last code
			}
			for ch := range e {
				signal := slope*e[ch] + offset
				reach := slope * (math.Abs(m[ch][0])*0.5/lumaSlope + (math.Abs(m[ch][1])+math.Abs(m[ch][2]))*0.5/chromaSlope)
				lo, hi := curve.Decode(signal-reach), curve.Decode(signal+reach)
				if exact && (want[ch] < lo-1e-9 || want[ch] > hi+1e-9) {
					outside++
				}
				if want[ch] > 0.01 {
					errors = append(errors, math.Abs(math.Log2(math.Max(curve.Decode(signal), 1e-6)/want[ch])))
				}
			}
		}
	}
	slices.Sort(errors)
	at := func(p float64) float64 { return errors[int(p*float64(len(errors)-1))] }
	t.Logf("%s: %d numbers over 0.01: %.4f stop in the middle, %.4f at 99 %%, %.3f at most", map[bool]string{true: "lossless", false: "intermediate"}[exact], len(errors), at(0.5), at(0.99), at(1))
	if outside > 0 {
		t.Errorf("%d numbers are further off than rounding to codes explains", outside)
	}
}
