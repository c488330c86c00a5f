package grade

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// head is the least a grade file needs.
const head = "schema = 1\n[decode]\ncurve = \"log-420\"\n"

func TestWrongGradesAreRefusedWithLineAndReason(t *testing.T) {
	for _, c := range []struct {
		name, text       string
		line             string // file:line the message starts with
		message, hintHas string
	}{
		{"unknown stage", head + "[exposur]\nstops = 1\n", "g.toml:4", `unknown key "exposur"`, "Did you mean exposure?"},
		{"unknown key", head + "[exposure]\nstop = 1\n", "g.toml:5", `unknown key "exposure.stop"`, "Did you mean stops?"},
		{"unknown key, nothing near", head + "[exposure]\nbrightness = 1\n", "g.toml:5", "unknown key", "Known here: off, stops."},
		{"unknown key in an inline table", head + "[split]\nshadow = { mired = 1, duw = 0 }\n", "g.toml:5", `"split.shadow.duw"`, "Did you mean duv?"},
		{"unknown dotted key", head + "split.high.miredd = 2\n", "g.toml:4", `"decode.split"`, ""},
		{"text for a number", head + "[exposure]\nstops = \"1 stop\"\n", "g.toml:5", `exposure.stops must be a number in stops, not the text "1 stop"`, ""},
		{"number for a text", "schema = 1\n[decode]\ncurve = 420\n", "g.toml:3", "decode.curve must be a text in quotes, not the number 420", ""},
		{"number for a switch", head + "[look]\noff = 1\n", "g.toml:5", "look.off must be true or false", ""},
		{"fraction of a bit", head + "[encode]\nbits = 8.5\n", "g.toml:5", "encode.bits must be a whole number", ""},
		{"depth nobody records", head + "[encode]\nbits = 9\n", "g.toml:5", `encode.bits is "9"; it can be 8, 10, 12`, ""},
		{"out of range", head + "[exposure]\nstops = 8.5\n", "g.toml:5", "exposure.stops is 8.5 stops; it can be -8 to 8 stops", ""},
		{"kelvin for mired", head + "[split]\nhigh = { mired = 3200 }\n", "g.toml:5", "split.high.mired is 3200 mired; it can be -100 to 100 mired", ""},
		{"not a number", head + "[exposure]\nstops = nan\n", "g.toml:5", "finite", ""},
		{"infinite", head + "[curve]\nmaster = [[0, 0], [1, inf]]\n", "g.toml:5", "finite", ""},
		{"wrong word", head + "[convert]\napply = \"chanels\"\n", "g.toml:5", "convert.apply", "Did you mean channels?"},
		{"short list", head + "[vignette]\ncentre = [0.5]\n", "g.toml:5", "vignette.centre must be a list of 2 numbers", ""},
		{"list of the wrong shape", head + "[curve]\nmaster = [0, 1]\n", "g.toml:5", "must be a list of 2 numbers", ""},
		{"falling curve", head + "[curve]\nmaster = [[0, 0], [1, -1]]\n", "g.toml:5", "each must be larger", ""},
		{"too many points", head + "[curve]\nmaster = [" + strings.Repeat("[0, 0], ", 65) + "]\n", "g.toml:5", "at most 64", ""},
		{"two whites", head + "[balance]\nwhite = { cct = 3200, xy = [0.4, 0.4] }\n", "g.toml:5", "two ways", ""},
		{"duv alone", head + "[balance]\nwhite = { xy = [0.4, 0.4] }\ntarget = { duv = 0.01 }\n", "g.toml:6", "duv without cct", ""},
		{"no white", head + "[balance]\nkeep = 0.2\n", "g.toml:4", "balance.white", "off = true"},
		{"a card as target", head + "[balance]\nwhite = { cct = 3200 }\ntarget = { card = [1, 1, 1] }\n", "g.toml:6", "can't be a card", ""},
		{"centres in disorder", head + "[split]\ncentres = [0, -2, 3]\n", "g.toml:5", "split.centres", ""},
		{"look without a file", head + "[look]\nstrength = 0.4\n", "g.toml:4", "names no file", "off = true"},
		{"conversion without a file", head + "[convert]\nby = \"lut\"\n", "g.toml:4", "names no file", ""},
		{"no curve", "schema = 1\n[decode]\n", "g.toml:2", "decode.curve is missing", "lampwise curves"},
		{"decode off under a log grade", "schema = 1\n[decode]\noff = true\n[exposure]\nstops = 1\n", "g.toml:4", "decode is off", "off = true"},
		{"no schema", "[decode]\ncurve = \"log-420\"\n", "g.toml", "schema is 0", "schema = 1"},
		{"later schema", "schema = 2\n", "g.toml:1", "schema is 2", "A later lampwise"},
		{"curve nobody knows", "schema = 1\n[decode]\ncurve = \"log-42\"\n", "g.toml:3", `decode.curve: no curve is called "log-42"`, "log-420"},
		{"curve that could be two", "schema = 1\n[decode]\ncurve = \"log-400\"\n", "g.toml:3", `decode.curve: no curve is called "log-400"`, "log-400a or log-400b"},
		{"gamut nobody knows", head + "gamut = \"bt710\"\n", "g.toml:4", `decode.gamut: no gamut is called "bt710"`, "bt709"},
		{"syntax", head + "[exposure\n", "g.toml:4", "", "TOML"},
		{"key twice", head + "[exposure]\nstops = 1\nstops = 2\n", "g.toml:6", "", "TOML"},
		{"table for a value", head + "[exposure]\nstops = { a = 1 }\n", "g.toml:5", "exposure.stops must be a number in stops, not a table", ""},
		{"value for a table", "schema = 1\nexposure = 1\n", "g.toml:2", "exposure must be a table", ""},
		{"date", head + "[exposure]\nstops = 2024-01-01\n", "g.toml:5", "not a date", ""},
		{"binary", "\x00\x01\x02", "g.toml:1", "", "TOML"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse([]byte(c.text), "g.toml")
			f, ok := fault.As(err)
			if !ok {
				t.Fatalf("got %v, want a fault", err)
			}
			if !strings.HasPrefix(f.Message, c.line+": ") || !strings.Contains(f.Message, c.message) || !strings.Contains(f.Hint, c.hintHas) {
				t.Errorf("message %q, hint %q", f.Message, f.Hint)
			}
			if f.Hint == "" {
				t.Errorf("no hint to %q", f.Message)
			}
			if strings.Contains(f.Message, "\n") || f.Class != fault.Usage {
				t.Errorf("not one line of a usage fault: %q (%d)", f.Message, f.Class)
			}
		})
	}
}

