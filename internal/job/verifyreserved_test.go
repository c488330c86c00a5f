package job

import "testing"

// Single ringing samples are told and are no fault; a picture that was never
// limited is one.
func TestReservedCodesAreAFaultOnlyInNumbers(t *testing.T) {
	for _, c := range []struct {
		share           float64
		problems, notes int
	}{{0, 0, 0}, {3.47e-7, 0, 1}, {ringing, 0, 1}, {2 * ringing, 1, 0}, {0.3, 1, 0}} {
		v := &Verified{Levels: Levels{Reserved: c.share}}
		v.checkReserved(2)
		if len(v.Problems) != c.problems || len(v.Notes) != c.notes {
			t.Errorf("share %g: problems %v, notes %v", c.share, v.Problems, v.Notes)
		}
	}
}
