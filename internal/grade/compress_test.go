package grade

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"

	"lampwise/internal/colour"
)

func TestAcademyCompressionKeepsItsPromise(t *testing.T) {
	c := academyCompress
	// Within the thresholds nothing changes.
	for _, v := range [][3]float64{{0.18, 0.18, 0.18}, {1, 0.2, 0.3}, {0.2, 0.9, 0.5}, {0, 0, 0}} {
		if got := c.Apply(v); got != v {
			t.Errorf("%v became %v", v, got)
		}
	}
	// A distance at the limit lands on the gamut's edge.
	for ch := range 3 {
		v := [3]float64{1, 1, 1}
		v[ch] = 1 - c.Limit[ch]
		if got := c.Apply(v)[ch]; math.Abs(got) > 1e-12 {
			t.Errorf("channel %d at its limit lands at %v, want 0", ch, got)
		}
	}
}

// The reference colour library's fixed function with the same parameters.
func TestAcademyCompressionAgainstReferenceLibrary(t *testing.T) {
	python := referencePython(t)
	r := rand.New(rand.NewPCG(3, 4))
	in := make([][3]float64, 2000)
	for i := range in {
		for c := range 3 {
			in[i][c] = math.Exp2(r.Float64()*8-5) - 0.1
		}
	}
	data, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	const script = `
import sys, json, PyOpenColorIO as o
c = o.Config.CreateRaw()
f = o.FixedFunctionTransform(o.FIXED_FUNCTION_ACES_GAMUT_COMP_13, [1.147, 1.264, 1.312, 0.815, 0.803, 0.880, 1.2])
p = c.getProcessor(f).getDefaultCPUProcessor()
print(json.dumps([p.applyRGB(v) for v in json.load(sys.stdin)]))`
	cmd := exec.Command(python, "-c", script)
	cmd.Stdin = bytes.NewReader(data)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	raw, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, stderr.String())
	}
	var want [][3]float64
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	changed := 0
	for i, v := range in {
		got := academyCompress.Apply(v)
		if got != v {
			changed++
		}
		for c := range got {
			// The library computes in single precision.
			if d := math.Abs(got[c] - want[i][c]); d > 2e-6*math.Max(1, max(v[0], v[1], v[2])) {
				t.Fatalf("%v: %v, reference %v", v, got, want[i])
			}
		}
	}
	if changed < len(in)/5 {
		t.Errorf("only %d of %d colours were compressed; this test means little", changed, len(in))
	}
}

// referencePython finds a Python that has the reference colour library.
func referencePython(t *testing.T) string {
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if path, err := exec.LookPath(name); err == nil && exec.Command(path, "-c", "import PyOpenColorIO").Run() == nil {
			return path
		}
	}
	t.Skip("python3-pyopencolorio is not installed")
	return ""
}

// Every light a camera can record, in each of the shipped gamuts, ends inside
// BT.709, and skin is left alone.
func TestEveryRecordedColourComesInside(t *testing.T) {
	ap1, bt709 := colour.MustGamut("ap1"), colour.MustGamut("bt709")
	r := rand.New(rand.NewPCG(5, 6))
	for _, g := range colour.Gamuts() {
		toAP1 := colour.RGBToRGB(g, ap1, colour.CAT16)
		cv := &convert{toAP1: toAP1, academy: academyCompress, toScreen: colour.RGBToRGB(ap1, bt709, colour.CAT16)}
		cv.screen = screenCompress(toAP1, cv.toScreen)
		outside := 0
		for range 20000 {
			v := [3]float64{r.Float64(), r.Float64(), r.Float64()}
			v[r.IntN(3)] *= float64(r.IntN(2)) // half of them on the gamut's edge
			raw := cv.toScreen.Apply(toAP1.Apply(v))
			if min(raw[0], raw[1], raw[2]) < 0 {
				outside++
			}
			out := cv.light(v)
			if m := max(out[0], out[1], out[2]); min(out[0], out[1], out[2]) < -1e-9*m {
				t.Fatalf("%s: %v ends at %v", g.ID, v, out)
			}
		}
		if g.ID != "bt709" && outside == 0 {
			t.Errorf("%s: nothing lay outside; this test means nothing", g.ID)
		}
	}
}
