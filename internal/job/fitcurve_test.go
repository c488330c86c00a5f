package job

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// A bracket of clips of a known curve, with noise, through an encoder: the
// fitted curve is the known one within the errors it states, and the brightest
// exposures, which clip, are left out.
func TestFitBracketOfClips(t *testing.T) {
	t.Parallel()
	known, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	const noise, clip = 3, 900 // 10-bit codes
	dir := t.TempDir()
	random := rand.New(rand.NewPCG(4, 20))
	format := picture.Format{Width: 48, Height: 32, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	r := BracketRequest{Card: gauge.Box{X: 0.1, Y: 0.1, W: 0.8, H: 0.8}}
	for _, at := range []unit.Stop{unit.Stop(math.Inf(-1)), -7, -6, -5, -4, -3, -2, 0, 2, 4, 6, 8} { // the first: the lens capped
		path := filepath.Join(dir, fmt.Sprintf("%g.mov", float64(at)))
		w, err := media.NewWriter(context.Background(), path, media.WriteOptions{
			Format: format, Rate: media.Rational{Num: 25, Den: 1}, Codec: media.CodecH264, Quality: 8, Speed: media.SpeedFastest,
		})
		if err != nil {
			t.Fatal(err)
		}
		code := 1023 * known.Encode(colour.Grey*math.Exp2(float64(at)))
		for range 3 {
			f := picture.NewFrame(format)
			for i := range f.Y {
				f.Y[i] = uint16(min(clip, math.Round(code+noise*random.NormFloat64())))
			}
			for i := range f.Cb {
				f.Cb[i], f.Cr[i] = 512, 512
			}
			if err := w.Write(f); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		r.Files = append(r.Files, BracketFile{Path: path, Stops: at})
	}
	fit, err := FitCurve(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	// The published formula of the known curve (shared/truth/log-curves.json, log-420), with base 2 and a linSideSlope of 1.
	slope := 261.5 / 1023 * math.Log10(2)
	truth := map[string]float64{
		"linSideOffset": 0.01, "logSideSlope": slope, "logSideOffset": 420.0/1023 - slope*math.Log2(0.19),
		"linSideBreak": 0.01125, "linearSlope": (171.2102946929 - 95) / 0.01125 / 1023,
	}
	free := 0
	for _, p := range fit.Parameters {
		if p.Fixed {
			continue
		}
		free++
		t.Logf("%s %.6g ± %.2g, known %.6g", p.Name, p.Value, p.SE, truth[p.Name])
		if d := math.Abs(p.Value - truth[p.Name]); !(d <= 3*p.SE) { // one in 370 a parameter, by chance; the seed is fixed
			t.Errorf("%s is %.3g off, %.1f of its stated errors", p.Name, d, d/p.SE)
		}
		if !(p.SE < 0.02*math.Abs(truth[p.Name])) {
			t.Errorf("%s is known to ± %.2g only", p.Name, p.SE)
		}
	}
	if free < 3 || fit.LeftOut != 1 || len(fit.Nearest) == 0 || fit.Nearest[0].ID != "log-420" || !fit.Nearest[0].Plausible {
		t.Errorf("%d numbers fitted, %d exposures left out, nearest %+v", free, fit.LeftOut, fit.Nearest[:1])
	}
}
