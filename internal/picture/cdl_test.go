package picture

import (
	"encoding/csv"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// truthFile opens a file of published check values, or skips the test and
// says which file is missing.
func truthFile(t *testing.T, name string) *os.File {
	t.Helper()
	root := os.Getenv("LAMPWISE_TRUTH")
	if root == "" {
		dir, err := os.Getwd()
		if err != nil {
			t.Fatal(err)
		}
		for {
			if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
				break
			}
			if dir == filepath.Dir(dir) {
				t.Fatal("no go.mod above the test")
			}
			dir = filepath.Dir(dir)
		}
		root = filepath.Join(dir, "..", "shared", "truth")
	}
	path := filepath.Join(root, name)
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		t.Skipf("check values absent: %s (set LAMPWISE_TRUTH)", path)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// cdlTolerance is that of Common LUT Format's implementation guide: 1/500
// relative above 0.1, 2e-4 absolute below; the values themselves are single
// precision, so a hundredth of that is asked.
func cdlTolerance(want float64) float64 { return max(2e-4, math.Abs(want)/500) / 100 }

func TestCDLAgainstReferenceLibrary(t *testing.T) {
	r := csv.NewReader(truthFile(t, "lut/expected_cdl.csv"))
	r.Comment = '#'
	if _, err := r.Read(); err != nil {
		t.Fatal(err)
	}
	n := 0
	for {
		rec, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		var x [16]float64
		for i := range x {
			if x[i], err = strconv.ParseFloat(rec[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		c := &CDL{Slope: [3]float64(x[0:3]), Offset: [3]float64(x[3:6]), Power: [3]float64(x[6:9]), Saturation: x[9], Style: CDLFwd}
		if rec[0] == "noclamp" {
			c.Style = CDLFwdNoClamp
		}
		got := c.Apply([3]float64(x[10:13]))
		for ch, want := range x[13:16] {
			if math.Abs(got[ch]-want) > cdlTolerance(want) {
				t.Errorf("%v: channel %d is %v, want %v", rec, ch, got[ch], want)
			}
		}
		n++
	}
	if n != 280 {
		t.Errorf("%d rows, want 280", n)
	}
}
