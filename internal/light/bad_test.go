package light

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"lampwise/internal/fault"
)

const goodPlan = smallRoom + `
[[circuit]]
name = "wall"
volts = 230
breaker = 16

[[lamp]]
name = "key"
kind = "panel-60"
at = [0.8, 1.5, 1.9]
circuit = "wall"
`

// What a user can get wrong, each with its line and what to do.
func TestBadPlans(t *testing.T) {
	for name, c := range map[string]struct{ old, new, code, says string }{
		"not TOML":            {"[room]", "[room", "plan-syntax", "bad.toml:3"},
		"unknown key":         {"width = 4", "widht = 4", "plan-key", "widht"},
		"unknown in a lamp":   {`kind = "panel-60"`, `knid = "panel-60"`, "plan-key", "knid"},
		"a text for a number": {"width = 4", `width = "4"`, "plan-syntax", "bad.toml:4"},
		"no schema":           {"schema = 1", "", "plan-schema", "schema"},
		"millimetres":         {"width = 4", "width = 4000", "plan-length", "bad.toml:4: room.width = 4000 m"},
		"negative":            {"depth = 5", "depth = -5", "plan-length", "room.depth"},
		"not a number":        {"height = 2.5", "height = nan", "plan-length", "room.height"},
		"endless":             {"height = 2.5", "height = inf", "plan-length", "room.height"},
		"all-white room":      {"walls = 0.5", "walls = 1.0", "plan-range", "room.walls"},
		"lamp in the wall":    {"at = [0.8, 1.5, 1.9]", "at = [-0.2, 1.5, 1.9]", "plan-outside", "outside the room"},
		"lamp in millimetres": {"at = [0.8, 1.5, 1.9]", "at = [800, 1500, 1900]", "plan-outside", "800"},
		"two numbers":         {"at = [0.8, 1.5, 1.9]", "at = [0.8, 1.5]", "plan-count", "3 numbers"},
		"subject behind":      {"focal_mm = 35", "look = [2, 0.2, 1.2]\nfocal_mm = 35", "plan-behind", "behind the camera"},
		"camera in the face":  {"at = [2, 1, 1.4]", "at = [2, 3, 1.2]", "plan-zero-distance", "face"},
		"focal in metres":     {"focal_mm = 35", "focal_mm = 0.035", "plan-length", "0.035"},
		"f-number 0":          {"f = 2.8", "f = 0", "plan-range", "camera.f"},
		"shutter twice":       {"f = 2.8", "f = 2.8\nshutter_deg = 180\nshutter_s = 0.02", "plan-shutter", "twice"},
		"shutter too long":    {"f = 2.8", "f = 2.8\nshutter_s = 0.2", "plan-range", "shutter_s"},
		"mains of 55 Hz":      {"f = 2.8", "f = 2.8\nmains_hz = 55", "plan-mains", "55"},
		"kind unknown":        {`kind = "panel-60"`, `kind = "panel-06"`, "plan-kind", "panel-06"},
		"zero distance":       {`kind = "panel-60"`, `kind = "panel-60"` + "\nlux = 900", "plan-zero-distance", "distance"},
		"light said twice":    {`kind = "panel-60"`, `kind = "panel-60"` + "\nlumens = 100\nlux = 900\ndistance = 1", "plan-output", "more than once"},
		"light not said":      {`kind = "panel-60"`, `shape = "disc"` + "\nsize = [0.4]", "plan-output", "isn't said"},
		"negative light":      {`kind = "panel-60"`, `kind = "panel-60"` + "\nlumens = -5", "plan-range", "lumens"},
		"level over full":     {`kind = "panel-60"`, `kind = "panel-60"` + "\nlevel = 50", "plan-range", "level"},
		"shape unknown":       {`kind = "panel-60"`, `shape = "cube"` + "\nlumens = 5", "plan-shape", "cube"},
		"beam of a soft face": {`kind = "panel-60"`, `kind = "panel-60"` + "\nbeam = 40", "plan-beam", "beam"},
		"field inside beam":   {`kind = "panel-60"`, `kind = "spot-30"` + "\nfield = 20", "plan-field", "wider"},
		"aim unknown":         {`kind = "panel-60"`, `kind = "panel-60"` + "\naim = \"nose\"", "plan-aim", "nose"},
		"points at itself":    {`kind = "panel-60"`, `kind = "panel-60"` + "\naim = [0.8, 1.5, 1.9]", "plan-zero-distance", "itself"},
		"circuit unknown":     {`circuit = "wall"`, `circuit = "wal"`, "plan-circuit", "wal"},
		"finish unknown":      {"[[lamp]]", "[background]\nat = [2, 4.9, 1.2]\nfinish = \"shiny\"\n[[lamp]]", "plan-finish", "shiny"},
		"in Latin-1":          {"width = 4", "width = 4 # gem\xfctlich", "plan-encoding", "bad.toml:4: the text is not in UTF-8"},
		"no name":             {`name = "key"`, `name = ""`, "plan-name", "no name"},
		"temperature of 5":    {`kind = "panel-60"`, `kind = "panel-60"` + "\nkelvin = 5", "plan-range", "kelvin"},
	} {
		text := strings.Replace(goodPlan, c.old, c.new, 1)
		if text == goodPlan {
			t.Fatalf("%s: nothing was changed", name)
		}
		_, err := Parse([]byte(text), "bad.toml")
		f, ok := fault.As(err)
		if !ok {
			t.Errorf("%s: no fault but %v", name, err)
			continue
		}
		if f.Code != c.code || !strings.Contains(f.Message, c.says) || !strings.HasPrefix(f.Message, "bad.toml") {
			t.Errorf("%s: %s: %s", name, f.Code, f.Message)
		}
	}
	two := strings.Replace(goodPlan, "[[lamp]]", "[[lamp]]\nname = \"key\"\nkind = \"bulb\"\nat = [1, 1, 1]\n[[lamp]]", 1)
	if _, err := Parse([]byte(two), "bad.toml"); err == nil || !strings.Contains(err.Error(), "two named") {
		t.Errorf("two lamps of one name: %v", err)
	}
}

