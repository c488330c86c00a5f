package lutfile

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// seeds adds every bad file of the tables, small good ones, and the truth set
// where it is.
func seeds(f *testing.F, bad map[string]badFile, good []string, patterns ...string) {
	f.Helper()
	for _, c := range bad {
		if len(c.text) < 1<<14 {
			f.Add([]byte(c.text))
		}
	}
	for _, text := range good {
		f.Add([]byte(text))
	}
	if len(bad) == 0 || len(good) == 0 {
		f.Fatal("an empty corpus")
	}
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "..", "shared", "truth")
	}
	for _, p := range patterns {
		files, err := filepath.Glob(filepath.Join(dir, "lut", p))
		if err != nil {
			f.Fatal(err)
		}
		for _, name := range files {
			data, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			if len(data) < 1<<14 {
				f.Add(data)
			}
		}
	}
}

// mustBeFault holds a refusal to be the user's: a fault with the file's name.
func mustBeFault(t *testing.T, err error) {
	t.Helper()
	known, ok := fault.As(err)
	if !ok {
		t.Fatalf("%v is no fault", err)
	}
	if known.Class != fault.Input || !strings.HasPrefix(known.Message, "fuzzed:") || strings.ContainsAny(known.Message+known.Hint, "\n\r\x1b\x00") || known.Hint == "" || len(known.Message) > 1000 {
		t.Fatalf("%+v is no fit message", known)
	}
}

// mustBeTotal holds a chain to be one a program takes, and sends colours
// through that are likely to break something.
func mustBeTotal(t *testing.T, c *picture.Chain) {
	t.Helper()
	if err := picture.CheckOps(c.Ops); err != nil {
		t.Fatalf("what was read is no program: %v", err)
	}
	for _, v := range [][3]float64{{0, 0, 0}, {1, 1, 1}, {0.18, 0.5, 0.9}, {-1, 2, 0.3}, {1e30, -1e30, 1e-30}, {math.MaxFloat32, -math.MaxFloat32, 0}} {
		for _, x := range c.Apply(v) {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%v gives %g", v, x)
			}
		}
	}
}

func FuzzCube(f *testing.F) {
	seeds(f, badCubes, []string{
		"LUT_1D_SIZE 3\n" + rampRows,
		"TITLE \"a\"\n# b\nLUT_3D_SIZE 2\nDOMAIN_MIN -1 0 0\nDOMAIN_MAX 1 2 3\n" + swapRows,
		"LUT_1D_SIZE 3\nLUT_1D_INPUT_RANGE -1 4\nLUT_3D_SIZE 2\nLUT_3D_INPUT_RANGE 0 2\n" + rampRows + "\n" + swapRows,
		"\ufefflut_1d_size 2\r0 0 0 # x\r1e-3 +1 -.5\r",
	}, "cube/*.cube", "cube/odd/*.cube")
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ReadCube(bytes.NewReader(data), "fuzzed")
		if err != nil {
			mustBeFault(t, err)
			return
		}
		mustBeTotal(t, c)
		var b bytes.Buffer
		if err := WriteCubeChain(&b, c); err != nil {
			t.Fatalf("what was read can't be written: %v", err)
		}
		again, err := ReadCube(bytes.NewReader(b.Bytes()), "fuzzed")
		if err != nil {
			t.Fatalf("what was written can't be read: %v\n%s", err, b.String())
		}
		var second bytes.Buffer
		if err := WriteCubeChain(&second, &picture.Chain{Ops: again.Ops}); err != nil {
			t.Fatal(err)
		}
		third, err := ReadCube(&second, "fuzzed")
		if err != nil || !reflect.DeepEqual(third.Ops, again.Ops) {
			t.Fatalf("numbers changed on the way (%v)", err)
		}
	})
}

