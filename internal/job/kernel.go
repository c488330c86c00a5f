package job

import (
	"lampwise/internal/picture"
)

// executor carries a program out on frames.
type executor interface {
	Run(in, out *picture.Frame) error
	// Evaluated counts the pixels done, and those of them that were evaluated exactly.
	Evaluated() (pixels, exact int64)
	SIMD() bool
}

// Kernel compiles the work's program for its clip's frames and fills in the
// program's measured error. workers 0 stands for all processors.
func (w *Work) Kernel(workers int) (executor, error) {
	return picture.Compile(w.Program, w.Path.Exact, w.Format, picture.KernelOptions{Workers: workers})
}

// kernelName says in a word which arithmetic runs.
func kernelName(k executor) string {
	if k.SIMD() {
		return "simd"
	}
	return "portable"
}
