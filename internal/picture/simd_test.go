package picture

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// TestGeneratedCodeIsFresh fails when the generator was changed and its output
// was not made again (go generate ./internal/picture), or the output was
// changed by hand.
func TestGeneratedCodeIsFresh(t *testing.T) {
	sums, err := os.ReadFile("asm/sum.txt")
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	for s := bufio.NewScanner(bytes.NewReader(sums)); s.Scan(); {
		var sum, name string
		if _, err := fmt.Sscan(s.Text(), &sum, &name); err != nil {
			t.Fatal(err)
		}
		listed[name] = true
		data, err := os.ReadFile(filepath.Join("asm", name))
		if err != nil {
			t.Fatal(err)
		}
		data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
		if got := fmt.Sprintf("%x", sha256.Sum256(data)); got != sum {
			t.Errorf("%s is not what asm/sum.txt says; run go generate ./internal/picture", name)
		}
	}
	names, err := filepath.Glob("asm/*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if !listed[filepath.Base(name)] {
			t.Errorf("%s is not in asm/sum.txt; run go generate ./internal/picture", name)
		}
	}
}

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
