package colour

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/fault"
)

// makerNote is the source of every camera curve. The formulas and the
// published codes were read there; the formulas were checked against a
// reference library (see the package's tests).
const makerNote = "maker's published technical note; checked against a reference library"

var allCurves = slices.Concat(cameraCurves, workingCurves, sceneCurves)

// cameraCurves are published camera log encodings, y = 10-bit code/1023.
var cameraCurves = []*Curve{
	{
		ID: "log-420", Gamuts: []string{"r7300-g8550", "r7660-g8000", "r7300-g8550-variant", "r7660-g8000-variant"},
		PublishedCodes: map[int]int{0: 95, 18: 420, 90: 598},
		Note:           "two gamuts share this curve",
		form: newPiecewise(logPieces{
			// (420 + log10((x + 0.01)/(0.18 + 0.01))·261.5)/1023 for x ≥ 0.01125
			base: 10, linSlope: 1 / (0.18 + 0.01), linOffset: 0.01 / (0.18 + 0.01),
			logSlope: 261.5 / 1023, logOffset: 420.0 / 1023,
			cut: 0.01125000, cutIsLog: true,
			lineSlope: (171.2102946929 - 95) / 0.01125000 / 1023, lineStart: 95.0 / 1023,
			decodeCut: 171.2102946929 / 1023,
		}),
	},
	{
		ID: "log-433", Gamuts: []string{"r7300-g8400"},
		PublishedCodes: map[int]int{0: 128, 18: 433, 90: 602},
		form: newPiecewise(logPieces{
			base: 10, linSlope: 1, linOffset: 0.00873, logSlope: 0.241514, logOffset: 0.598206,
			cut: 0.01, cutIsLog: true, lineSlope: 5.6, lineStart: 0.125, decodeCut: 0.181,
		}),
	},
	log400a(800),
	{
		ID: "log-285", Gamuts: []string{"r7347-g8576"},
		PublishedCodes: map[int]int{0: 95},
		form:           log285(),
	},
	{
		ID: "log-407", Gamuts: []string{"r7400-g11400", "bt2020"},
		Note: "mirrored below zero",
		form: newMirrored(0.24136077, 87.09937546/0.9, 0.092864125, 0.092864125, 0.092864125, 0, 0),
	},
	{
		ID: "log-351a", Gamuts: []string{"r7400-g11400", "bt2020"},
		Note: "mirrored below zero, with a straight piece between; grey and black are those of log-351b",
		form: newMirrored(0.36726845, 14.98325/0.9, 0.12240537, 0.12512219, 0.12783901, 1.9754798/0.9, 0.014*0.9),
	},
	{
		ID: "log-351b", Gamuts: []string{"r7400-g11400", "bt709"},
		PublishedCodes: map[int]int{0: 128, 2: 169, 18: 351, 90: 614, 720: 1016},
		Note:           "mirrored below zero; grey and black are those of log-351a",
		form:           newMirrored(0.45310179, 10.1596/0.9, 0.12512248, 0.12512248, 0.12512248, 0, 0),
	},
	{
		ID: "log-470", Gamuts: []string{"bt2020"},
		PublishedCodes: map[int]int{0: 95, 18: 470, 90: 705},
		Note:           "the published pieces overlap by 0.10 of a 10-bit code at the cut; decoded at the published cut",
		form: newPiecewise(logPieces{
			base: 10, linSlope: 0.555556, linOffset: 0.009468, logSlope: 0.344676, logOffset: 0.790453,
			cut: 0.000890, cutIsLog: true, lineSlope: 8.735631, lineStart: 0.092864, decodeCut: 0.100537775223865,
		}),
	},
	{
		ID: "log-400b", Gamuts: []string{"bt2020"},
		PublishedCodes: map[int]int{0: 95, 18: 400, 90: 570},
		Note:           "grey is that of log-400a",
		form: newPiecewise(logPieces{
			base: 10, linSlope: 5.555556, linOffset: 0.064829, logSlope: 0.245281, logOffset: 0.384316,
			cut: 0.000889, cutIsLog: true, lineSlope: 8.799461, lineStart: 0.092864, decodeCut: 0.100686685370811,
		}),
	},
	{
		ID: "log-372", Gamuts: []string{"bt2020"},
		Note: "cube root below 0.328, no Common LUT Format log; the published pieces leave a gap of 0.1 of a 10-bit code at the cut, decoded to the cut",
		form: newCubeRootLog(650.0/1023, 0.0075, 150.0/1023, 619.0/1023, 0.328),
	},
	{
		ID: "log-445", Gamuts: []string{"bt2020"},
		Note: "the published pieces overlap by 0.92 of a 10-bit code at the cut; decoded at the published cut",
		form: newPiecewise(logPieces{
			base: 10, linSlope: 1.3, linOffset: 0.0115, logSlope: 0.27, logOffset: 0.6,
			cut: 0.006, lineSlope: 8, lineStart: 0.09, decodeCut: 0.1380,
		}),
	},
	{
		ID: "log-392", Gamuts: []string{"r7177-g8616"},
		form: newPiecewise(logPieces{
			base: math.E, linSlope: 1, linOffset: 0.005494072432257808,
			logSlope: 0.08692876065491224, logOffset: 0.5300133392291939,
			cut: 0.005, cutIsLog: true, lineSlope: 8.283605932402494, lineStart: 0.09246575342465753,
		}),
	},
	{
		ID: "log-341", Gamuts: []string{"r7803-g14940"},
		PublishedCodes: map[int]int{18: 341},
		form: newPiecewise(logPieces{
			// 0.224282·log10(155.975327·(x + 0.01) + 1) for x ≥ −0.01
			base: 10, linSlope: 155.975327, linOffset: 155.975327*0.01 + 1, logSlope: 0.224282, logOffset: 0,
			cut: -0.01, cutIsLog: true, lineSlope: 15.1927, lineStart: 15.1927 * 0.01,
		}),
	},
	{
		ID: "log-408", Gamuts: []string{"r7100-g8800"},
		Note: "the decoding formula is published with rounded constants of its own (at most 5·10⁻⁵ of the light off, near the cut); here decoding undoes the published encoding exactly",
		form: newPiecewise(logPieces{
			base: 10, linSlope: 0.9892, linOffset: 0.0108, logSlope: 0.256663, logOffset: 0.584555,
			cut: 0.0078, lineSlope: 6.025, lineStart: 0.0929,
		}),
	},
	{
		ID: "log-500", Gamuts: []string{"bt2020"},
		Note: "quadratic toe, no Common LUT Format log; light below −0.0564 is lost",
		form: newSquareLog(-0.05641088, 0.01, 47.28711236, 0.00964052, 0.08550479, 0.69336945),
	},
	{
		ID: "log-347", Gamuts: []string{"r7300-g8550"},
		PublishedCodes: map[int]int{0: 90, 18: 347, 90: 582},
		Note:           "legacy; published in narrow-range terms, here put on code values",
		form:           log347(),
	},
}

