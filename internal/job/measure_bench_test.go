package job

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// benchRates are what cameras write for 1080p of 10 bits 4:2:2 (common practice,
// no source), and a clip so light that decoding costs little.
var benchRates = []struct {
	name string
	rate int64
}{{"camera", 100e6}, {"light", 6e6}}

// BenchmarkMeasureOwnCost holds what measuring a 1080p clip by the default plan
// costs against decoding it, and prints the ratio: own/decode. Decoding is the
// decoder on one thread with its pipe, so that wall time is work.
func BenchmarkMeasureOwnCost(b *testing.B) {
	for _, x := range benchRates {
		b.Run(x.name, func(b *testing.B) { measureOwnCost(b, x.rate) })
	}
}

func measureOwnCost(b *testing.B, rate int64) {
	ctx := context.Background()
	clip := filepath.Join(b.TempDir(), "clip.mov")
	format := picture.Format{Width: 1920, Height: 1080, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	w, err := media.NewWriter(ctx, clip, media.WriteOptions{Format: format, Rate: media.Rational{Num: 25, Den: 1}, Codec: media.CodecH264, BitRate: rate, Speed: media.SpeedFastest})
	if err != nil {
		b.Fatal(err)
	}
	defer w.Abort()
	const frames = 64
	r := rand.New(rand.NewPCG(1, 2))
	f := picture.NewFrame(format)
	for n := range frames {
		f.Index, f.Time = n, float64(n)/25
		// Patches of several lights, with a camera's noise.
		for i := range f.Y {
			x, y := i%format.Width, i/format.Width
			f.Y[i] = uint16(200 + 60*((x/97+y/61)%7) + (x+2*n)%13 + r.IntN(5))
		}
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = uint16(498+r.IntN(5)), uint16(518+r.IntN(5))
		}
		if err := w.Write(f); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	info, err := media.Probe(ctx, clip)
	if err != nil {
		b.Fatal(err)
	}
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		b.Fatal(err)
	}
	cam := gauge.Camera{Curve: curve, Gamut: colour.MustGamut(curve.Gamuts[0])}
	face := gauge.Region{Name: "face-lit", Box: gauge.Box{X: 0.4, Y: 0.3, W: 0.1, H: 0.2}}
	pass := func(add func(*picture.Frame)) time.Duration {
		reader, err := media.OpenReader(ctx, clip, media.ReadOptions{Info: info, Threads: 1})
		if err != nil {
			b.Fatal(err)
		}
		defer reader.Close()
		own := time.Duration(0)
		for {
			err := reader.Next(f)
			if errors.Is(err, io.EOF) {
				return own
			}
			if err != nil {
				b.Fatal(err)
			}
			if add != nil {
				began := time.Now()
				add(f)
				own += time.Since(began)
			}
		}
	}
	var decode, own time.Duration
	for b.Loop() {
		began := time.Now()
		pass(nil)
		decode += time.Since(began)
		meter := gauge.NewMeter(gauge.MeterOptions{Camera: cam, Regions: []gauge.Region{face}, Face: &face, Thin: measureThin})
		own += pass(meter.Add)
	}
	b.ReportMetric(float64(own.Milliseconds())/float64(b.N*frames), "own-ms/frame")
	b.ReportMetric(float64(decode.Milliseconds())/float64(b.N*frames), "decode-ms/frame")
	b.ReportMetric(float64(own)/float64(decode), "own/decode")
}
