//go:build unix

package job

import (
	"context"
	"errors"
	"io"
	"os"
	"syscall"
	"testing"
	"time"

	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/store"
)

// BenchmarkLearn says how long learning a switch clip takes against decoding it
// alone, by the clock and in processor time (of the decoder's process, too):
//
//	LAMPWISE_CLIP=switch.mov LAMPWISE_ORDER='all, -key, …' go test -run '^$' -bench Learn -benchtime 3x ./internal/job
//
// record is what grows with the clip: decoding, light, holds. learn is the
// whole job, with what is worth the same for any length of clip. Without an
// order the clip's beeps are listened for.
func BenchmarkLearn(b *testing.B) {
	path := os.Getenv("LAMPWISE_CLIP")
	if path == "" {
		b.Skip("LAMPWISE_CLIP names no switch clip")
	}
	ctx := context.Background()
	s, err := store.Open(ctx, b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	info, err := media.Probe(ctx, path)
	if err != nil {
		b.Fatal(err)
	}
	d, err := decodingOf("log-420", media.Override{})
	if err != nil {
		b.Fatal(err)
	}
	var decode, record, learn spent
	for b.Loop() {
		decode.time(func() {
			r := mustOpen(b, info)
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
		})
		record.time(func() {
			r := mustOpen(b, info)
			l := newLightDecoder(r.Format(), d, workingWidth, 820)
			rec, err := lamps.NewRecorder(l.w, l.h, info.Video.Rate.Float())
			if err != nil {
				b.Fatal(err)
			}
			if _, err := recordLight(ctx, r, l, rec, func(int64) {}); err != nil {
				b.Fatal(err)
			}
			if _, err := rec.Finish(); err != nil {
				b.Fatal(err)
			}
			r.Close()
		})
		learn.time(func() {
			if _, err := Learn(ctx, s, LearnRequest{Clip: path, Set: "bench", Curve: "log-420", Order: os.Getenv("LAMPWISE_ORDER"), Overwrite: true}, nil); err != nil {
				b.Fatal(err)
			}
		})
	}
	b.ReportMetric(float64(decode.clock.Milliseconds())/float64(b.N), "ms-decode")
	b.ReportMetric(float64(record.clock)/float64(decode.clock), "record/decode")
	b.ReportMetric(float64(record.processor)/float64(decode.processor), "record/decode-cpu")
	b.ReportMetric(float64(learn.clock)/float64(decode.clock), "learn/decode")
	b.ReportMetric(float64(learn.processor)/float64(decode.processor), "learn/decode-cpu")
}

func mustOpen(b *testing.B, info *media.Info) *media.Reader {
	r, err := media.OpenReader(context.Background(), info.Path, media.ReadOptions{Info: info})
	if err != nil {
		b.Fatal(err)
	}
	return r
}

// spent is time by the clock and of processors.
type spent struct{ clock, processor time.Duration }

func (s *spent) time(f func()) {
	began, before := time.Now(), processorTime()
	f()
	s.clock += time.Since(began)
	s.processor += processorTime() - before
}

func processorTime() (sum time.Duration) {
	for _, who := range []int{syscall.RUSAGE_SELF, syscall.RUSAGE_CHILDREN} {
		var u syscall.Rusage
		if syscall.Getrusage(who, &u) == nil {
			sum += time.Duration(u.Utime.Nano() + u.Stime.Nano())
		}
	}
	return sum
}
