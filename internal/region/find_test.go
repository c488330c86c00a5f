package region

import (
	"math"
	"reflect"
	"runtime"
	"testing"

	"lampwise/internal/picture"
)

// mechanic is a made frame: a portrait before a room, a lamp and a grey card
// beside it, under a key from the left and a fill.
func mechanic(t *testing.T) (Scene, slab) {
	t.Helper()
	rnd := seeded(77)
	r := aRoom(rnd)
	r.w, r.h, r.stops, r.slopeX, r.noise = 640, 360, -0.5, -0.5, 0.01
	r.wall = [3]float64{0.3, 0.24, 0.2}
	card := slab{x: 0.3, y: 0.6, w: 0.17, h: 0.22, lean: 0.1, colour: [3]float64{0.18, 0.18, 0.18}}
	r.things = append(r.things, card)
	room := r.picture(rnd)
	im, f := portrait(t, "astronaut.png")
	key, fill := litPortrait(im, f, from(180, 30)), litPortrait(im, f, from(0, 40))
	// The person stands at the frame's middle, four fifths of its height.
	stand := func(p *picture.Image, share float64) *picture.Image {
		out := picture.NewImage(r.w, r.h, p.Space)
		for y := range r.h {
			for x := range r.w {
				v := room.At(x, y)
				for c := range v {
					v[c] *= share
				}
				k := 0.72 * float64(r.h) / float64(p.H)
				sx, sy := (float64(x)-200)/k, (float64(y)-100)/k
				px, py := (sx+0.5)/float64(p.W), (sy+0.5)/float64(p.H)
				// Head and body by the model, but no wider than the portrait.
				if px > 0 && px < 0.92 && py > 0 && (f.onPerson(px, py) && !headRoom.holds(f.local(px, py)) || headTop.holds(f.local(px, py))) {
					v = mixedAt(p, sx, sy)
				}
				out.Set(x, y, v)
			}
		}
		return out
	}
	lamp := picture.NewImage(r.w, r.h, picture.SpaceSceneLinear)
	glowing(lamp, 1.55, 0.25, 0.03, [3]float64{20, 4, 2})
	lamps := []Lamp{{"key", stand(key, 0.6)}, {"fill", stand(sumOf(fill, fill, -0.75), 0.4)}, {"tail", lamp}}
	mix := sumOf(sumOf(lamps[0].Picture, lamps[1].Picture, 1), lamp, 1)
	return Scene{Picture: clippedAt(mix, testClip), Lamps: lamps, Clip: testClip}, card
}

func TestFind(t *testing.T) {
	s, card := mechanic(t)
	f, err := Find(s)
	if err != nil {
		t.Fatal(err)
	}
	w, h := s.Picture.W, s.Picture.H
	for _, name := range Names() {
		r, ok := f.Region(name)
		if !ok {
			d, _ := f.Doubt(name)
			t.Errorf("%s isn't found (%.2f): %s", name, d.Confidence, d.Reason)
			continue
		}
		if r.Reason == "" {
			t.Errorf("%s has no reason", name)
		}
		t.Logf("%-10s %.2f %s", name, r.Confidence, r.Reason)
	}
	if r, ok := f.Region(Card); ok && !card.found(r, w, h) {
		t.Errorf("the card is taken to be at %v", r.Box)
	}
	// The face is left of the frame's middle; its lit half left of its shaded one.
	lit, _ := f.Region(FaceLit)
	shade, _ := f.Region(FaceShade)
	hair, _ := f.Region(Hair)
	lx, ly := lit.Box.Middle()
	sx, _ := shade.Box.Middle()
	_, hy := hair.Box.Middle()
	if lx >= sx || hy >= ly {
		t.Errorf("lit %v, shade %v, hair %v", lit.Box, shade.Box, hair.Box)
	}
	checkFound(t, f, w, h)
}

