package draw

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func testCourse() *Course {
	return &Course{
		Title: "Lamps", Unit: "stop", Zero: true, Least: 0.5,
		Days: []CourseDay{{"monday", 2, false}, {"tuesday", 1, true}, {"wednesday", 1, false}},
		Lines: []CourseLine{
			{"key", []float64{0, 0.01, -0.3, -0.31}},
			{"fill", []float64{0, math.NaN(), 0.02, 0.02}},
			{"tube", []float64{math.NaN(), math.NaN(), math.NaN(), math.NaN()}},
		},
	}
}

func TestCourseNamesWhatItHolds(t *testing.T) {
	p := testCourse()
	w, h := p.Size()
	s := NewSVG(w, h)
	p.Draw(s)
	for _, name := range []string{"Lamps, stop", "monday", "tuesday", "key", "fill", "0", "−0.2"} {
		if !bytes.Contains(s.Bytes(), []byte(">"+name+"<")) {
			t.Errorf("the plot lacks %q:\n%s", name, s.Bytes())
		}
	}
	if bytes.Contains(s.Bytes(), []byte("tube")) || bytes.Contains(s.Bytes(), []byte("NaN")) {
		t.Error("a line without a value is named")
	}
	if n := strings.Count(string(s.Bytes()), hex(courseHere)); n != 1 {
		t.Errorf("%d episodes are marked as the one spoken of", n)
	}
}

// Every point lies in the bed, at the place its value has on the named scale.
func TestCourseScaleHoldsItsValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-40, 40), 1, 12).Draw(t, "values")
		p := &Course{Whole: rapid.Bool().Draw(t, "whole"), Zero: rapid.Bool().Draw(t, "zero"), Least: rapid.Float64Range(0, 5).Draw(t, "least"), Lines: []CourseLine{{"a", values}}, Days: []CourseDay{{"d", len(values), false}}}
		lo, hi := p.scale()
		if !(hi > lo) || hi-lo < p.Least*(1-1e-12) { // rounding of two sums
			t.Fatalf("the scale runs from %g to %g", lo, hi)
		}
		for _, v := range values {
			if v < lo || v > hi {
				t.Fatalf("%g lies outside %g to %g", v, lo, hi)
			}
		}
		step := courseStep(hi - lo)
		if marks := (hi - lo) / step; marks > 5+1e-6 || marks < 1.9 {
			t.Fatalf("%g marks on a span of %g", marks, hi-lo)
		}
	})
}

func TestNamesAtTheEndsKeepApart(t *testing.T) {
	for n := range 9 {
		var ends []courseEnd
		for i := range n {
			ends = append(ends, courseEnd{fmt.Sprint(i), 0, 180 + float64(i%3), 0})
		}
		ends = spread(ends, 46, 226)
		for i := range ends {
			if ends[i].at > 226 || i > 0 && ends[i].at-ends[i-1].at < courseApart-1e-9 {
				t.Errorf("%d names: %v", n, ends)
			}
		}
	}
}
