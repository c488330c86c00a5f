package job

import (
	"crypto/sha256"
	"encoding/json"
	"sync"

	"lampwise/internal/picture"
)

// executor carries a program out on frames.
type executor interface {
	Run(in, out *picture.Frame) error
	// Evaluated counts the pixels done, and those of them that were evaluated exactly.
	Evaluated() (pixels, exact int64)
	SIMD() bool
}

// compiled keeps the last kernel: a render's trial, the render, its verify and
// the next clip of an episode mostly share one grade and one format, and
// compiling takes seconds.
var compiled struct {
	sync.Mutex
	key    [sha256.Size]byte
	kernel *picture.Kernel
	error  *picture.Measured
}

// portable keeps kernels to arithmetic that every processor has; benchmarks set
// it to measure what machines without wide instructions get.
var portable bool

// Kernel compiles the work's program for its clip's frames and fills in the
// program's measured error. workers 0 stands for all processors.
func (w *Work) Kernel(workers int) (executor, error) {
	w.Program.Error = nil
	// The tables do not depend on how their result is written: several finished files
	// of one clip, and their verifying, share them.
	alike := *w.Program
	alike.Output.Bits, alike.Output.Sub, alike.Output.Dither, alike.Output.Seed = 10, picture.Sub422, picture.DitherNone, 0
	text, err := json.Marshal(struct {
		Program  *picture.Program
		Format   picture.Format
		Workers  int
		Portable bool
	}{&alike, w.Format, workers, portable})
	if err != nil {
		return nil, err
	}
	key := sha256.Sum256(text)
	compiled.Lock()
	defer compiled.Unlock()
	if compiled.kernel == nil || compiled.key != key {
		k, err := picture.Compile(w.Program, w.Path.Exact, w.Format, picture.KernelOptions{Workers: workers, Portable: portable, Tables: tables(w.Program, w.Format)})
		if err != nil {
			return nil, err
		}
		compiled.key, compiled.kernel, compiled.error = key, k, w.Program.Error
	}
	w.Program.Error = compiled.error
	k, err := compiled.kernel.To(w.Program.Output)
	if err != nil {
		return nil, err
	}
	return counted{k, newCount(k)}, nil
}

// counted is a kernel that counts from when it was handed out.
type counted struct {
	*picture.Kernel
	before count
}

type count struct{ pixels, exact int64 }

func newCount(k *picture.Kernel) count {
	pixels, exact := k.Evaluated()
	return count{pixels, exact}
}

// Evaluated implements executor.
func (c counted) Evaluated() (pixels, exact int64) {
	pixels, exact = c.Kernel.Evaluated()
	return pixels - c.before.pixels, exact - c.before.exact
}

// kernelName says in a word which arithmetic runs.
func kernelName(k executor) string {
	if k.SIMD() {
		return "simd"
	}
	return "portable"
}
