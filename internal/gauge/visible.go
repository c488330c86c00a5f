package gauge

import (
	"math"
	"sync"

	"lampwise/internal/unit"
)

// The eye's contrast sensitivity after P. G. J. Barten 1999, "Contrast
// Sensitivity of the Human Eye and Its Effects on Image Quality", with the
// constants and the viewing conditions of Report ITU-R BT.2246 (figure
// "minimum detectable contrast"): a standard observer, a picture 60° wide.
const (
	bartenK      = 3.0       // signal to noise ratio at threshold
	bartenSigma0 = 0.5 / 60  // °
	bartenCab    = 0.08 / 60 // °/mm
	bartenT      = 0.1       // s
	bartenXMax   = 12.0      // °
	bartenNMax   = 15.0      // cycles
	bartenEta    = 0.03      // quantum efficiency
	bartenPhi0   = 3e-8      // s·deg²
	bartenU0     = 7.0       // cycles/°
	bartenP      = 1.2274e6  // photons/(s·deg²·Td)
	bartenX0     = 60.0      // °
	bartenSquare = 1 / 1.27  // from a sine wave's threshold to a square wave's
	bartenModul  = 2.0       // from modulation to contrast
	jndFrom      = -4.0      // log10 of cd/m²: the table's ends
	jndTo        = 4.0
	jndCells     = 512
)

// contrastSensitivity is Barten's S at u cycles a degree and luminance l, cd/m².
func contrastSensitivity(u, l float64) float64 {
	d := 5 - 3*math.Tanh(0.4*math.Log(l*bartenX0*bartenX0/(40*40))) // pupil, mm
	sigma := math.Hypot(bartenSigma0, bartenCab*d)
	optics := math.Exp(-2 * math.Pi * math.Pi * sigma * sigma * u * u)
	// Retinal illuminance in troland, with the Stiles–Crawford correction.
	e := math.Pi * d * d / 4 * l * (1 - math.Pow(d/9.7, 2) + math.Pow(d/12.4, 4))
	area := 1/(bartenX0*bartenX0) + 1/(bartenXMax*bartenXMax) + u*u/(bartenNMax*bartenNMax)
	noise := 1/(bartenEta*bartenP*e) + bartenPhi0/(1-math.Exp(-(u/bartenU0)*(u/bartenU0)))
	return optics / bartenK / math.Sqrt(2/bartenT*area*noise)
}

// minimumContrast is the least contrast, ΔL/L, that can be seen at luminance l
// at the spatial frequency at which it is seen best.
func minimumContrast(l float64) float64 {
	const ratio = 0.6180339887498949
	lo, hi := math.Log(0.05), math.Log(60)
	s := func(x float64) float64 { return contrastSensitivity(math.Exp(x), l) }
	a, b := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	fa, fb := s(a), s(b)
	for range 60 {
		if fa > fb {
			hi, b, fb = b, a, fa
			a = hi - ratio*(hi-lo)
			fa = s(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + ratio*(hi-lo)
			fb = s(b)
		}
	}
	return bartenModul * bartenSquare / s((lo+hi)/2)
}

var jndTable = sync.OnceValue(func() *[jndCells + 1]float64 {
	var t [jndCells + 1]float64
	for i := range t {
		t[i] = math.Log(minimumContrast(math.Pow(10, jndFrom+(jndTo-jndFrom)*float64(i)/jndCells)))
	}
	return &t
})

// JustNoticeable is the least contrast ΔL/L that can be seen at a luminance
// (Barten 1999 as in Report ITU-R BT.2246). Luminances outside 10⁻⁴ to 10⁴
// cd/m² are taken as at these ends.
//
// Source: P. G. J. Barten 1999, "Contrast Sensitivity of the Human Eye and Its Effects on Image Quality"; constants of Report ITU-R BT.2246
func JustNoticeable(l unit.CandelaPerSquareMetre) float64 {
	x := jndFrom
	if l > 0 {
		x = min(max(math.Log10(float64(l)), jndFrom), jndTo)
	}
	p := (x - jndFrom) / (jndTo - jndFrom) * jndCells
	i := min(int(p), jndCells-1)
	t := jndTable()
	return math.Exp(t[i] + (p-float64(i))*(t[i+1]-t[i]))
}

// StepVisibility is how many just noticeable steps lie between two luminances
// side by side: below 1 the edge between them can't be seen.
func StepVisibility(a, b unit.CandelaPerSquareMetre) float64 {
	mean := (a + b) / 2
	if !(mean > 0) {
		return 0
	}
	return math.Abs(float64(b-a)) / float64(mean) / JustNoticeable(mean)
}

// VisibleStep is the step from one code to the next as the screen shows it.
type VisibleStep struct {
	Code      int                        `json:"code"` // the lower of the two
	Luminance unit.CandelaPerSquareMetre `json:"luminance"`
	JND       float64                    `json:"jnd"` // in just noticeable steps
}

// VisibleSteps are the steps between the codes from..to (to included) of a
// function from code to screen luminance.
func VisibleSteps(from, to int, screen func(code int) unit.CandelaPerSquareMetre) []VisibleStep {
	var out []VisibleStep
	l := screen(from)
	for c := from; c < to; c++ {
		next := screen(c + 1)
		out = append(out, VisibleStep{Code: c, Luminance: l, JND: StepVisibility(l, next)})
		l = next
	}
	return out
}

// HiddenBy says whether noise of standard deviation sigma, in output steps,
// hides a step: when it exceeds about half of one, as dither does.
func HiddenBy(sigma float64) bool { return sigma > ditherHides }

const ditherHides = 0.5

// BandingRisk is the part of the smooth area (by level, see Smooth) in which a
// step is visible and not hidden: jnd and sigma are given for each level, sigma
// in output steps. It is 0 where there is no smooth area.
func BandingRisk(area, jnd, sigma []float64) float64 {
	total, bad := 0.0, 0.0
	for i, a := range area {
		total += a
		if i < len(jnd) && jnd[i] > 1 && !(i < len(sigma) && HiddenBy(sigma[i])) {
			bad += a
		}
	}
	if total == 0 {
		return 0
	}
	return bad / total
}