func init() {
	for _, c := range cameraCurves {
		c.Kind, c.Levels, c.Source = KindCamera, LevelsData, makerNote
	}
}

// log285 is built from its designers' whole numbers: 18 stops of 12-bit
// sensor codes above a black of 16, over 14 stops of signal.
func log285() form {
	a := (math.Exp2(18) - 16) / 117.45
	b := (1023.0 - 95) / 1023
	c := 95.0 / 1023
	s := 7 * math.Ln2 * math.Exp2(7-14*c/b) / (a * b)
	t := (math.Exp2(14*(-c/b)+6) - 64) / a
	return newPiecewise(logPieces{
		// (log2(a·x + 64) − 6)/14·b + c for x ≥ t; else (x − t)/s
		base: 2, linSlope: a, linOffset: 64, logSlope: b / 14, logOffset: c - 6*b/14,
		cut: t, cutIsLog: true, lineSlope: 1 / s, lineStart: -t / s,
	})
}

// log347 is published for the narrow-range fraction v of x' = x·(155/219)/0.9,
// code10 = 64 + 876·v.
func log347() form {
	const scale = 155.0 / 219 / 0.9
	code := func(v float64) float64 { return (narrowBlack10 + narrowLumaSpan10*v) / topCode10 }
	return newPiecewise(logPieces{
		base: 10, linSlope: scale, linOffset: 0.037584,
		logSlope: 0.432699 * narrowLumaSpan10 / topCode10, logOffset: code(0.616596 + 0.03),
		cut: 0, cutIsLog: true, lineSlope: 5 * scale * narrowLumaSpan10 / topCode10, lineStart: code(0.030001222851889303),
	})
}