// A text editor on another system puts a byte order mark before and ends lines in CR LF.
func TestGradeFromAnotherSystemsEditorIsRead(t *testing.T) {
	text := string(Starting("log-420").Bytes())
	g, err := Parse([]byte("\ufeff"+strings.ReplaceAll(text, "\n", "\r\n")), "g.toml")
	if err != nil {
		t.Fatal(err)
	}
	if g.Decode.Curve != "log-420" || g.Look.Strength != Starting("log-420").Look.Strength {
		t.Errorf("read %+v", g.Decode)
	}
}

func TestAbsentStageIsOffAndAbsentKeyHasItsDefault(t *testing.T) {
	g, err := Parse([]byte(head+"[convert]\n[saturation]\n[saturation.cdl]\nslope = [1.1, 1, 1]\n"), "g.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range Stages() {
		want := s != StageDecode && s != StageConvert && s != StageSaturation
		if g.Off(s) != want {
			t.Errorf("%s off = %v, want %v", s, g.Off(s), want)
		}
	}
	if g.Convert != defaults().Convert || g.Saturation.Amount != 1 {
		t.Errorf("defaults missing: %+v, %+v", g.Convert, g.Saturation)
	}
	if c := g.Saturation.CDL; c.Power != [3]float64{1, 1, 1} || c.Saturation != 1 {
		t.Errorf("a CDL's absent numbers must be its identity: %+v", c)
	}
}

func TestSavedGradeReadsBackTheSame(t *testing.T) {
	g := everything()
	first := g.Bytes()
	back, err := Parse(first, "g.toml")
	if err != nil {
		t.Fatalf("%v\n%s", err, first)
	}
	if second := back.Bytes(); string(second) != string(first) {
		t.Errorf("a grade read back writes another file:\n%s\n---\n%s", first, second)
	}
	back.notes, g.notes = nil, nil
	if !reflect.DeepEqual(g, back) {
		t.Errorf("came back as\n%+v\nwas\n%+v", back, g)
	}
}

// everything is a grade in which every setting differs from its default.
func everything() *Grade {
	g := Starting("log-433")
	slope, cct, duv := 5.0, 5600.0, 0.003
	g.Name = "quotes \" and \\ and\ttabs, colour é"
	g.Decode = Decode{
		Curve: "mine", Gamut: "bt2020", Levels: "video", Range: "full", Matrix: "bt601",
		Params: &CurveParams{Base: 10, LinSideSlope: 5.2, LinSideOffset: 0.05, LogSideSlope: 0.25, LogSideOffset: 0.41, LinSideBreak: 0.01, LinearSlope: &slope},
	}
	g.Exposure.Stops = -1.0 / 3
	g.Balance = Balance{White: White{Card: &[3]float64{0.21, 0.18, 0.11}}, Target: White{CCT: &cct, Duv: &duv}, Keep: 0.25, CAT: "Bradford"}
	g.Split = Split{Centres: [3]float64{-4, -0.5, 2}, Shadow: Push{-5, 0.001}, Middle: Push{2, 0}, High: Push{3, -0.001}, Counter: "high", Spread: [2]float64{-1, 3}}
	g.Curve.Red, g.Curve.Green, g.Curve.Blue = [][2]float64{{-1, -1.1}, {1, 1}}, [][2]float64{{0, 0.1}}, [][2]float64{{2, 1.9}}
	g.Curve.Foot = [][2]float64{{64, 60}, {95, 100}}
	cdl := identityCDL()
	cdl.Slope[0], cdl.Offset[1], cdl.Power[2], cdl.Saturation, cdl.Clamp, cdl.File, cdl.ID = 1.1, 0.01, 0.9, 1.2, true, "a.ccc", "cc1"
	g.Saturation = Saturation{Amount: 0.9, CDL: &cdl}
	g.Convert = Convert{By: "lut", Slope: 1.2, Toe: -6, Peak: 0.95, Apply: "channels", LUT: "c.cube", LUTIn: "video", LUTOut: "data"}
	g.Vignette = Vignette{Stops: 1, Centre: [2]float64{0.4, 0.6}, Aspect: 1.2, Inner: 0.2, Softness: 1.1}
	g.Encode = Encode{Bits: 8, Sub: "4:2:0", Limiter: "off", Dither: "blue", Seed: 7}
	g.Look.Off = true
	return g
}