// checkFound holds what must be true of anything found.
func checkFound(t testing.TB, f *Found, w, h int) {
	t.Helper()
	names := map[string]int{}
	for i, list := range [][]Region{f.Regions, f.Doubts, f.Lamps} {
		for _, r := range list {
			if i < 2 {
				names[r.Name]++
			}
			if r.Confidence < 0 || r.Confidence > 1 || math.IsNaN(r.Confidence) || r.Reason == "" {
				t.Errorf("%s: confidence %v, reason %q", r.Name, r.Confidence, r.Reason)
			}
			if i == 0 && (r.Confidence < Sure || r.Mask == nil || r.Mask.Count() == 0) {
				t.Errorf("region %s has confidence %.2f and mask %v", r.Name, r.Confidence, r.Mask)
			}
			if r.Mask == nil || r.Mask.Count() == 0 {
				continue
			}
			if err := r.Check(); err != nil {
				t.Errorf("%s: %v", r.Name, err)
			}
			for _, p := range r.Pixels(w, h) {
				if p < 0 || p >= w*h {
					t.Fatalf("%s: pixel %d of %d×%d", r.Name, p, w, h)
				}
			}
		}
	}
	for _, name := range Names() {
		if names[name] != 1 {
			t.Errorf("%s is told %d times", name, names[name])
		}
	}
	lit, shade := either(f, FaceLit), either(f, FaceShade)
	back, hair := either(f, Background), either(f, Hair)
	for _, pair := range [][2]Region{{lit, shade}, {lit, hair}, {shade, hair}, {back, lit}, {back, shade}, {back, hair}, {back, either(f, Card)}, {back, either(f, Practical)}} {
		if pair[0].Mask == nil || pair[1].Mask == nil {
			continue
		}
		for i, in := range pair[0].Mask.In {
			// A face that isn't believed doesn't keep the background from its place.
			if in && pair[1].Mask.In[i] && (pair[0].Name != Background || len(f.Faces) > 0 && f.Faces[0].Confidence >= 0.3) {
				t.Errorf("%s and %s overlap", pair[0].Name, pair[1].Name)
				break
			}
		}
	}
}

func either(f *Found, name string) Region {
	if r, ok := f.Region(name); ok {
		return r
	}
	r, _ := f.Doubt(name)
	return r
}

