package region

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/picture"
)

// movedHead puts a head, cut from a portrait along headRoom, before a still
// ground at an offset in pixels; k multiplies the light on the head.
func movedHead(portrait, ground *picture.Image, f Face, dx, dy float64, k [3]float64) *picture.Image {
	out := picture.NewImage(portrait.W, portrait.H, portrait.Space)
	room := headRoom
	room.ru, room.rv = 0.62, 0.85
	for y := range out.H {
		for x := range out.W {
			sx, sy := float64(x)-dx, float64(y)-dy
			u, v := f.local((sx+0.5)/float64(out.W), (sy+0.5)/float64(out.H))
			r := math.Hypot((u-room.u)/room.ru, (v-room.v)/room.rv)
			a := min(max((1-r)*10, 0), 1)
			head, back := mixedAt(portrait, sx, sy), ground.At(x, y)
			for c := range head {
				head[c] = a*head[c]*k[c] + (1-a)*back[c]
			}
			out.Set(x, y, head)
		}
	}
	return out
}

func stage(t *testing.T) (im, ground *picture.Image, f Face) {
	t.Helper()
	im, f = portrait(t, "astronaut.png")
	coffee := readPhoto(t, photoFile(t, "coffee.png"))
	ground = picture.NewImage(im.W, im.H, im.Space)
	lin := linearOf(coffee)
	for y := range ground.H {
		for x := range ground.W {
			ground.Set(x, y, mixedAt(lin, float64(x), float64(y)))
		}
	}
	return im, ground, f
}

// A head that sways before a still, patterned ground is followed to a third of
// a pixel of the working picture, with a camera's noise.
func TestTrack(t *testing.T) {
	t.Parallel()
	im, ground, f := stage(t)
	rnd := rand.New(rand.NewPCG(9, 9))
	var frames []*picture.Image
	var way [][2]float64
	one := [3]float64{1, 1, 1}
	for k := range 16 {
		a := float64(k) / 16 * 2 * math.Pi
		d := [2]float64{14 * math.Sin(a), 6*math.Sin(2*a) + 0.37*float64(k)}
		way = append(way, d)
		frames = append(frames, noisy(movedHead(im, ground, f, d[0], d[1], one), 0.03, rnd))
	}
	worst := 0.0
	for k, s := range Track(frames, f) {
		if s.Confidence < Sure {
			t.Errorf("frame %d: %.2f: %s", k, s.Confidence, s.Reason)
		}
		worst = max(worst, math.Hypot(s.DX*float64(im.W)-way[k][0]+way[0][0], s.DY*float64(im.H)-way[k][1]+way[0][1]))
	}
	t.Logf("worst error %.3f pixels, on a way of up to 14", worst)
	if worst > 0.33 {
		t.Errorf("worst error %.3f pixels", worst)
	}
}

// The key is dimmed by two stops on the way and the light turns redder.
func TestTrackThroughDimming(t *testing.T) {
	t.Parallel()
	im, ground, f := stage(t)
	var frames []*picture.Image
	for k := range 8 {
		g := math.Exp2(-2 * float64(k) / 7)
		frames = append(frames, movedHead(im, ground, f, 1.5*float64(k), 0, [3]float64{g, g * 0.9, g * 0.8}))
	}
	for k, s := range Track(frames, f) {
		if off := math.Abs(s.DX*float64(im.W) - 1.5*float64(k)); off > 0.7 || s.Confidence < 0.6 {
			t.Errorf("frame %d: off by %.2f pixels (%.2f): %s", k, off, s.Confidence, s.Reason)
		}
	}
}

// Something comes before the head: it's told as lost, and found again where it
// is then.
func TestTrackLosesAndFinds(t *testing.T) {
	im, ground, f := stage(t)
	one := [3]float64{1, 1, 1}
	frames := []*picture.Image{
		movedHead(im, ground, f, 0, 0, one),
		ground, // the head is gone
		movedHead(im, ground, f, 12, 5, one),
	}
	got := Track(frames, f)
	if got[1].Confidence != 0 || got[1].DX != got[0].DX || got[1].DY != got[0].DY {
		t.Errorf("without a head: %+v", got[1])
	}
	if off := math.Hypot(got[2].DX*float64(im.W)-12, got[2].DY*float64(im.H)-5); off > 1 || got[2].Confidence < 0.6 {
		t.Errorf("back again: off by %.2f pixels: %+v", off, got[2])
	}
}

func TestTrackOfNothing(t *testing.T) {
	if got := Track(nil, Face{}); got != nil {
		t.Errorf("%v", got)
	}
}
