package demo

import (
	"context"
	"testing"

	"lampwise/internal/picture"
)

// BenchmarkStudio traces the whole example at 1080 lines, as shipped.
func BenchmarkStudio(b *testing.B) {
	for b.Loop() {
		if _, err := NewStudio(context.Background(), StudioOptions{Height: 1080, Seed: 1}, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFilm films frames of the switch clip at 1080 lines; one operation
// is one frame. The tracing is left coarse: it doesn't count here.
func BenchmarkFilm(b *testing.B) {
	s, err := NewStudio(context.Background(), StudioOptions{Height: 1080, Seed: 1, Fine: 0.1}, nil)
	if err != nil {
		b.Fatal(err)
	}
	c, err := NewCamera("log-420", "r7300-g8550", exampleFormat(s.Width, s.Height))
	if err != nil {
		b.Fatal(err)
	}
	clips := scripts(s.lamps, 1, 1)
	levels := clips[0].play(s.lamps)
	film := NewFilm(s, c, 1)
	out := picture.NewFrame(c.Format)
	for i := 0; b.Loop(); i++ {
		k := i % len(levels)
		t := float64(k) / Rate
		pose := Still
		pose.Scale = breathing(t, clips[0].breathe)
		if err := film.Frame(context.Background(), k, Shot{Levels: levels[k], Pose: pose, Gain: 1, Body: Moving(t, 1)}, out); err != nil {
			b.Fatal(err)
		}
	}
}
