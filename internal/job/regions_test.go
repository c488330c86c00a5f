package job

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestMaskRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mask := rapid.SliceOfN(rapid.Bool(), 1, 200).Draw(t, "mask")
		got, ok := maskOf(runsOf(mask), len(mask))
		if ok != slices.Contains(mask, true) {
			t.Fatalf("%v: ok %v", mask, ok)
		}
		if ok && !slices.Equal(mask, got) {
			t.Fatalf("%v came back as %v", mask, got)
		}
	})
	for _, bad := range [][]int{{5}, {-1, 6}, {2, 9}, {2, 2}, {1 << 40}} {
		if _, ok := maskOf(bad, 5); ok {
			t.Errorf("%v was taken as a mask of 5 pixels", bad)
		}
	}
}