func TestUsersCommentsAreKept(t *testing.T) {
	text := head + "# sunny morning\n[exposure] # door open\n# a third more\nstops = 0.3 # measured\n[convert]\n# the end\n"
	g, err := Parse([]byte(text), "g.toml")
	if err != nil {
		t.Fatal(err)
	}
	g.Exposure.Stops = 0.5
	out := string(g.Bytes())
	for _, want := range []string{
		"# sunny morning\n# door open\n# scene light: times 2^stops\n[exposure]\n",
		"# a third more\n# measured\nstops = 0.5",
		"# the end\n",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("missing %q in:\n%s", want, out)
		}
	}
	again, err := Parse([]byte(out), "g.toml")
	if err != nil {
		t.Fatal(err)
	}
	if string(again.Bytes()) != out {
		t.Error("comments multiply when a grade is written again")
	}
}

func TestLoadAndSave(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "g.toml")
	g := Starting("log-420")
	if err := g.Save(path); err != nil {
		t.Fatal(err)
	}
	back, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	if back.Name != g.Name {
		t.Errorf("read %q", back.Name)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) != 1 {
		t.Errorf("files left behind: %v", left)
	}
	for name, do := range map[string]func() error{
		"absent":        func() error { _, err := Load(filepath.Join(dir, "none.toml")); return err },
		"a folder":      func() error { _, err := Load(dir); return err },
		"no such place": func() error { return g.Save(filepath.Join(dir, "none", "g.toml")) },
		"too large": func() error {
			big := filepath.Join(dir, "big.toml")
			if err := os.WriteFile(big, make([]byte, maxFileBytes+1), 0o600); err != nil {
				return err
			}
			_, err := Load(big)
			return err
		},
	} {
		err := do()
		f, ok := fault.As(err)
		if !ok || f.Hint == "" || !strings.Contains(f.Message, dir) || strings.Contains(f.Message, "nil") {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// Whatever the bytes, a grade is read and writes a file that reads back, or a
// fault of one line is given.
func FuzzGradeFile(f *testing.F) {
	f.Add([]byte(head))
	f.Add(Starting("log-420").Bytes())
	f.Add(everything().Bytes())
	own := everything()
	own.Convert.By, own.Decode.Levels, own.Curve.Foot = "tone", "data", nil
	f.Add(own.Bytes())
	f.Add([]byte("schema = 1\nsplit = { shadow = { mired = 1 } }\ndecode.curve = 'log-420'\n"))
	f.Add([]byte(head + "[[exposure]]\n"))
	f.Add([]byte("a" + strings.Repeat(".a", 100) + " = 1\n"))
	f.Add([]byte(head + "[curve]\nmaster = [[1e308, -1e308]] # \xff\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := Parse(data, "g.toml")
		if err != nil {
			if fl, ok := fault.As(err); !ok || strings.Contains(fl.Message, "\n") || !strings.HasPrefix(fl.Message, "g.toml") {
				t.Fatalf("not one line of a fault: %v", err)
			}
			return
		}
		out := g.Bytes()
		back, err := Parse(out, "g.toml")
		if err != nil {
			t.Fatalf("what was written doesn't read: %v\n%s", err, out)
		}
		back.notes, g.notes = nil, nil
		if !reflect.DeepEqual(normal(g), normal(back)) {
			t.Fatalf("changed on the way:\n%+v\n%+v", g, back)
		}
		// What was read can be built, or a fault says why not; and what was
		// built computes.
		p, err := Build(g, Clip{}, looks)
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		for _, y := range [][3]float64{{}, {0.41, 0.41, 0.41}, {1, 0, 0.5}, {-3, 4, 0.1}} {
			for _, st := range Stages() {
				if v := p.After(st, y); !colour.Finite(v) {
					t.Fatalf("after %s: %v from %v", st, v, y)
				}
			}
		}
	})
}

// normal makes an empty list and no list the same.
func normal(g *Grade) *Grade {
	for _, l := range []*[][2]float64{&g.Curve.Master, &g.Curve.Red, &g.Curve.Green, &g.Curve.Blue, &g.Curve.Foot} {
		if len(*l) == 0 {
			*l = nil
		}
	}
	return g
}
