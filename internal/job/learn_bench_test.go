package job

import (
	"context"
	"errors"
	"io"
	"os"
	"testing"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// BenchmarkLearn says how long looking at a switch clip takes against decoding
// it alone: LAMPWISE_CLIP=switch.mov go test -run '^$' -bench Learn ./internal/job
func BenchmarkLearn(b *testing.B) {
	path := os.Getenv("LAMPWISE_CLIP")
	if path == "" {
		b.Skip("LAMPWISE_CLIP names no switch clip")
	}
	ctx := context.Background()
	info, err := media.Probe(ctx, path)
	if err != nil {
		b.Fatal(err)
	}
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		b.Fatal(err)
	}
	open := func() *media.Reader {
		r, err := media.OpenReader(ctx, path, media.ReadOptions{Info: info})
		if err != nil {
			b.Fatal(err)
		}
		return r
	}
	var decode, light, all time.Duration
	for b.Loop() {
		began := time.Now()
		r := open()
		f := picture.NewFrame(r.Format())
		for {
			err := r.Next(f)
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
		}
		r.Close()
		decode += time.Since(began)

		began = time.Now()
		r = open()
		l := newLightDecoder(r.Format(), Decoding{Curve: curve}, workingWidth, 820)
		if _, err := streamLight(ctx, r, l, func(*lamps.Light, float64) error { return nil }); err != nil {
			b.Fatal(err)
		}
		r.Close()
		light += time.Since(began)

		began = time.Now()
		r = open()
		rec, err := lamps.NewRecorder(l.w, l.h, info.Video.Rate.Float())
		if err != nil {
			b.Fatal(err)
		}
		if _, err := streamLight(ctx, r, l, func(x *lamps.Light, t float64) error { return rec.Add(x, unit.Second(t)) }); err != nil {
			b.Fatal(err)
		}
		if _, err := rec.Finish(); err != nil {
			b.Fatal(err)
		}
		r.Close()
		all += time.Since(began)
	}
	b.ReportMetric(float64(decode.Milliseconds())/float64(b.N), "ms-decode")
	b.ReportMetric(float64(light)/float64(decode), "light/decode")
	b.ReportMetric(float64(all)/float64(decode), "all/decode")
}
