package job

import (
	"context"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
)

// LiveReading is a region of the frame, in scene stops, and where the grade
// brings its mean on the screen.
type LiveReading struct {
	Region string  `json:"region"`
	X      float64 `json:"x"` // fractions of the picture
	Y      float64 `json:"y"`
	W      float64 `json:"w"`
	H      float64 `json:"h"`
	Scene  float64 `json:"scene"`
	Screen float64 `json:"screen"`
	Signal float64 `json:"signal"`
	// RGB is the mean, scene-linear camera RGB as recorded, 0.18 = grey.
	RGB [3]float64 `json:"rgb"`
}

// LiveLight is how the light of a frame lies along the ladder.
type LiveLight struct {
	From    float64       `json:"from"` // scene stops of the first bin
	Step    float64       `json:"step"` // stops a bin
	Share   []float64     `json:"share"`
	Read    []LiveReading `json:"readings"`
	Clipped float64       `json:"clipped"` // share of the picture at the recording's clip or the curve's end
}

// LiveRegion is a rectangle to be read.
type LiveRegion struct {
	Name string  `json:"name"`
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	W    float64 `json:"w"`
	H    float64 `json:"h"`
}

const (
	lightFrom = -10.0
	lightStep = 0.25
	lightBins = 72
)

// Light reads a frame under a grade: a histogram of luminance along the
// ladder and the regions' means.
func (l *Live) Light(ctx context.Context, r LiveRequest, n, maxWidth int, regions []LiveRegion) (*LiveLight, error) {
	path, err := l.path(ctx, r)
	if err != nil {
		return nil, err
	}
	if path.Curve == nil {
		return nil, fault.New(fault.Input, "no-curve", "Turn decode on and name the camera's curve.", "scene light can't be read without a camera curve")
	}
	f, err := l.Frame(ctx, r.Clip, n, maxWidth, Override(r.Grade))
	if err != nil {
		return nil, err
	}
	program, err := path.Program()
	if err != nil {
		return nil, err
	}
	clip, _ := clipStops(path)
	light := picture.NewImage(f.W, f.H, picture.SpaceSceneLinear)
	parallel(f.H, func(y int) {
		for x := range f.W {
			light.Set(x, y, path.After(grade.StageDecode, program.Input.Signal(f.At(x, y))))
		}
	})
	out := &LiveLight{From: lightFrom, Step: lightStep, Share: make([]float64, lightBins), Read: []LiveReading{}}
	one := 1 / float64(f.W*f.H)
	edge := colour.Grey * math.Exp2(clip-0.02)
	for p := 0; p < len(light.Pix); p += 3 {
		v := light.Pix[p : p+3]
		s := math.Log2(max(lumaOf(v), 1e-9) / colour.Grey)
		out.Share[max(0, min(lightBins-1, int((s-lightFrom)/lightStep)))] += one
		if float64(max(v[0], v[1], v[2])) >= edge {
			out.Clipped += one
		}
	}
	for _, g := range regions {
		x0, y0 := int(g.X*float64(f.W)), int(g.Y*float64(f.H))
		x1, y1 := min(f.W, max(x0+1, int((g.X+g.W)*float64(f.W)))), min(f.H, max(y0+1, int((g.Y+g.H)*float64(f.H))))
		var sum [3]float64
		count := 0.0
		for y := max(0, y0); y < y1; y++ {
			for x := max(0, x0); x < x1; x++ {
				v := light.At(x, y)
				sum[0], sum[1], sum[2], count = sum[0]+v[0], sum[1]+v[1], sum[2]+v[2], count+1
			}
		}
		if count == 0 {
			continue
		}
		for ch := range sum {
			sum[ch] /= count
		}
		out.Read = append(out.Read, liveReading(path, g, sum))
	}
	return out, nil
}

// liveReading places a mean of scene light on both rails.
func liveReading(path *grade.Path, g LiveRegion, mean [3]float64) LiveReading {
	m := []float32{float32(mean[0]), float32(mean[1]), float32(mean[2])}
	out := LiveReading{Region: g.Name, X: g.X, Y: g.Y, W: g.W, H: g.H, RGB: mean, Scene: math.Log2(max(lumaOf(m), 1e-9) / colour.Grey)}
	var y [3]float64
	for ch := range y {
		y[ch] = path.Curve.Encode(mean[ch])
	}
	v := path.Exact(y)
	light := 0.0
	for ch, w := range [3]float64{0.2126, 0.7152, 0.0722} { // ITU-R BT.709-6, item 3.2
		light += w * math.Pow(min(1, max(v[ch], 0)), 2.4) // ITU-R BT.1886, annex 1
	}
	out.Signal = math.Pow(light, 1/2.4)
	out.Screen = grade.ScreenStops(out.Signal)
	return out
}

// lumaOf weighs camera RGB by BT.709's weights (item 3.2): near enough for a
// place on the ladder, and the same for every camera.
func lumaOf(v []float32) float64 {
	return 0.2126*float64(v[0]) + 0.7152*float64(v[1]) + 0.0722*float64(v[2])
}
