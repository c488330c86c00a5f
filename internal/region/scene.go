package region

import (
	"errors"
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Scene is what regions are looked for in.
type Scene struct {
	// Picture is the frame or the mean of a hold: scene-linear (0.18 = grey) or
	// a display signal. A camera signal must be decoded first.
	Picture *picture.Image
	// Lamps are what each lamp adds, scene-linear, of the picture's size; none
	// when only a frame is at hand. They tell the lit side of a face by its light.
	Lamps []Lamp
	// Key names the lamp that lights the face. Empty: one called "key", else
	// the one that gives the face most light.
	Key string
	// Clip is the recording's measured clip, scene-linear; 0 when unknown.
	Clip float64
}

// Lamp is one lamp's picture.
type Lamp struct {
	Name    string
	Picture *picture.Image
}

// workSize is the longer side, in pixels, of the picture that regions are
// measured in.
const workSize = 640

// light is a scene at working size.
type light struct {
	w, h int
	rgb  *picture.Image // scene-linear
	lum  []float64
	peak []float64 // the largest of R, G, B
	clip float64   // 0 when unknown
	// ordinary is the frame's middle luminance in stops from grey.
	ordinary float64
	lamps    []lampLight
}

type lampLight struct {
	name string
	rgb  *picture.Image
	lum  []float64
}

// displayGrey is the display-linear light of middle grey (18 % reflectance):
// the BT.709 OETF's signal for it, shown by BT.1886.
var displayGrey = colour.BT1886.Decode(colour.BT709.Encode(sceneGrey))

const sceneGrey = 0.18

// newLight brings a scene to working size and scene-linear light. A display
// signal is decoded by BT.1886 and scaled so that middle grey lies at 0.18;
// its clip is white.
func newLight(s Scene) (*light, error) {
	im := s.Picture
	if im == nil || im.W < 1 || im.H < 1 {
		return nil, errors.New("region: there is no picture")
	}
	l := &light{clip: s.Clip, rgb: shrunk(im, workSize)}
	l.w, l.h = l.rgb.W, l.rgb.H
	switch im.Space {
	case picture.SpaceSceneLinear:
	case picture.SpaceDisplay:
		k := sceneGrey / displayGrey
		for i, v := range l.rgb.Pix {
			l.rgb.Pix[i] = float32(k * colour.BT1886.Decode(float64(v)))
		}
		l.rgb.Space = picture.SpaceSceneLinear
		l.clip = k
	default:
		return nil, fmt.Errorf("region: a picture in space %q must be decoded first", im.Space)
	}
	settle(l.rgb)
	l.lum = luminance(l.rgb)
	l.peak = make([]float64, len(l.lum))
	for i := range l.peak {
		p := l.rgb.Pix[3*i:][:3]
		l.peak[i] = float64(max(p[0], p[1], p[2]))
	}
	l.ordinary = math.Log2(max(median(l.lum), sceneGrey*math.Exp2(-12)) / sceneGrey)
	for _, lamp := range s.Lamps {
		p := lamp.Picture
		if p == nil || p.W != im.W || p.H != im.H || p.Space != picture.SpaceSceneLinear {
			return nil, fmt.Errorf("region: the picture of lamp %q isn't scene-linear or isn't of the frame's size", lamp.Name)
		}
		small := shrunk(p, workSize)
		settle(small)
		l.lamps = append(l.lamps, lampLight{lamp.Name, small, luminance(small)})
	}
	return l, nil
}

// settle replaces what is no number by 0, once, so that nothing after has to ask.
func settle(im *picture.Image) {
	for i, v := range im.Pix {
		if f := float64(v); math.IsNaN(f) || math.IsInf(f, 0) {
			im.Pix[i] = 0
		}
	}
}

// nearClip is the part of the clip from which a pixel counts as clipped: the
// mean over a working pixel of clipped and unclipped ones is a little below it.
const nearClip = 0.92

func (l *light) clipped(p int) bool { return l.clip > 0 && l.peak[p] >= nearClip*l.clip }

// place is the middle of a working pixel in parts of the picture.
func (l *light) place(p int) (x, y float64) {
	return (float64(p%l.w) + 0.5) / float64(l.w), (float64(p/l.w) + 0.5) / float64(l.h)
}
