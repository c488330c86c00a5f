package colour

import (
	"math"
	"testing"
)

func log285Numbers() (a, b, c, s, t float64) {
	a = (math.Pow(2, 18) - 16) / 117.45
	b = (1023.0 - 95) / 1023
	c = 95.0 / 1023
	s = 7 * math.Log(2) * math.Pow(2, 7-14*c/b) / (a * b)
	t = (math.Pow(2, 14*(-c/b)+6) - 64) / a
	return a, b, c, s, t
}

// formulaTolerance is what rewriting a formula (natural logarithms,
// reciprocals computed once) may cost in float64, relative to 1 or to the value.
const formulaTolerance = 2e-13

func TestCurvesAgainstPlainFormulas(t *testing.T) {
	for _, c := range Curves() {
		if c.Kind != KindCamera && c.Kind != KindWorking {
			continue
		}
		plain, ok := plainFormulas[c.ID]
		if !ok {
			t.Errorf("%s has no plain formula to be judged by", c.ID)
			continue
		}
		for _, x := range sceneLights() {
			got, want := c.Encode(x), plain.encode(x)
			if math.Abs(got-want) > formulaTolerance*max(1, math.Abs(want)) {
				t.Errorf("%s: Encode(%g) = %.16g, the formula gives %.16g", c.ID, x, got, want)
			}
		}
		for i := -4000; i <= 24000; i++ {
			y := float64(i)/20000 + 1e-7
			got, want := c.Decode(y), plain.decode(y)
			tolerance := 20 * formulaTolerance * max(1, math.Abs(want))
			if y >= plain.stepFrom && y <= plain.stepTo {
				continue // judged by TestDecodeAtTheStep
			}
			tolerance += plain.decodeRelative * math.Abs(want)
			if math.Abs(got-want) > tolerance {
				t.Errorf("%s: Decode(%g) = %.16g, the formula gives %.16g", c.ID, y, got, want)
				break
			}
		}
	}
}

// sceneLights are lights from deep shadow noise to beyond any clip, both
// signs, and the cuts' neighbourhoods.
func sceneLights() []float64 {
	lights := []float64{0}
	for s := -14.0; s <= 13; s += 0.05 {
		lights = append(lights, Grey*math.Exp2(s), -Grey*math.Exp2(s-4))
	}
	for _, cut := range []float64{0.01125, 0.01, 0.010591, 0.0126, -0.0126, 0.00089, 0.000889, 0.328, 0.006, 0.005, -0.01, 0.0078, 0.00262409, 0.0078125, 1.0 / (1 << 15), -0.05641088} {
		lights = append(lights, cut, math.Nextafter(cut, 1), math.Nextafter(cut, -1), cut*1.0001, cut*0.9999)
	}
	return lights
}

// TestDecodeAtTheStep: where published pieces don't meet, Decode undoes the
// published encoding on each side and never falls. What an encode–decode
// round may cost is the published overlap, in light; where the pieces leave a
// gap it is nothing.
func TestDecodeAtTheStep(t *testing.T) {
	for _, c := range Curves() {
		form, ok := c.LogForm()
		if !ok {
			continue
		}
		cut := form.Params.LinSideBreak
		overlap := math.Max(0, c.Encode(cut-1e-12)-c.Encode(cut+1e-12)) // in y
		slope := (c.Encode(cut*1.2+2e-4) - c.Encode(cut*1.2+1e-4)) / 1e-4
		allowed := 1e-11 + 1.5*overlap/slope
		for i := -4000; i <= 4000; i++ {
			x := cut + float64(i)*5e-8
			if back := c.Decode(c.Encode(x)); math.Abs(back-x) > allowed {
				t.Errorf("%s: %.9g comes back as %.9g; the published overlap of %.2g codes explains %.2g", c.ID, x, back, 1023*overlap, allowed)
				break
			}
		}
	}
}
