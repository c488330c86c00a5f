package gauge

import (
	"testing"

	"lampwise/internal/picture"
)

// benchFrames are frames of a 1080p recording of 10 bits 4:2:2.
func benchFrames(n int) ([]*picture.Frame, Camera) {
	s := newScene(1920, 1080, 10, 1)
	walk := walk(s.rng)
	var out []*picture.Frame
	for i := range n {
		o := shot{index: i, time: float64(i) / 25}
		o.x, o.y = walk(o.time)
		f := *s.frame(o)
		f.Y, f.Cb, f.Cr = append([]uint16(nil), f.Y...), append([]uint16(nil), f.Cb...), append([]uint16(nil), f.Cr...)
		out = append(out, &f)
	}
	return out, s.camera()
}

// BenchmarkMeter gives what each accumulator takes of a 1080p frame.
func BenchmarkMeter(b *testing.B) {
	frames, cam := benchFrames(8)
	face := Region{Name: "face-lit", Box: Box{0.4, 0.3, 0.1, 0.2}}
	parts := []struct {
		name string
		add  func() func(v *View)
	}{
		{"view", func() func(*View) { return func(*View) {} }},
		{"readings", func() func(*View) { return NewReadings(cam, []Region{face}).Add }},
		{"clipping", func() func(*View) { return NewClipping(cam).Add }},
		{"constancy", func() func(*View) { return NewConstancy(cam).Add }},
		{"noise", func() func(*View) { return NewNoise(cam).Add }},
		{"flicker", func() func(*View) { return NewFlicker(cam).Add }},
		{"codes", func() func(*View) { return NewCodes(cam).Add }},
		{"focus", func() func(*View) { return NewFocus(&face).Add }},
		{"repeats", func() func(*View) { return (&Repeats{}).Add }},
		{"handled", func() func(*View) { return (&Handled{}).Add }},
		{"scopes", func() func(*View) { return NewScopes(cam).Add }},
		{"smooth", func() func(*View) { return (&Smooth{}).Add }},
		{"legal", func() func(*View) { return NewLegal().Add }},
		{"flash", func() func(*View) { return NewFlash(0).Add }},
	}
	for _, p := range parts {
		b.Run(p.name, func(b *testing.B) {
			var viewer Viewer
			add := p.add()
			for i := range b.N {
				f := *frames[i%len(frames)]
				f.Index, f.Time = i, float64(i)/25
				add(viewer.Look(&f))
			}
		})
	}
	for _, thin := range []int{1, 4, 8} {
		b.Run("all-thin-"+string(rune('0'+thin)), func(b *testing.B) {
			m := NewMeter(MeterOptions{Camera: cam, Regions: []Region{face}, Face: &face, Thin: thin})
			for i := range b.N {
				f := *frames[i%len(frames)]
				f.Index, f.Time = i, float64(i)/25
				m.Add(&f)
			}
		})
	}
}
