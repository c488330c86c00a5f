package colour

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"strings"
	"testing"
)

// referenceVersion is the version whose built-in transforms have the indices
// used here.
const referenceVersion = "2.1.2"

type referenceAsk struct {
	Index     int          `json:"index"`
	Direction string       `json:"direction"`
	RGB       [][3]float64 `json:"rgb"`
}

// reference answers through the OpenColorIO library, or skips the test by
// saying what is missing.
func reference(t *testing.T, asks []referenceAsk) [][][3]float64 {
	t.Helper()
	var input bytes.Buffer
	for _, a := range asks {
		line, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		input.Write(append(line, '\n'))
	}
	// A Debian package serves Debian's own interpreter, which need not be the first.
	python := ""
	for _, candidate := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(candidate, "-c", "import PyOpenColorIO").Run() == nil {
			python = candidate
			break
		}
	}
	if python == "" {
		t.Skip("python3-pyopencolorio is not installed")
	}
	command := exec.Command(python, "testdata/reference.py")
	command.Stdin = &input
	var complaint bytes.Buffer
	command.Stderr = &complaint
	output, err := command.Output()
	if err != nil {
		t.Fatalf("reference.py: %v\n%s", err, complaint.String())
	}
	lines := bufio.NewScanner(bytes.NewReader(output))
	lines.Buffer(nil, 1<<26)
	if lines.Scan(); strings.TrimSpace(lines.Text()) != referenceVersion {
		t.Skipf("python3-pyopencolorio is %s; the indices here are those of %s", lines.Text(), referenceVersion)
	}
	var answers [][][3]float64
	for lines.Scan() {
		var answer [][3]float64
		if err := json.Unmarshal(lines.Bytes(), &answer); err != nil {
			t.Fatal(err)
		}
		answers = append(answers, answer)
	}
	if len(answers) != len(asks) {
		t.Fatalf("%d answers to %d questions", len(answers), len(asks))
	}
	return answers
}

// TestCurvesAgainstReferenceLibrary: the library's built-in transforms take
// camera signal to linear AP0, so neutrals show the curve alone. It computes in float32,
// 6·10⁻⁸ relative, which an antilogarithm of some ten octaves magnifies to
// about 2·10⁻⁶ of the light; log-407, log-351a and acescc are tables of 4096
// samples or more there, linear between them.
func TestCurvesAgainstReferenceLibrary(t *testing.T) {
	const floatRelative = 2e-6
	relative := map[string]float64{"acescc": 8e-6, "log-400a": 1.5e-5}
	absolute := map[string]float64{"log-433": 1.3e-7, "log-400a": 1e-7}
	indices := map[string][]int{
		"log-420": {35, 36, 37, 38}, "log-433": {32}, "log-400a": {29}, "log-407": {30}, "log-351a": {31},
		"log-341": {34}, "acescct": {4, 5}, "acescc": {6},
	}
	var asks []referenceAsk
	var curves []*Curve
	for _, c := range Curves() {
		for _, index := range indices[c.ID] {
			ask := referenceAsk{Index: index, Direction: "forward"}
			// A table's 4096 samples are met exactly.
			for i := range 1024 {
				y := float64(i) * 4 / 4095
				ask.RGB = append(ask.RGB, [3]float64{y, y, y})
			}
			asks, curves = append(asks, ask), append(curves, c)
		}
	}
	tenDigits, err := CurveFromParams("log-400a in ten digits", LogParams{
		Base: 10, LinSideSlope: 1 / Grey, LinSideOffset: 0.052272275,
		LogSideSlope: 0.2471896383, LogSideOffset: 0.3855369987, LinSideBreak: 0.010590990499999998,
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range curves {
		if c.ID == "log-400a" {
			asks, curves = append(asks, asks[i]), append(curves, tenDigits)
			break
		}
	}
	for i, answer := range reference(t, asks) {
		c, worst := curves[i], 0.0
		allowed := max(floatRelative, relative[c.ID])
		for k, got := range answer {
			y := asks[i].RGB[k][0]
			want := c.Decode(y)
			d := math.Abs(got[1] - want)
			worst = max(worst, d/max(0.01, math.Abs(want)))
			if d > allowed*max(0.01, math.Abs(want))+absolute[c.ID] {
				t.Errorf("%s, transform %d, y = %.6f: library %.9g, here %.9g", c.ID, asks[i].Index, y, got[1], want)
				break
			}
		}
		t.Logf("%s, transform %d: largest difference %.1e", c.ID, asks[i].Index, worst)
	}
}

// TestDisplayCurvesAgainstReferenceLibrary: XYZ of a grey to display signal.
// 39 is BT.1886, 42 sRGB (a fitted monitor curve there, 8·10⁻⁶ off), 48 PQ
// with 1 = 100 cd/m², 50 HLG on a display of 1000 cd/m² with 1 = 100 cd/m².
func TestDisplayCurvesAgainstReferenceLibrary(t *testing.T) {
	white := D65.XYZ()
	cases := []struct {
		index     int
		top       float64
		tolerance float64
		signal    func(float64) float64
	}{
		{39, 1, 2e-7, BT1886.Encode},
		{42, 1, 1e-5, SRGB.Encode},
		{48, 100, 2e-7, func(y float64) float64 { return PQ.Encode(y / 100) }},
		{50, 10, 2e-7, func(y float64) float64 { return HLG.Encode(math.Pow(y/10, 1/HLGSystemGamma(1000))) }},
	}
	var asks []referenceAsk
	for _, c := range cases {
		ask := referenceAsk{Index: c.index, Direction: "forward"}
		for k := 1; k <= 400; k++ {
			y := float64(k) / 400 * c.top
			ask.RGB = append(ask.RGB, [3]float64{white[0] * y, white[1] * y, white[2] * y})
		}
		asks = append(asks, ask)
	}
	for i, answer := range reference(t, asks) {
		for k, got := range answer {
			want := cases[i].signal(asks[i].RGB[k][1])
			if math.Abs(got[1]-want) > cases[i].tolerance {
				t.Errorf("transform %d at Y = %g: library %.9g, here %.9g", cases[i].index, asks[i].RGB[k][1], got[1], want)
				break
			}
		}
	}
}
