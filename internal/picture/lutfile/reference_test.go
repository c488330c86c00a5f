package lutfile

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/picture"
)

// referenceProgram loads each file named on its command line with OpenColorIO
// and sends the colours of standard input through it, without optimisation.
const referenceProgram = `
import sys
import PyOpenColorIO as ocio
colours = [[float(x) for x in line.split()] for line in sys.stdin]
for path in sys.argv[1:]:
    t = ocio.FileTransform()
    t.setSrc(path)
    t.setCDLStyle(ocio.CDL_ASC)
    if path.endswith(".cube") and "LUT_3D" in open(path).read():
        t.setInterpolation(ocio.INTERP_TETRAHEDRAL)
    p = ocio.Config.CreateRaw().getProcessor(t).getOptimizedCPUProcessor(ocio.OPTIMIZATION_NONE)
    for c in colours:
        print(*["%.9g" % x for x in p.applyRGB(c)])
`

// referencePython finds a Python that has the reference library.
func referencePython(t *testing.T) string {
	t.Helper()
	for _, dir := range filepath.SplitList(os.Getenv("PATH")) {
		python := filepath.Join(dir, "python3")
		if _, err := os.Stat(python); err != nil {
			continue
		}
		if exec.CommandContext(t.Context(), python, "-c", "import PyOpenColorIO").Run() == nil {
			return python
		}
	}
	t.Skip("missing: python3 with PyOpenColorIO (package python3-pyopencolorio)")
	return ""
}

// The colours sent through: inside, on the ends, and outside.
var referenceColours = func() (list [][3]float64) {
	for _, v := range [][3]float64{
		{0, 0, 0},
		{1, 1, 1},
		{0.18, 0.18, 0.18},
		{1, 0, 0},
		{0, 1, 1},
		{0.25, 0.75, 0.1},
		{0.9, 0.02, 0.4},
		{0.003, 0.01, 0.03},
		{-0.1, 0.5, 1.2},
		{1.7, 0.6, -0.4},
		{0.61, 0.62, 0.6},
	} {
		for ch := range v {
			v[ch] = float64(float32(v[ch])) // what the library is given
		}
		list = append(list, v)
	}
	return list
}()

// single is how much a result may differ because the reference library computes
// in single precision: what the result moves by when what goes into every op
// moves by a few of its steps. (A place in a grid of 4 alone costs two.)
func single(c *picture.Chain, v, out [3]float64) (slack [3]float64) {
	const step = 4 * 0x1p-23
	for i := range 27 {
		moved := v
		for _, op := range c.Ops {
			for ch, n := 0, i; ch < 3; ch, n = ch+1, n/3 {
				moved[ch] += float64(n%3-1) * step * max(1, math.Abs(moved[ch]))
			}
			moved = op.Apply(moved)
		}
		for ch := range 3 {
			slack[ch] = max(slack[ch], math.Abs(moved[ch]-out[ch]))
		}
	}
	return slack
}

