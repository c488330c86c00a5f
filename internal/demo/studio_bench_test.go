package demo

import (
	"context"
	"testing"
)

// BenchmarkStudio traces the whole example at 1080 lines, as shipped.
func BenchmarkStudio(b *testing.B) {
	for b.Loop() {
		if _, err := NewStudio(context.Background(), StudioOptions{Height: 1080, Seed: 1}, nil); err != nil {
			b.Fatal(err)
		}
	}
}
