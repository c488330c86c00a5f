package picture

import (
	"bytes"
	"os"
	"runtime"
	"testing"
)

// TestWideFormIsUsed fails where the processor has AVX2 and the kernel would
// not use it, so that the comparisons of the wide with the portable form
// can't pass by leaving it out.
func TestWideFormIsUsed(t *testing.T) {
	if got := filmKernel().SIMD(); got != simdAvailable {
		t.Errorf("the kernel's wide form: %v, available: %v", got, simdAvailable)
	}
	info, err := os.ReadFile("/proc/cpuinfo")
	if runtime.GOARCH != "amd64" || err != nil || !buildHasWide {
		t.Skip("no amd64 Linux, or a purego build: nothing to compare the processor's features with")
	}
	if has := bytes.Contains(info, []byte(" avx2 ")); has != simdAvailable {
		t.Errorf("the system says AVX2: %v, the kernel: %v", has, simdAvailable)
	}
}
