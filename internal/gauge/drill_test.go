package gauge

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// drills multiplies the clips of every drill: LAMPWISE_DRILLS=10 takes some
// minutes and tells rates ten times as finely. cleanest is the fewest clean
// clips a drill tries: with LAMPWISE_CLEAN=300 none that alarms proves less
// than 1 % at 95 % of confidence.
var drills, cleanest = fromEnv("LAMPWISE_DRILLS", 1), fromEnv("LAMPWISE_CLEAN", 0)

func fromEnv(name string, least int) int {
	n, err := strconv.Atoi(os.Getenv(name))
	if err != nil || n < least {
		return least
	}
	return n
}

const confidence = 0.95

// atMost and atLeast bound a rate seen as k of n, each at 95 % of confidence
// (Clopper and Pearson, Biometrika 26, 1934, one side).
func atMost(k, n int) float64 {
	if k >= n {
		return 1
	}
	return distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(confidence)
}

func atLeast(k, n int) float64 { return 1 - atMost(n-k, n) }

func TestBoundsOfRates(t *testing.T) {
	// None of n: 1 − 0.05^(1/n), in closed form.
	for _, n := range []int{1, 59, 300} {
		want := 1 - math.Pow(1-confidence, 1/float64(n))
		if got := atMost(0, n); math.Abs(got-want) > 1e-6 {
			t.Errorf("0 of %d: at most %g, want %g", n, got, want)
		}
	}
	// The binomial sum of up to k at the bound is what confidence leaves.
	sum := 0.0
	b := distuv.Binomial{N: 400, P: atMost(3, 400)}
	for k := range 4 {
		sum += b.Prob(float64(k))
	}
	if math.Abs(sum-(1-confidence)) > 1e-6 {
		t.Errorf("3 of 400: %g is left, want %g", sum, 1-confidence)
	}
}

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
		if times == 0 {
			n = max(n, cleanest)
		}
		if n == 0 {
			continue
		}
		hits, right := 0, 0
		worst := 0.0
		for i := range n {
			size := times * limit
			hit, got, e := try(uint64(100000*times)+uint64(i)+1, size)
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
			line += fmt.Sprintf(" false %d/%d (at most %.2f %%)", hits, n, 100*atMost(hits, n))
			if rate >= 0.01 && hits > 1 {
				t.Errorf("%s: %d false alarms in %d clean clips (seed %d)", name, hits, n, seed)
			}
		default:
			line += fmt.Sprintf(" · %g× %d/%d (at least %.1f %%", times, hits, n, 100*atLeast(hits, n))
			if hits > 0 {
				line += fmt.Sprintf("; size right %d, worst by %.3g", right, worst)
			}
			line += ")"
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
