package lutfile

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

func readTruthCDL(t *testing.T, name string) []Correction {
	t.Helper()
	path := truth(t, "lut", "cdl", name)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	list, err := ReadCDL(f, path)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func TestCDLFilesOfTheTruthSet(t *testing.T) {
	foo := &picture.CDL{Slope: [3]float64{1.1, 1.2, 1.3}, Offset: [3]float64{2.1, 2.2, 2.3}, Power: [3]float64{3.1, 3.2, 3.3}, Saturation: 0.42, Style: "Fwd"}
	for _, name := range []string{"cdl_test_ASC_SAT.cc", "cdl_test_ASC_SOP.cc", "cdl_test_SATNode.cc"} {
		want := []Correction{{ID: "foo", Description: []string{"this is a description"}, CDL: foo}}
		if got := readTruthCDL(t, name); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
	for _, name := range []string{"cdl_test1.ccc", "cdl_test1.cdl"} {
		got := readTruthCDL(t, name)
		if len(got) != 5 || got[0].ID != "cc0001" || got[1].ID != "cc0002" || got[2].ID != "cc0003" || got[3].ID != "" || got[4].ID != "" {
			t.Fatalf("%s: %+v", name, got)
		}
		if want := (picture.CDL{Slope: [3]float64{1, 1, 0.9}, Offset: [3]float64{-0.03, -0.02, 0}, Power: [3]float64{1.25, 1, 1}, Saturation: 1.7, Style: "Fwd"}); *got[0].CDL != want {
			t.Errorf("%s: %+v, want %+v", name, *got[0].CDL, want)
		}
		if got[0].Input != "CC-level input description 1" || got[0].Viewing != "CC-level viewing description 1" || len(got[0].Description) < 4 {
			t.Errorf("%s: %+v", name, got[0])
		}
		// Parts left out stay as they are.
		if c := got[3].CDL; c.Saturation != 1 || c.Power[2] != 1.2 {
			t.Errorf("%s: %+v", name, *c)
		}
		if c := got[4].CDL; c.Saturation != 0 || c.Slope != three(1) || c.Offset != three(0) || c.Power != three(1) {
			t.Errorf("%s: %+v", name, *c)
		}
	}
}

// Every line of the reference library's results, through a file written and
// read again. The library computes in single precision with a power of its own
// making; 5e-6 is what that explains (found: 2.1e-6), a four-hundredth of the
// guide's tolerance.
func TestCDLAgainstReferenceLibrary(t *testing.T) {
	const libraryPower = 5e-6
	rows := table(t, truth(t, "lut", "expected_cdl.csv"))
	worst := 0.0
	for _, row := range rows {
		v := numbersOf(t, row[1:])
		c := Correction{CDL: &picture.CDL{Slope: [3]float64(v[0:3]), Offset: [3]float64(v[3:6]), Power: [3]float64(v[6:9]), Saturation: v[9], Style: picture.CDLFwd}}
		var b bytes.Buffer
		if err := WriteCDL(&b, c); err != nil {
			t.Fatal(err)
		}
		list, err := ReadCDL(&b, "written.cc")
		if err != nil {
			t.Fatal(err)
		}
		op := list[0].CDL
		if *op != *c.CDL {
			t.Fatalf("%+v became %+v", *c.CDL, *op)
		}
		if row[0] == "noclamp" {
			op.Style = picture.CDLFwdNoClamp
		}
		got := op.Apply([3]float64(v[10:13]))
		for ch := range 3 {
			e := guarded(got[ch], v[13+ch])
			worst = max(worst, e)
			if e > libraryPower {
				t.Errorf("%v: channel %d: %g, want %g", row, ch, got[ch], v[13+ch])
			}
		}
	}
	t.Logf("%d rows, largest error %.1e", len(rows), worst)
	if len(rows) != 280 {
		t.Errorf("%d rows, want 280", len(rows))
	}
}

func TestLoadChoosesACorrection(t *testing.T) {
	path := truth(t, "lut", "cdl", "cdl_test1.ccc")
	_, err := Load(path)
	checkFault(t, err, path, 0, "lut-choice", "holds 5 corrections")
	checkHint(t, err, "#cc0001; there are cc0001, cc0002, cc0003")
	c, err := Load(path + "#cc0002")
	if err != nil {
		t.Fatal(err)
	}
	if c.Title != "cc0002" || c.Ops[0].(*picture.CDL).Saturation != 0.7 {
		t.Errorf("%+v", c)
	}
	_, err = Load(path + "#cc0009")
	checkFault(t, err, path, 0, "lut-choice", `"cc0009"`)
	checkHint(t, err, "did you mean #cc000")

	clf := truth(t, "lut", "clf", "range.clf") + "#a"
	_, err = Load(clf)
	checkFault(t, err, strings.TrimSuffix(clf, "#a"), 0, "lut-choice", "without ids")
	cube := truth(t, "lut", "cube", "cube_1d.cube") + "#a"
	_, err = Load(cube)
	checkFault(t, err, strings.TrimSuffix(cube, "#a"), 0, "lut-choice", "without ids")
}

// The content decides what a file is, not its name.
func TestLoadGoesByContent(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for name, text := range map[string]string{
		"cube.clf":       "LUT_1D_SIZE 3\n" + rampRows,
		"list.cube":      list(`<ASC_CDL` + depths32 + "/>"),
		"list.xml":       list(`<ASC_CDL` + depths32 + "/>"),
		"correction.txt": "\ufeff\n<ColorCorrection><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>",
		"a#b.cube":       "LUT_1D_SIZE 3\n" + rampRows,
		"blank.cube":     strings.Repeat(" \n", 40000) + "LUT_1D_SIZE 3\n" + rampRows,
	} {
		if _, err := Load(write(name, text)); err != nil {
			t.Error(err)
		}
	}
	page := write("page.xml", "<html/>")
	_, err := Load(page)
	checkFault(t, err, page, 1, "lut-kind", "<html>")
	words := write("notes.txt", "buy lamps\n")
	_, err = Load(words)
	checkFault(t, err, words, 1, "lut-keyword", `"buy"`)
	checkHint(t, err, "read as a text cube")
	_, err = Load(dir)
	checkFault(t, err, dir, 0, "lut-missing", "not a file")
	none := filepath.Join(dir, "none.cube")
	_, err = Load(none)
	checkFault(t, err, none, 0, "lut-missing", "cannot be opened")
}

var badCDLs = map[string]badFile{
	"empty":           {"", 0, "lut-empty", "empty"},
	"other root":      {clfHead + "<ColourCorrection/>", 2, "lut-element", "<ColourCorrection> begins no"},
	"nothing in it":   {clfHead + "<ColorCorrection id=\"a\"/>", 2, "lut-cdl", "neither <SOPNode> nor <SatNode>"},
	"no corrections":  {clfHead + "<ColorDecisionList><ColorDecision/></ColorDecisionList>", 2, "lut-empty", "no <ColorCorrection>"},
	"slope":           {"<ColorCorrection>\n<SOPNode><Slope>-1 1 1</Slope></SOPNode></ColorCorrection>", 2, "lut-param", "<Slope> is -1"},
	"power":           {"<ColorCorrection>\n<SOPNode><Power>0 1 1</Power></SOPNode></ColorCorrection>", 2, "lut-param", "<Power> is 0"},
	"saturation":      {"<ColorCorrection>\n<SatNode><Saturation>-1</Saturation></SatNode></ColorCorrection>", 2, "lut-param", "<Saturation> is -1"},
	"two numbers":     {"<ColorCorrection>\n<SOPNode><Offset>0 0</Offset></SOPNode></ColorCorrection>", 2, "lut-count", "3 numbers were expected, 2 found"},
	"NaN":             {"<ColorCorrection>\n<SOPNode><Offset>0 nan 0</Offset></SOPNode></ColorCorrection>", 2, "lut-number", `"nan" is not a finite number`},
	"two saturations": {"<ColorCorrection><SatNode/>\n<SATNode/></ColorCorrection>", 2, "lut-element", "a second <SATNode>"},
	"same id":         {"<ColorCorrectionCollection><ColorCorrection id=\"a\"><SatNode/></ColorCorrection>\n<ColorCorrection id=\"a\"><SatNode/></ColorCorrection></ColorCorrectionCollection>", 2, "lut-cdl", `a second correction "a" (the first is on line 1)`},
	"long name":       {"<" + strings.Repeat("n", 5000) + "/>\n<b/>", 2, "lut-xml", "<b> after the end of <nnn"},
	"entity bomb":     {"<!DOCTYPE x [<!ENTITY a \"1\">]>\n<ColorCorrection/>", 1, "lut-xml", "document type"},
	"truncated":       {"<ColorCorrection>\n<SOPNode><Slope>1 1", 2, "lut-truncated", "ends inside <Slope>"},
}

func TestBadCDLIsRefused(t *testing.T) {
	for name, c := range badCDLs {
		t.Run(name, func(t *testing.T) {
			_, err := ReadCDL(strings.NewReader(c.text), "day/bad.ccc")
			checkFault(t, err, "day/bad.ccc", c.line, c.code, c.says)
		})
	}
}

func TestWriteCDLRefusesWhatTheFormatCannotSay(t *testing.T) {
	for says, c := range map[string]*picture.CDL{
		"the style Rev":   {Slope: three(1), Power: three(1), Saturation: 1, Style: picture.CDLRev},
		"the style NoCl":  {Slope: three(1), Power: three(1), Saturation: 1, Style: "NoCl"},
		"isn't finite":    {Slope: three(math.NaN()), Power: three(1), Saturation: 1},
		"power [0 0 0]":   {Slope: three(1), Saturation: 1},
		"saturation -0.5": {Slope: three(1), Power: three(1), Saturation: -0.5},
	} {
		checkCannot(t, WriteCDL(&bytes.Buffer{}, Correction{CDL: c}), says)
	}
}