// log400aRow is one line of log-400a's table for scene exposure:
// c·log10(a·x + b) + d above the cut, e·x + f below.
type log400aRow struct {
	index                  int
	cut, a, b, c, d, e, f6 float64
}

var log400aTable = []log400aRow{
	{160, 0.005561, 5.555556, 0.080216, 0.269036, 0.381991, 5.842037, 0.092778},
	{200, 0.006208, 5.555556, 0.076621, 0.266007, 0.382478, 5.776265, 0.092782},
	{250, 0.006871, 5.555556, 0.072941, 0.262978, 0.382966, 5.710494, 0.092786},
	{320, 0.007622, 5.555556, 0.068768, 0.259627, 0.383508, 5.637732, 0.092791},
	{400, 0.008318, 5.555556, 0.064901, 0.256598, 0.383999, 5.571960, 0.092795},
	{500, 0.009031, 5.555556, 0.060939, 0.253569, 0.384493, 5.506188, 0.092800},
	{640, 0.009840, 5.555556, 0.056443, 0.250219, 0.385040, 5.433426, 0.092805},
	{800, 0.010591, 5.555556, 0.052272, 0.247190, 0.385537, 5.367655, 0.092809},
	{1000, 0.011361, 5.555556, 0.047996, 0.244161, 0.386036, 5.301883, 0.092814},
	{1280, 0.012235, 5.555556, 0.043137, 0.240810, 0.386590, 5.229121, 0.092819},
	{1600, 0.013047, 5.555556, 0.038625, 0.237781, 0.387093, 5.163350, 0.092824},
}

const log400aDefaultIndex = 800

func log400a(index int) *Curve {
	i := slices.IndexFunc(log400aTable, func(r log400aRow) bool { return r.index == index })
	if i < 0 {
		return nil
	}
	r := log400aTable[i]
	c := &Curve{
		ID: "log-400a", Kind: KindCamera, Levels: LevelsData, Source: makerNote, ExposureIndex: index,
		Gamuts: []string{"r6840-g8480"},
		Note:   "depends on the camera's exposure index: log-400a@1600 and so on; plain log-400a is index 800. Grey is that of log-400b",
		form: newPiecewise(logPieces{
			base: 10, linSlope: r.a, linOffset: r.b, logSlope: r.c, logOffset: r.d,
			cut: r.cut, lineSlope: r.e, lineStart: r.f6,
		}),
	}
	if index == log400aDefaultIndex {
		c.PublishedCodes = map[int]int{18: 400}
	} else {
		c.ID = fmt.Sprintf("log-400a@%d", index)
	}
	return c
}

// ExposureIndices lists the camera exposure indices the curve has a formula
// for; nil where one formula serves all.
func (c *Curve) ExposureIndices() []int {
	if c.ExposureIndex == 0 {
		return nil
	}
	var all []int
	for _, r := range log400aTable {
		all = append(all, r.index)
	}
	return all
}

// AtExposureIndex returns the curve for another camera exposure index. It is
// a fault when the curve has no formula for it.
func (c *Curve) AtExposureIndex(index int) (*Curve, error) {
	if c.ExposureIndex == 0 {
		return nil, fault.New(fault.Usage, "curve-index", "write "+c.ID+" alone", "curve %s has one formula for every exposure index", c.ID)
	}
	if d := log400a(index); d != nil {
		return d, nil
	}
	return nil, fault.New(fault.Usage, "curve-index", fmt.Sprintf("published are %v", c.ExposureIndices()),
		"curve %s has no formula for exposure index %d", c.ID, index)
}
