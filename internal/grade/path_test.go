package grade

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lampwise/internal/fault"
)

// programTolerance is how far the sampled ops may lie from the exact path, in
// display signal: a tenth of a 10-bit code is 1.1e-4.
const programTolerance = 5e-4

func TestStartingGradeProgramFollowsExact(t *testing.T) {
	g := Starting("log-420")
	g.Look.Off = true
	p, err := Build(g, Clip{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	prog, err := p.Program()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	worst := 0.0
	for range 100000 {
		y := [3]float64{-.1 + 1.2*r.Float64(), -.1 + 1.2*r.Float64(), -.1 + 1.2*r.Float64()}
		a, b := p.Exact(y), prog.Colour(y)
		for c := range a {
			worst = max(worst, math.Abs(a[c]-b[c]))
		}
	}
	t.Logf("largest difference %.2g", worst)
	if worst > programTolerance {
		t.Errorf("the program lies %.2g from the exact path", worst)
	}
}

func TestSavedGradeReadsBack(t *testing.T) {
	g := Starting("log-420")
	first := g.Bytes()
	back, err := Parse(first, "g.toml")
	if err != nil {
		t.Fatalf("%v\n%s", err, first)
	}
	if second := back.Bytes(); string(second) != string(first) {
		t.Errorf("a grade read back writes a different file:\n%s\n---\n%s", first, second)
	}
}

func TestUnknownKeyIsToldWithItsLine(t *testing.T) {
	_, err := Parse([]byte("schema = 1\n[decode]\ncurve = \"log-420\"\n[exposure]\nstop = 1\n"), "g.toml")
	f, ok := fault.As(err)
	if !ok || !strings.HasPrefix(f.Message, "g.toml:5:") || !strings.Contains(f.Hint, "stops") {
		t.Fatalf("got %v (%+v)", err, f)
	}
}
