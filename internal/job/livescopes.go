package job

import (
	"context"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/draw"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/picture"
)

// scopeWide is how many pixels across are counted.
const scopeWide = 320

// Scope draws one scope of a frame as the screen shows it, as a PNG: waveform,
// parade, vectorscope or histogram.
func (l *Live) Scope(ctx context.Context, r LiveRequest, n, maxWidth int, which string) ([]byte, error) {
	path, err := l.path(ctx, r)
	if err != nil {
		return nil, err
	}
	program, err := path.Program()
	if err != nil {
		return nil, err
	}
	f, err := l.Frame(ctx, r.Clip, n, maxWidth, Override(r.Grade))
	if err != nil {
		return nil, err
	}
	step := max(1, f.W/scopeWide)
	w, h := f.W/step, f.H/step
	px := make([][3]float64, w*h)
	parallel(h, func(y int) {
		for x := range w {
			v := path.Exact(program.Input.Signal(f.At(x*step, y*step)))
			if program.Vignette != nil {
				k := program.Vignette.SignalGain(x*step, y*step, f.W, f.H)
				v = [3]float64{v[0] * k, v[1] * k, v[2] * k}
			}
			px[y*w+x] = clampSignal(v)
		}
	})
	s := gauge.NewScopes(gauge.Camera{})
	s.AddColours(picture.Format{Width: w, Height: h, Bits: 10, Sub: picture.Sub444, Range: colour.Narrow, Matrix: colour.MatrixBT709}, w, h,
		func(x, y int) [3]float64 { return px[y*w+x] })
	kind := scopeKind{words: "on the screen", rng: colour.Narrow, screen: true}
	for _, p := range kind.pictures(s.Result()) {
		if p.name != strings.ToLower(which) {
			continue
		}
		wide, high := p.scope.Size()
		raster, err := draw.NewRaster(int(wide), int(high))
		if err != nil {
			return nil, err
		}
		p.scope.Draw(raster)
		return raster.PNG()
	}
	return nil, fault.New(fault.Usage, "scope", "waveform, parade, vectorscope or histogram.", "%q is no scope", which)
}
