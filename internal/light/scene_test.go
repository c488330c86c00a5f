package light

import (
	"math"
	"strings"
	"testing"

	"lampwise/internal/unit"
)

func parsed(t testing.TB, text string) *Plan {
	t.Helper()
	p, err := Parse([]byte(text), "test.toml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func sceneOf(t testing.TB, text string) *Scene {
	t.Helper()
	s, err := NewScene(parsed(t, text), nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const smallRoom = `
schema = 1
[room]
width = 4
depth = 5
height = 2.5
walls = 0.5
ceiling = 0.5
floor = 0.5
[subject]
at = [2, 3]
[camera]
at = [2, 1, 1.4]
focal_mm = 35
f = 2.8
sensitivity = 800
`

// An empty closed room keeps what lamps give: the patches' shares of what each
// is lit by add up to 1, and what all absorb is what the lamps gave.
func TestRoomKeepsItsLight(t *testing.T) {
	s := sceneOf(t, smallRoom+`
[[lamp]]
name = "bulb"
kind = "bulb"
at = [1.2, 2.2, 1.9]
[[lamp]]
name = "panel"
kind = "panel-60"
at = [3.4, 1.5, 2.1]
`)
	s.solids = nil                 // the subject itself is not what this is about
	s.Plan.Lamps[1].Ambient = true // nor are lamps' bodies
	s.makePatches()
	s.exchange()
	row := make([]float64, len(s.patches))
	for i := range s.patches {
		s.spread(s.patches[i].at, s.patches[i].n, Whole, row)
		sum := 0.0
		for _, v := range row {
			sum += v
		}
		// The patch's place stands a millimetre before its wall.
		if math.Abs(sum-1) > 2e-3 {
			t.Fatalf("patch %d sees %.5f of the room", i, sum)
		}
	}
	for l := range s.lamps {
		absorbed := 0.0
		for i := range s.patches {
			p := &s.patches[i]
			absorbed += s.exitance[l][i] / p.reflectance * (1 - p.reflectance) * p.area
		}
		// The middles of patches stand for their whole: reciprocity holds within 1 %.
		if f := float64(s.Flux(l)); math.Abs(absorbed/f-1) > 0.01 {
			t.Errorf("lamp %d gives %.1f lm, %.1f are absorbed", l, f, absorbed)
		}
	}
}

// In a room whose sides reflect alike the mean of what comes back is the
// customary estimate: Φρ/(A(1−ρ)).
func TestMeanEstimate(t *testing.T) {
	s := sceneOf(t, smallRoom+"[[lamp]]\nname = \"bulb\"\nkind = \"bulb\"\nat = [2, 2.5, 1.25]\naim = \"down\"\n")
	s.solids = nil
	s.makePatches()
	s.exchange()
	back, area := 0.0, 0.0
	row := make([]float64, len(s.patches))
	for i := range s.patches {
		p := &s.patches[i]
		s.spread(p.at, p.n, Whole, row)
		for j, v := range row {
			back += v * s.exitance[0][j] * p.area
		}
		area += p.area
	}
	if got, want := back/area, float64(s.Mean(0)); math.Abs(got/want-1) > 0.01 {
		t.Errorf("%.3f lx come back on the mean, estimated %.3f", got, want)
	}
}

// A black room gives nothing back, and light adds: levels and measured factors
// scale a lamp, and nothing else.
func TestBlackRoomAndLevels(t *testing.T) {
	black := strings.NewReplacer("0.5", "0").Replace(strings.Replace(smallRoom, "height = 2.5", "height = 2.6", 1))
	text := black + "[[lamp]]\nname = \"spot\"\nkind = \"spot-30\"\nat = [0.5, 1, 2]\n"
	s := sceneOf(t, text)
	for _, p := range s.Places {
		if b := s.Read(p)[0].Bounced; b > 1e-9 && p.Name != Card {
			// The subject's own body gives back a little even here.
			if b > 0.02*s.Read(s.place(FaceLit))[0].Direct {
				t.Errorf("%s: %g lx from a black room", p.Name, float64(b))
			}
		}
	}
	full := s.Read(s.place(FaceLit))[0]
	half := sceneOf(t, text+"level = 0.5\n")
	twice := sceneOf(t, text+"measured_stops = 1\n")
	if h := half.Read(half.place(FaceLit))[0]; math.Abs(float64(h.Total()/full.Total())-0.5) > 1e-12 {
		t.Errorf("half level gives %g of full", float64(h.Total()/full.Total()))
	}
	if h := twice.Read(twice.place(FaceLit))[0]; math.Abs(float64(h.Total()/full.Total())-2) > 1e-9 {
		t.Errorf("a measured stop gives %g of the plan", float64(h.Total()/full.Total()))
	}
}

// What stands in the way hides: a flag between lamp and face, a wall of it.
func TestThingsHide(t *testing.T) {
	lamp := "[[lamp]]\nname = \"key\"\nkind = \"panel-60\"\nat = [0.6, 1.5, 1.8]\n"
	open := sceneOf(t, smallRoom+lamp)
	flagged := sceneOf(t, smallRoom+lamp+"[[thing]]\nname = \"flag\"\nat = [1.3, 2.25, 1.5]\nsize = [0.02, 1.2, 1.2]\nreflectance = 0.05\n")
	a, b := open.Read(open.place(FaceLit))[0], flagged.Read(flagged.place(FaceLit))[0]
	if a.Direct <= 0 || b.Direct != 0 {
		t.Errorf("open %g lx, behind the flag %g lx", float64(a.Direct), float64(b.Direct))
	}
	if b.Bounced >= a.Bounced {
		t.Errorf("the flag adds light: %g and %g lx", float64(a.Bounced), float64(b.Bounced))
	}
}

// A frame that passes all and spreads nothing leaves what goes through it as
// it was; one that spreads all gives a matt face of the flux it caught.
func TestDiffusion(t *testing.T) {
	spot := smallRoom + "[[lamp]]\nname = \"spot\"\nshape = \"beam\"\nbeam = 20\nlux = 4000\ndistance = 1\nat = [0.6, 1.5, 1.8]\n"
	frame := "[lamp.diffusion]\nsize = [0.8, 0.8]\ndistance = 0.8\ntransmission = "
	bare := sceneOf(t, spot)
	clear := sceneOf(t, spot+frame+"1\nspread = 0\n")
	soft := sceneOf(t, spot+frame+"0.5\n")
	at := func(s *Scene) Lit { return s.Read(s.place(FaceLit))[0] }
	if a, b := at(bare).Direct, at(clear).Direct; math.Abs(float64(b/a)-1) > 1e-9 {
		t.Errorf("bare %g lx, through a clear frame %g lx", float64(a), float64(b))
	}
	// A frame this large catches nearly all of a 20° beam (its edge lies at 27°).
	if a, b := float64(bare.Flux(0)), float64(soft.Flux(0)); b > 0.5*a || b < 0.46*a {
		t.Errorf("bare %g lm, through half a frame %g lm", a, b)
	}
	if a, b := at(bare).Direct, at(soft).Direct; !(b < a/4) {
		t.Errorf("spread %g lx, bare %g lx", float64(b), float64(a))
	}
}

// tilting is a distribution that loses half its light on its side.
type tilting struct{ Even }

func (tilting) TiltFactor(a unit.Degree) float64 { return 1 - float64(a)/180 }

// A lamp's tilt counts, by the angle of its aim from straight down.
func TestTiltCounts(t *testing.T) {
	lamp := func(aim string) Lit {
		p := parsed(t, smallRoom+"[[lamp]]\nname = \"one\"\nphotometry = \"a.ies\"\nat = [0.8, 2, 1.6]\naim = \""+aim+"\"\n")
		s, err := NewScene(p, map[string]Distribution{"a.ies": tilting{Even(1000)}})
		if err != nil {
			t.Fatal(err)
		}
		return s.Read(s.place(FaceLit))[0]
	}
	down, side, up := lamp("down"), lamp("back"), lamp("up")
	if r := float64(side.Direct / down.Direct); math.Abs(r-0.5) > 1e-9 || up.Direct > 1e-9 {
		t.Errorf("down %g, on its side %g, up %g lx", float64(down.Direct), float64(side.Direct), float64(up.Direct))
	}
}
