package gauge

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
)

// drills multiplies the clips of every drill: LAMPWISE_DRILLS=10 takes some
// minutes and tells rates ten times as finely.
var drills = func() int {
	n, err := strconv.Atoi(os.Getenv("LAMPWISE_DRILLS"))
	if err != nil || n < 1 {
		return 1
	}
	return n
}()

// drill plants a fault of 0, 1, 2 and 4 times a detector's stated limit, with
// fresh seeds, and holds the detector to what issue 4 asks: at least 95 % hits
// at twice the limit, all at four times, fewer than 1 % false alarms. try
// makes a clip with a fault of the given size, tells whether the detector
// found it and what size it gave, with the error it states for that size.
//
// Rates are printed. A size within its stated error is asked of 90 % of hits
// at twice the limit and above, but for one, the error being one that is kept
// 95 % of the time.
func drill(t *testing.T, name string, limit float64, clean, planted int, try func(n uint64, size float64) (hit bool, got, err float64)) {
	t.Helper()
	line := fmt.Sprintf("%s, limit %g:", name, limit)
	for _, times := range []float64{0, 1, 2, 4} {
		n := planted
		if times == 0 {
			n = clean
		}
		n *= drills
		if n == 0 {
			continue
		}
		hits, right := 0, 0
		worst := 0.0
		for i := range n {
			size := times * limit
			hit, got, e := try(uint64(1000*times)+uint64(i)+1, size)
			if !hit {
				continue
			}
			hits++
			if math.Abs(got-size) <= e {
				right++
			}
			worst = max(worst, math.Abs(got-size))
		}
		rate := float64(hits) / float64(n)
		switch times {
		case 0:
			line += fmt.Sprintf(" false %d/%d", hits, n)
			if rate >= 0.01 && hits > 1 {
				t.Errorf("%s: %d false alarms in %d clean clips (seed %d)", name, hits, n, seed)
			}
		default:
			line += fmt.Sprintf(" · %g× %d/%d", times, hits, n)
			if hits > 0 {
				line += fmt.Sprintf(" (size right %d, worst by %.3g)", right, worst)
			}
			if times == 2 && rate < 0.95 || times == 4 && rate < 1 {
				t.Errorf("%s: %d of %d found at %g× the limit (seed %d)", name, hits, n, times, seed)
			}
			if times >= 2 && float64(right) < 0.9*float64(hits)-1 {
				t.Errorf("%s: size within its stated error in only %d of %d at %g× (seed %d)", name, right, hits, times, seed)
			}
		}
	}
	t.Log(line)
}