// compare writes the chains, lets the reference library apply the files and
// holds its results to ours.
func compare(t *testing.T, ext string, write func(io.Writer, *picture.Chain) error, chains []*picture.Chain) {
	t.Helper()
	python := referencePython(t)
	dir := t.TempDir()
	args := []string{"-c", referenceProgram}
	for i, c := range chains {
		var b bytes.Buffer
		if err := write(&b, c); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, fmt.Sprintf("%d%s", i, ext))
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	var in, stderr bytes.Buffer
	for _, v := range referenceColours {
		fmt.Fprintln(&in, v[0], v[1], v[2])
	}
	cmd := exec.CommandContext(t.Context(), python, args...)
	cmd.Stdin, cmd.Stderr = &in, &stderr
	out, err := cmd.Output()
	// OpenColorIO 2.1 passes over ST 2136-1's Id element with a warning.
	var said []string
	for line := range strings.Lines(stderr.String()) {
		if !strings.Contains(line, "Unrecognized element 'Id'") {
			said = append(said, line)
		}
	}
	if err != nil {
		t.Fatalf("the reference library refuses a file of ours: %v\n%s", err, strings.Join(said, ""))
	}
	if len(said) > 0 {
		t.Errorf("the reference library warns of a file of ours: %s", strings.Join(said, ""))
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(chains)*len(referenceColours) {
		t.Fatalf("%d results for %d files of %d colours", len(lines), len(chains), len(referenceColours))
	}
	worst := 0.0
	for i, c := range chains {
		for j, v := range referenceColours {
			theirs := numbersOf(t, strings.Fields(lines[i*len(referenceColours)+j]))
			ours := c.Apply(v)
			slack := single(c, v, ours)
			for ch := range 3 {
				e := math.Abs(ours[ch]-theirs[ch]) / max(0.1, math.Abs(theirs[ch]))
				worst = max(worst, e)
				if limit := ourTolerance + slack[ch]/max(0.1, math.Abs(theirs[ch])); !(e <= limit) {
					var b strings.Builder
					_ = write(&b, c)
					t.Errorf("%v gives %v here and %v there (error %.2g, allowed %.2g):\n%s", v, ours, theirs, e, limit, b.String())
					break
				}
			}
		}
	}
	t.Logf("%d files, %d colours each, largest error %.1e", len(chains), len(referenceColours), worst)
}

// examples draws n chains with a fixed seed, so that the test is the same every time.
func examples(n int, draw func(t *rapid.T) *picture.Chain) (list []*picture.Chain) {
	g := rapid.Custom(draw)
	for i := range n {
		list = append(list, g.Example(i))
	}
	return list
}

func TestReferenceLibraryReadsOurCLF(t *testing.T) {
	compare(t, ".clf", WriteCLF, examples(300, func(t *rapid.T) *picture.Chain {
		return &picture.Chain{Title: "drawn", Ops: []picture.Op{drawOp(t)}}
	}))
	half := &picture.Curves{Axis: picture.AxisHalf, Lo: three(-maxHalf), Hi: three(maxHalf)}
	samples := make([]float64, halfCodes)
	for i := range samples {
		if x := picture.HalfValue(uint16(i)); finite(x) {
			samples[i] = math.Cbrt(x)
		}
	}
	half.Samples = [3][]float64{samples, samples, samples}
	compare(t, ".clf", WriteCLF, []*picture.Chain{{Ops: []picture.Op{half}}, {}})
}

func TestReferenceLibraryReadsOurCubes(t *testing.T) {
	compare(t, ".cube", WriteCubeChain, examples(150, func(t *rapid.T) *picture.Chain {
		c := &picture.Chain{Title: "drawn", Description: []string{"a comment"}}
		shape := rapid.IntRange(1, 3).Draw(t, "shape")
		if shape != 2 {
			c.Ops = append(c.Ops, drawCurves(t))
		}
		if shape != 1 {
			l := drawCube(t)
			l.Interp = picture.Tetrahedral
			c.Ops = append(c.Ops, l)
		}
		if shape == 3 {
			a, b := c.Ops[0].(*picture.Curves), c.Ops[1].(*picture.LUT3D)
			a.Lo, a.Hi, b.Lo, b.Hi = three(a.Lo[0]), three(a.Hi[0]), three(b.Lo[0]), three(b.Hi[0])
		}
		return c
	}))
}

func TestReferenceLibraryReadsOurCDLs(t *testing.T) {
	compare(t, ".cc", func(w io.Writer, c *picture.Chain) error {
		return WriteCDL(w, Correction{ID: c.Title, CDL: c.Ops[0].(*picture.CDL)})
	}, examples(50, func(t *rapid.T) *picture.Chain {
		c := drawCDL(t)
		c.Style = picture.CDLFwd
		return &picture.Chain{Title: "drawn", Ops: []picture.Op{c}}
	}))
}