func FuzzCLF(f *testing.F) {
	seeds(f, badCLF, []string{
		list(`<Matrix inBitDepth="10i" outBitDepth="8i"><Array dim="3 4">1 0 0 1 0 1 0 2 0 0 1 3</Array></Matrix>`),
		list(`<LUT1D` + depths32 + ` hueAdjust="dw3"><Array dim="2 3">0 0 0 1 2 3</Array></LUT1D>`),
		list(`<LUT3D inBitDepth="8i" outBitDepth="16i" interpolation="tetrahedral"><Array dim="2 2 2 3">0 0 0 0 0 1 0 1 0 0 1 1 1 0 0 1 0 1 1 1 0 1 1 1</Array></LUT3D>`),
		list(`<Range` + depths32 + `><minInValue>0</minInValue><maxInValue>1</maxInValue><minOutValue>-1</minOutValue><maxOutValue>2</maxOutValue></Range>`),
		list(`<Log` + depths32 + ` style="cameraLogToLin"><LogParams base="10" logSideSlope="0.25" logSideOffset="0.4" linSideSlope="5" linSideOffset="0.05" linSideBreak="0.01"/></Log>`),
		list(`<Exponent` + depths32 + ` style="monCurveMirrorRev"><ExponentParams channel="G" exponent="2.4" offset="0.055"/></Exponent>`),
		list(`<ASC_CDL` + depths32 + ` style="RevNoClamp"><SOPNode><Slope>1 2 3</Slope><Offset>0 0 0.1</Offset><Power>1 2 0.5</Power></SOPNode><SatNode><Saturation>0.5</Saturation></SatNode></ASC_CDL>`),
		list2(`<LUT1D` + depths32 + `><IndexMap dim="2">0.1@0 0.9@1</IndexMap><Array dim="2 1">0 1</Array></LUT1D>`),
		list("<Description>a \u0092 b</Description><ASC_CDL" + depths32 + "/>"), // what is dropped leaves two blanks
		clfHead + `<ProcessList xmlns="` + spaceSMPTE + `"><Id>urn:uuid:1</Id><Info><a><b/></a></Info><Log inBitDepth="8i" outBitDepth="8i" style="log2"/></ProcessList>`,
	}, "clf/*.clf", "clf/illegal/*.clf")
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ReadCLF(bytes.NewReader(data), "fuzzed")
		if err != nil {
			mustBeFault(t, err)
			return
		}
		mustBeTotal(t, c)
		var b bytes.Buffer
		if err := WriteCLF(&b, c); err != nil {
			mustBeTiny(t, err)
			return
		}
		again, err := ReadCLF(bytes.NewReader(b.Bytes()), "fuzzed")
		if err != nil {
			t.Fatalf("what was written can't be read: %v\n%s", err, b.String())
		}
		var second bytes.Buffer
		if err := WriteCLF(&second, again); err != nil {
			t.Fatalf("what was read can't be written: %v", err)
		}
		if !bytes.Equal(second.Bytes(), b.Bytes()) {
			t.Fatalf("written again:\n%s\nfirst:\n%s", second.String(), b.String())
		}
	})
}

// mustBeTiny allows the one thing that is read but not written: a slope, base
// or power that single precision would take for 0.
func mustBeTiny(t *testing.T, err error) {
	t.Helper()
	known, ok := fault.As(err)
	if !ok || known.Code != "lut-write" || !(strings.Contains(known.Message, "a logarithm that") || strings.Contains(known.Message, "a CDL with slope")) {
		t.Fatalf("what was read can't be written: %v", err)
	}
}

func FuzzCDL(f *testing.F) {
	seeds(f, badCDLs, []string{
		`<ColorCorrection id="a"><SOPNode><Description>d</Description><Slope>1 2 3</Slope><Offset>-.1 0 1e-3</Offset><Power>1 1 2</Power></SOPNode></ColorCorrection>`,
		`<ColorCorrectionCollection><ColorCorrection><ASC_SAT><Saturation>0.5</Saturation></ASC_SAT></ColorCorrection><x/></ColorCorrectionCollection>`,
		`<ColorDecisionList xmlns="urn:x"><ColorDecision><MediaRef ref="a"/><ColorCorrection id="b"><SatNode/></ColorCorrection></ColorDecision></ColorDecisionList>`,
	}, "cdl/*")
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := ReadCDL(bytes.NewReader(data), "fuzzed")
		if err != nil {
			mustBeFault(t, err)
			return
		}
		for _, c := range list {
			mustBeTotal(t, c.Chain())
			var b bytes.Buffer
			if err := WriteCDL(&b, c); err != nil {
				mustBeTiny(t, err)
				continue
			}
			again, err := ReadCDL(&b, "fuzzed")
			if err != nil {
				t.Fatalf("what was written can't be read: %v", err)
			}
			if !reflect.DeepEqual(again[0].Description, c.Description) || again[0].ID != c.ID {
				t.Fatalf("%+v became %+v", c, again[0])
			}
		}
	})
}
