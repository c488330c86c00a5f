//go:build unix

package lamps

import (
	"math/rand/v2"
	"syscall"
	"testing"
)

// BenchmarkCheck times a set check at the usual working size, by the clock and
// in processor time, the camera being nudged.
func BenchmarkCheck(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	const w, h = 960, 540
	g, s, cam := madeSet(b, rng, 6, w, h)
	d := day{stops: make([]float64, 6), colour: make([]float64, 6), moved: -1, frames: 1, pose: pose{x: .05}, nudge: nudge{3.2, 1.1, .1, 1.001}}
	today := d.shoot(rng, g, cam, s.Mix, w, h)
	b.ResetTimer()
	before := processorTime()
	for b.Loop() {
		if _, err := s.Check(today); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(processorTime()-before)/1e6/float64(b.N), "ms-cpu")
}

// processorTime is what this process has used, in ns.
func processorTime() int64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return u.Utime.Nano() + u.Stime.Nano()
}

// BenchmarkRecorder times one frame of a switch clip at the usual working size.
func BenchmarkRecorder(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	const w, h = 960, 540
	g := newGarage(rng, 6)
	cam := newCamera()
	frame := cam.shoot(rng, mixed(g.render(w, h, pose{}, nudge{}), flat([]float64{1, 1, 1, 1, 1, 1})))
	r, err := NewRecorder(w, h, 25)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for b.Loop() {
		if err := r.Add(frame, 0); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSeparate times the separation of 14 holds of 6 lamps.
func BenchmarkSeparate(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	const w, h = 960, 540
	g := newGarage(rng, 6)
	cam := newCamera()
	parts := g.render(w, h, pose{}, nudge{})
	o := mustOrder(b, "all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all, -bench, all, dark")
	holds := shownHolds(rng, parts, cam, o, nil)
	b.ResetTimer()
	for b.Loop() {
		if _, err := Learn(holds, o, cam.noise(), LearnOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
