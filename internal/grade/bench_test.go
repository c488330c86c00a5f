package grade

import "testing"

// BenchmarkExact is one colour through the starting grade, exactly; verify and
// flagged cells of the fast executor pay it for each pixel.
func BenchmarkExact(b *testing.B) {
	p := mustBuild(b, Starting("log-420"), Clip{ClipCode: 0.9})
	y := [3]float64{0.4, 0.42, 0.38}
	b.ReportAllocs()
	for b.Loop() {
		y[0] = 0.3 + p.Exact(y)[0]*1e-3
	}
}

// BenchmarkProgram is the same by the program's sampled ops.
func BenchmarkProgram(b *testing.B) {
	prog := mustProgram(b, mustBuild(b, Starting("log-420"), Clip{ClipCode: 0.9}))
	y := [3]float64{0.4, 0.42, 0.38}
	for b.Loop() {
		y[0] = 0.3 + prog.Colour(y)[0]*1e-3
	}
}

func BenchmarkBuildAndCompileToProgram(b *testing.B) {
	for b.Loop() {
		mustProgram(b, mustBuild(b, Starting("log-420"), Clip{ClipCode: 0.9}))
	}
}
