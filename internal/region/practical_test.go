package region

import (
	"math"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

// glowing adds a round source of a given light to a room's picture, with the
// glow that a lens puts around it.
func glowing(im *picture.Image, x, y, radius float64, light [3]float64) {
	for p := range im.W * im.H {
		px, py := (float64(p%im.W)+0.5)/float64(im.H), (float64(p/im.W)+0.5)/float64(im.H)
		r := math.Hypot(px-x, py-y)
		k := min(max((radius-r)*float64(im.H)+0.5, 0), 1) + 0.004*math.Exp(-r/(2*radius))
		for c := range 3 {
			im.Pix[3*p+c] += float32(k * light[c])
		}
	}
}

// clippedAt cuts light off as a sensor does.
func clippedAt(im *picture.Image, clip float64) *picture.Image {
	return each(im, im.Space, func(v [3]float64) [3]float64 {
		for c := range v {
			v[c] = min(v[c], clip)
		}
		return v
	})
}

const testClip = 6.0 // five stops over grey

func lampsIn(t *testing.T, s Scene) []Region {
	t.Helper()
	l, err := newLight(s)
	if err != nil {
		t.Fatal(err)
	}
	return l.practicals(nil)
}

func TestLampInPicture(t *testing.T) {
	for _, c := range []struct {
		name  string
		light [3]float64
		clip  float64 // as told
	}{
		{"clipped", [3]float64{30, 25, 18}, testClip},
		{"clipped, clip unknown", [3]float64{30, 25, 18}, 0},
		{"red", [3]float64{20, 0.3, 0.2}, testClip},
		{"a stop and a half below clip", [3]float64{2.1, 1.9, 1.5}, testClip},
	} {
		rnd := seeded(5)
		r := aRoom(rnd)
		r.stops = 0
		im := r.picture(rnd)
		glowing(im, 1.3, 0.3, 0.035, c.light)
		im = clippedAt(im, testClip)
		got := lampsIn(t, Scene{Picture: im, Clip: c.clip})
		if len(got) == 0 || got[0].Confidence < Sure {
			t.Errorf("%s: no sure lamp: %+v", c.name, got)
			continue
		}
		x, y := got[0].Box.Middle()
		if math.Hypot(x*float64(im.W)/float64(im.H)-1.3, y-0.3) > 0.01 || math.Abs(got[0].Box.H-0.07) > 0.02 {
			t.Errorf("%s: a lamp at 1.3, 0.3, 0.07 high is found at %v", c.name, got[0].Box)
		}
		for _, o := range got[1:] {
			if o.Confidence >= Sure {
				t.Errorf("%s: a second lamp at %v: %s", c.name, o.Box, o.Reason)
			}
		}
	}
}

func TestNoLampInPicture(t *testing.T) {
	for _, c := range []struct {
		name string
		add  func(im *picture.Image)
		word string
	}{
		{"plain room", func(*picture.Image) {}, ""},
		{"white ball", func(im *picture.Image) { glowing(im, 1.2, 0.3, 0.05, [3]float64{0.9, 0.9, 0.9}) }, "white thing"},
		{"glint", func(im *picture.Image) { glowing(im, 1.2, 0.3, 0.008, [3]float64{20, 20, 20}) }, "glint"},
		{"window at the edge", func(im *picture.Image) {
			for y := im.H / 5; y < im.H/3; y++ {
				for x := range im.W / 30 {
					im.Set(x, y, [3]float64{20, 22, 25})
				}
			}
		}, "edge"},
		{"panes of a window", func(im *picture.Image) {
			for y := im.H / 6; y < im.H/2; y++ {
				for x := im.W / 3; x < im.W*2/3; x++ {
					if y%20 > 1 && x%20 > 1 {
						k := 1.0
						if x/20 == 9 && y/20 == 3 {
							k = 3 // one pane shows the sun's place
						}
						im.Set(x, y, [3]float64{2 * k, 2.1 * k, 2.4 * k})
					}
				}
			}
		}, "window"},
	} {
		rnd := seeded(5)
		r := aRoom(rnd)
		r.stops = 0
		im := r.picture(rnd)
		c.add(im)
		got := lampsIn(t, Scene{Picture: clippedAt(im, testClip), Clip: testClip})
		told := c.word == ""
		for _, o := range got {
			if o.Confidence >= Sure {
				t.Errorf("%s: a sure lamp (%.2f) at %v: %s", c.name, o.Confidence, o.Box, o.Reason)
			}
			told = told || strings.Contains(o.Reason, c.word)
		}
		if !told && len(got) > 0 {
			t.Errorf("%s: %q isn't among the reasons: %s", c.name, c.word, got[0].Reason)
		}
	}
}

// With lamp pictures a lamp is one whose light is its own; a bright thing that
// several lamps light is not.
func TestLampIsItsOwnLight(t *testing.T) {
	rnd := seeded(5)
	r := aRoom(rnd)
	r.stops = 0
	room := r.picture(rnd)
	half := each(room, room.Space, func(v [3]float64) [3]float64 { return [3]float64{v[0] / 2, v[1] / 2, v[2] / 2} })
	own := picture.NewImage(room.W, room.H, room.Space)
	glowing(own, 1.3, 0.3, 0.035, [3]float64{5, 4, 3})
	lamps := []Lamp{{"key", half}, {"fill", half}, {"tail", own}}
	got := lampsIn(t, Scene{Picture: sumOf(room, own, 1), Lamps: lamps, Clip: testClip})
	if len(got) == 0 || got[0].Confidence < Sure || !strings.Contains(got[0].Reason, "lit by tail alone") {
		t.Errorf("the tail lamp: %+v", got)
	}
	shiny := picture.NewImage(room.W, room.H, room.Space)
	glowing(shiny, 1.3, 0.3, 0.035, [3]float64{2.5, 2, 1.5})
	lamps = []Lamp{{"key", sumOf(half, shiny, 1)}, {"fill", sumOf(half, shiny, 1)}}
	for _, o := range lampsIn(t, Scene{Picture: sumOf(room, shiny, 2), Lamps: lamps, Clip: testClip}) {
		if o.Confidence >= Sure {
			t.Errorf("a shiny thing under two lamps is a lamp (%.2f): %s", o.Confidence, o.Reason)
		}
	}
}

// Two oil lamps burn in the published still life; the surest lamp is one of them.
func TestOilLamps(t *testing.T) {
	t.Parallel()
	im := readPhoto(t, truthFile(t, "images/stilllife_log420.png"))
	got := lampsIn(t, Scene{Picture: decoded420(t, im)})
	if len(got) == 0 || got[0].Confidence < Sure {
		t.Fatalf("no sure lamp: %+v", got)
	}
	// Read off with a ruler: the chimneys' flames, in parts of the picture.
	x, y := got[0].Box.Middle()
	if math.Hypot(x-0.28, y-0.46) > 0.12 && math.Hypot(x-0.65, y-0.38) > 0.12 {
		t.Errorf("the surest lamp lies at %.2f, %.2f, not in a chimney: %s", x, y, got[0].Reason)
	}
	// A window of leaded panes is none.
	desk := readPhoto(t, truthFile(t, "images/desk_log420.png"))
	for _, o := range lampsIn(t, Scene{Picture: decoded420(t, desk)}) {
		if o.Confidence >= Sure {
			t.Errorf("desk: a sure lamp (%.2f) at %v: %s", o.Confidence, o.Box, o.Reason)
		}
	}
}
