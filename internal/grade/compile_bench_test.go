package grade

import (
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// BenchmarkKernelCompile is what a render with a new grade does before its first
// frame: the starting grade's tables, baked and tried.
func BenchmarkKernelCompile(b *testing.B) {
	p := mustBuild(b, Starting("log-420"), Clip{ClipCode: 0.9})
	prog := mustProgram(b, p)
	in := picture.Format{Width: 64, Height: 36, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	for b.Loop() {
		if _, err := picture.Compile(prog, p.Exact, in, picture.KernelOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