func TestFindIsSteady(t *testing.T) {
	s, _ := mechanic(t)
	first, err := Find(s)
	if err != nil {
		t.Fatal(err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	second, err := Find(s)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(first, second) {
		t.Error("the same scene gives another answer on one processor")
	}
}

// At another size the same regions lie at the same places.
func TestFindAtEverySize(t *testing.T) {
	t.Parallel()
	s, _ := mechanic(t)
	full, err := Find(s)
	if err != nil {
		t.Fatal(err)
	}
	small := s
	small.Picture = s.Picture.Shrink(448, 252)
	small.Lamps = nil
	for _, l := range s.Lamps {
		small.Lamps = append(small.Lamps, Lamp{l.Name, l.Picture.Shrink(448, 252)})
	}
	other, err := Find(small)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range Names() {
		a, b := either(full, name), either(other, name)
		// Each edge may fall on another pixel, two and a half of the smaller picture's off.
		const px, py = 2.5 / 448, 2.5 / 252
		for _, d := range [4][2]float64{
			{a.Box.X - b.Box.X, px},
			{a.Box.X + a.Box.W - b.Box.X - b.Box.W, px},
			{a.Box.Y - b.Box.Y, py},
			{a.Box.Y + a.Box.H - b.Box.Y - b.Box.H, py},
		} {
			if math.Abs(d[0]) > d[1] {
				t.Errorf("%s: %v at 640 wide and %v at 448", name, a.Box, b.Box)
				break
			}
		}
	}
}

// Frames over time: a face that stays is kept, one that flashes by is not.
func TestFindOver(t *testing.T) {
	t.Parallel()
	s, _ := mechanic(t)
	display := each(s.Picture, s.Picture.Space, func(v [3]float64) [3]float64 { return v })
	empty := picture.NewImage(s.Picture.W, s.Picture.H, s.Picture.Space)
	rnd := seeded(3)
	stays := FacesOver([]*picture.Image{noisy(display, 0.05, rnd), noisy(display, 0.05, rnd), noisy(display, 0.05, rnd)})
	if len(stays) == 0 || !stays[0].Sure() {
		t.Fatalf("in three frames: %+v", stays)
	}
	for _, f := range FacesOver([]*picture.Image{display, empty, empty, empty}) {
		if f.Sure() {
			t.Errorf("in one frame of four: %+v", f)
		}
	}
	f, err := FindOver(s, []*picture.Image{display, display})
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := f.Region(FaceLit); !ok {
		t.Errorf("no lit side over two frames: %s", either(f, FaceLit).Reason)
	}
}

// A lamp's picture makes a face surer that the frame shows faintly; what it
// alone shows is doubted.
func TestFacesByLamp(t *testing.T) {
	im, f := portrait(t, "astronaut.png")
	dark := picture.NewImage(im.W, im.H, im.Space)
	s := Scene{Picture: dark, Lamps: []Lamp{{"key", im}, {"tail", dark}}}
	faint := f
	faint.Confidence = 0.3
	if got := s.faces([]Face{faint}); len(got) == 0 || !got[0].Sure() || overlap(got[0].Box, f.Box) < 0.5 {
		t.Errorf("faint in the frame, plain by the key: %+v", got)
	}
	for _, g := range s.faces(nil) {
		if g.Sure() {
			t.Errorf("in the key's picture alone: %+v", g)
		}
	}
	elsewhere := faint
	elsewhere.Box = elsewhere.Box.Moved(0.4, 0.4)
	for _, g := range s.faces([]Face{elsewhere}) {
		if g.Sure() {
			t.Errorf("a face elsewhere doesn't support it: %+v", g)
		}
	}
}

func TestFindOnOddPictures(t *testing.T) {
	nan := float32(math.NaN())
	for _, c := range []struct {
		name string
		w, h int
		v    float32
	}{
		{"one pixel", 1, 1, 0.18},
		{"a row", 200, 1, 0.18},
		{"a column", 1, 200, 0.18},
		{"black", 64, 36, 0},
		{"below black", 64, 36, -0.2},
		{"no numbers", 64, 36, nan},
		{"endless", 64, 36, float32(math.Inf(1))},
		{"white", 64, 36, 100},
	} {
		for _, space := range []picture.Space{picture.SpaceSceneLinear, picture.SpaceDisplay} {
			im := picture.NewImage(c.w, c.h, space)
			for i := range im.Pix {
				im.Pix[i] = c.v
			}
			f, err := Find(Scene{Picture: im})
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			checkFound(t, f, c.w, c.h)
			for _, r := range f.Regions {
				if r.Name != Background {
					t.Errorf("%s, %s: %s is found: %s", c.name, space, r.Name, r.Reason)
				}
			}
		}
	}
}

func TestWrongScenes(t *testing.T) {
	lin := picture.NewImage(8, 6, picture.SpaceSceneLinear)
	for name, s := range map[string]Scene{
		"no picture":           {},
		"camera signal":        {Picture: picture.NewImage(8, 6, picture.SpaceSignal)},
		"lamp of another size": {Picture: lin, Lamps: []Lamp{{"key", picture.NewImage(9, 6, picture.SpaceSceneLinear)}}},
		"lamp for a display":   {Picture: lin, Lamps: []Lamp{{"key", picture.NewImage(8, 6, picture.SpaceDisplay)}}},
		"lamp without picture": {Picture: lin, Lamps: []Lamp{{"key", nil}}},
	} {
		if _, err := Find(s); err == nil {
			t.Errorf("%s passes", name)
		}
	}
}