// What only shows when the lamps stand: a lantern in the wall or over a face.
func TestBadPlacing(t *testing.T) {
	for name, c := range map[string][2]string{
		"lantern in the wall":  {"kind = \"panel-60\"\nat = [0.8, 1.5, 1.9]", "kind = \"lantern-65\"\nat = [0.2, 1.5, 1.9]"},
		"face in a lantern":    {"kind = \"panel-60\"\nat = [0.8, 1.5, 1.9]", "kind = \"lantern-65\"\nat = [2.0, 2.75, 1.3]"},
		"subject in a thing":   {"[[lamp]]", "[[thing]]\nname = \"shelf\"\nat = [2, 3, 1.2]\nsize = [0.5, 0.5, 0.5]\nreflectance = 0.3\n[[lamp]]"},
		"camera in a thing":    {"[[lamp]]", "[[thing]]\nname = \"shelf\"\nat = [2, 1, 1.4]\nsize = [0.5, 0.5, 0.5]\nreflectance = 0.3\n[[lamp]]"},
		"subject in the wall":  {"at = [2, 3]", "at = [2, 5]"},
		"lamp inside the head": {"at = [0.8, 1.5, 1.9]", "at = [2, 3, 1.2]"},
	} {
		text := strings.Replace(goodPlan, c[0], c[1], 1)
		if text == goodPlan {
			t.Fatalf("%s: nothing was changed", name)
		}
		_, err := NewScene(parsed(t, text), nil)
		if f, ok := fault.As(err); !ok || !strings.HasPrefix(f.Message, "test.toml:") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Lux that were measured inside a lamp are told on that lamp's line, not the first's.
func TestLuxInsideIsToldAtItsLamp(t *testing.T) {
	text := goodPlan + "[[lamp]]\nname = \"ball\"\nshape = \"ball\"\nsize = [0.6]\nat = [1, 1, 1]\nlux = 900\ndistance = 0.2\n"
	_, err := NewScene(parsed(t, text), nil)
	want := fmt.Sprintf("test.toml:%d: lamp ball", strings.Count(text, "\n"))
	if f, ok := fault.As(err); !ok || f.Code != "plan-output" || !strings.HasPrefix(f.Message, want) {
		t.Errorf("%v; want %s", err, want)
	}
}

func TestWindowsLineEnds(t *testing.T) {
	p, err := Parse([]byte(strings.ReplaceAll(goodPlan, "\n", "\r\n")), "crlf.toml")
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Lamps) != 1 {
		t.Errorf("%d lamps", len(p.Lamps))
	}
	// A Windows editor's mark before the text.
	if _, err := Parse([]byte("\xef\xbb\xbf"+goodPlan), "mark.toml"); err != nil {
		t.Error(err)
	}
}

// The example and what plan new writes are plans.
func TestExampleAndNew(t *testing.T) {
	for name, text := range map[string]func() (string, error){
		"example": func() (string, error) { return Example, nil },
		"usual":   func() (string, error) { return New(Usual) },
		"small": func() (string, error) {
			a := Usual
			a.Width, a.Depth, a.Height, a.Fill, a.Standing = 2.2, 2.5, 2.2, "", true
			a.Key = "lantern-65"
			return New(a)
		},
	} {
		s, err := text()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if _, err := NewScene(parsed(t, s), nil); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := New(Answers{}); err == nil {
		t.Error("a room of nothing")
	}
}

// Every kind shines, as much as it's said to.
func TestKinds(t *testing.T) {
	for _, k := range Kinds() {
		s := sceneOf(t, smallRoom+"[[lamp]]\nname = \"one\"\nkind = \""+k.Name+"\"\nat = [0.8, 2, 1.6]\n")
		l := k.Lamp()
		if l.Lumens > 0 {
			if f := s.Flux(0); math.Abs(float64(f/l.Lumens)-1) > 1e-9 {
				t.Errorf("%s: %g lm", k.Name, float64(f))
			}
		}
		if l.Lux > 0 {
			at, z, _, _ := s.Axis(0)
			e := s.lamps[0].face.at(at.Add(z.Times(float64(l.Distance))), z.Times(-1))
			if math.Abs(e/float64(l.Lux)-1) > 1e-9 {
				t.Errorf("%s: %g lx", k.Name, e)
			}
		}
		if s.Read(s.place(FaceLit))[0].Total() <= 0 {
			t.Errorf("%s: gives nothing", k.Name)
		}
	}
}

// No plan crashes the reader or the scene, and what comes out is a number.
func FuzzPlan(f *testing.F) {
	f.Add([]byte(goodPlan))
	f.Add([]byte(Example))
	f.Add([]byte(strings.ReplaceAll(goodPlan, "\n", "\r\n")))
	f.Add([]byte("schema = 1\n[room]\nwidth = nan\n"))
	f.Add([]byte(goodPlan + "[lamp.diffusion]\nsize = [1, 1]\ndistance = 0.5\ntransmission = 0.4\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse(data, "fuzz.toml")
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		if len(p.Lamps)*(1+len(p.Things)) > 20 {
			return // sound, and slow
		}
		for i := range p.Lamps {
			if p.Lamps[i].Photometry != "" {
				return
			}
		}
		s, err := NewScene(p, nil)
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		for _, place := range s.Places {
			for l, lit := range s.Read(place) {
				if e := float64(lit.Total()); !(e >= 0) || math.IsInf(e, 0) {
					t.Fatalf("lamp %d gives %g lx at %s", l, e, place.Name)
				}
			}
		}
	})
}
