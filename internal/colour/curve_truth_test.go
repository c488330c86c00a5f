package colour

import (
	"fmt"
	"math"
	"strconv"
	"testing"
)

type truthCurve struct {
	ID        string             `json:"id"`
	CLF       map[string]float64 `json:"clf_cameraLinToLog"`
	Domain    string             `json:"clf_valid_domain"`
	Gamuts    []string           `json:"gamut_ids"`
	Published map[string]float64 `json:"published_10bit_codes"`
	Anchors   map[string]struct {
		Norm   float64 `json:"norm"`
		Code10 float64 `json:"code10"`
	} `json:"computed_anchors"`
	Stops    float64 `json:"stops_over_grey_at_code_1023"`
	Builtins []int   `json:"debian_ocio_2_1_2_builtin_index"`
}

func truthCurves(t *testing.T) []truthCurve {
	var file struct {
		Curves []truthCurve `json:"curves"`
	}
	truthJSON(t, "log-curves.json", &file)
	if len(file.Curves) != 19 {
		t.Fatalf("log-curves.json has %d curves, expected 19", len(file.Curves))
	}
	return file.Curves
}

// anchorTolerance: the check values are float64 results of the same published
// formulas, so only rounding of the last places may differ. log-420's black
// is given by a reference library whose own constants differ by 4·10⁻¹⁴.
const anchorTolerance = 1e-13

func TestAnchorsAgainstComputed(t *testing.T) {
	for _, want := range truthCurves(t) {
		c, err := CurveByID(want.ID)
		if err != nil {
			t.Error(err)
			continue
		}
		for percent, anchor := range want.Anchors {
			got := c.Encode(number(t, percent) / 100)
			if math.Abs(got-anchor.Norm) > anchorTolerance {
				t.Errorf("%s at %s %%: y = %.17g, expected %.17g", c.ID, percent, got, anchor.Norm)
			}
			if code := float64(c.Code10(number(t, percent) / 100)); math.Abs(code-anchor.Code10) > 1023*anchorTolerance {
				t.Errorf("%s at %s %%: code %.12g, expected %.12g", c.ID, percent, code, anchor.Code10)
			}
		}
		if got := float64(c.StopsAtTop()); math.Abs(got-want.Stops) > 2e-4 {
			t.Errorf("%s: top at %.6f stops over grey, expected %.6f", c.ID, got, want.Stops)
		}
		if fmt.Sprint(c.Gamuts[:len(want.Gamuts)]) != fmt.Sprint(want.Gamuts) {
			t.Errorf("%s: gamuts %v, expected first %v", c.ID, c.Gamuts, want.Gamuts)
		}
		for percent, code := range want.Published {
			p, _ := strconv.Atoi(percent)
			if float64(c.PublishedCodes[p]) != code {
				t.Errorf("%s: published code at %s %% is %d, expected %g", c.ID, percent, c.PublishedCodes[p], code)
			}
		}
		if len(want.Published) != len(c.PublishedCodes) {
			t.Errorf("%s: published codes %v, expected %v", c.ID, c.PublishedCodes, want.Published)
		}
	}
}

// TestPublishedCodes holds the formulas to the codes their makers print. A
// printed code is a whole number, so half a code is what rounding explains.
// log-351b's code at 720 % is printed 1016 and computed 1016.3.
func TestPublishedCodes(t *testing.T) {
	const halfCode = 0.5
	seen := 0
	for _, c := range Curves() {
		for percent, code := range c.PublishedCodes {
			seen++
			if got := float64(c.Code10(float64(percent) / 100)); math.Abs(got-float64(code)) > halfCode {
				t.Errorf("%s: %d %% is published at %d, computed %.3f", c.ID, percent, code, got)
			}
		}
	}
	if seen < 20 {
		t.Errorf("only %d published codes were looked at", seen)
	}
}

// TestCLFNumbers compares the cameraLinToLog numbers with the stated ones.
func TestCLFNumbers(t *testing.T) {
	for _, want := range truthCurves(t) {
		c, err := CurveByID(want.ID)
		if err != nil {
			t.Fatal(err)
		}
		p, ok := c.CLF()
		if ok != (want.CLF != nil && want.Domain == "all") {
			t.Errorf("%s: CLF form holds everywhere: %v, expected domain %q", c.ID, ok, want.Domain)
		}
		if want.CLF == nil {
			continue
		}
		form, _ := c.LogForm()
		p = form.Params
		// log-400a's stated numbers are the unrounded ones behind the six
		// published digits; the others are the same numbers.
		tolerance := 1e-12
		if c.ID == "log-400a" {
			tolerance = 1e-6
		}
		slope := math.NaN()
		if p.LinearSlope != nil {
			slope = *p.LinearSlope
		}
		for name, got := range map[string]float64{
			"base": p.Base, "linSideSlope": p.LinSideSlope, "linSideOffset": p.LinSideOffset,
			"logSideSlope": p.LogSideSlope, "logSideOffset": p.LogSideOffset,
			"linSideBreak": p.LinSideBreak, "linearSlope": slope,
		} {
			stated, given := want.CLF[name]
			if !given {
				continue
			}
			if math.Abs(got-stated) > tolerance*max(1, math.Abs(stated)) {
				t.Errorf("%s: %s = %.12g, expected %.12g", c.ID, name, got, stated)
			}
		}
	}
}
