package demo

import "context"

// lids.go makes the mechanic blink: his closed lids are a small picture of
// their own, laid over his eyes.

// lidsAt gives how far closed the lids are at a time: a blink every few seconds.
func lidsAt(t float64, seed uint64) float64 {
	r := seeded(seed, 0x11d5)
	at := r.between(0.6, 2.2)
	for at < t-1 {
		at += r.between(2.1, 4.6)
	}
	u := (t - at) * Rate // frames since the lids began to close
	switch {
	case u <= 0 || u >= 6.5:
		return 0
	case u < 2:
		return u / 2
	case u < 3.5:
		return 1
	}
	return (6.5 - u) / 3
}

// lightLids is Film.light for row y of the lids' picture.
func (f *Film) lightLids(y int, which []int, step []float32, anew bool) {
	s := f.studio
	b := s.lidBox
	for x := b.x0; x < b.x1; x++ {
		o := f.fullL[4*((y-b.y0)*b.w()+x-b.x0):][:4:4]
		if anew {
			o[0], o[1], o[2], o[3] = 0, 0, 0, s.lidCover(x, y)
		}
		for _, i := range which {
			p := s.lidPics[i][3*((y-b.y0)*b.w()+x-b.x0):][:3:3]
			o[0] += step[i] * p[0]
			o[1] += step[i] * p[1]
			o[2] += step[i] * p[2]
		}
	}
}

// lidCover is the front layer's cover at a pixel of the lids' box, which the
// lids don't change: they lie on the face.
func (s *Studio) lidCover(x, y int) float32 {
	return s.fore.cover[(y-s.inner.y0)*s.inner.w()+x-s.inner.x0]
}

// blink closes the lids so far in the posed pictures. The box of the lids is
// small, so it's made again for every change.
func (f *Film) blink(closed float64) {
	if closed == f.lids || f.fullL == nil {
		return
	}
	f.lids = closed
	s := f.studio
	k := float32(closed)
	back := s.inverse(f.pose)
	bw, bh := s.lidBox.w(), s.lidBox.h()
	// The box where it lies in the posed frame: moved by a few pixels at most,
	// so a border of the studio's margin is enough.
	x0, y0 := max(f.box.x0, s.lidBox.x0-2*s.Margin), max(f.box.y0, s.lidBox.y0-2*s.Margin)
	x1, y1 := min(f.box.x1, s.lidBox.x1), min(f.box.y1, s.lidBox.y1)
	var open, shut [4]float32
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			sx, sy := back(float64(x), float64(y))
			lx, ly := sx-float64(s.lidBox.x0), sy-float64(s.lidBox.y0)
			if lx < 1 || ly < 1 || lx > float64(bw-2) || ly > float64(bh-2) {
				continue
			}
			sampleCubic(f.fullF, s.inner.w(), s.inner.h(), 4, sx-float64(s.inner.x0), sy-float64(s.inner.y0), open[:])
			sampleCubic(f.fullL, bw, bh, 4, lx, ly, shut[:])
			at := (y-f.box.y0)*f.box.w() + x - f.box.x0
			o := f.front[4*at : 4*at+4]
			for c := range o {
				o[c] = open[c] + k*(shut[c]-open[c])
			}
			a := 1 - clamp32(o[3], 0, 1)
			for c := range 3 {
				f.rest[3*(y*s.Width+x)+c] = max(o[c], 0) + a*f.behind[3*at+c]
			}
		}
	}
}

// traceLids renders the eyes once more with the lids closed.
func (s *Studio) traceLids(ctx context.Context, t *tracer, v *view, q quality, seed uint64, mix []float32) error {
	b := box{s.w, s.h, 0, 0}
	for _, side := range []float64{-1, 1} {
		x, y, d := v.place(headFrame.point(v3(side*eyeX, eyeY, eyeZ+eyeBall)))
		r := int(0.019/(d*v.scale)) + 3
		b = box{min(b.x0, int(x)-r), min(b.y0, int(y)-r), max(b.x1, int(x)+r+1), max(b.y1, int(y)+r+1)}
	}
	s.lidBox = b
	all := func(int, int) bool { return true }
	l, err := t.traceLayer(ctx, v.window(b), layerFigure|layerFront|layerLids, q, seed^0x11d5, mix, all, nil)
	if err != nil {
		return err
	}
	s.lidPics = l.pics
	return nil
}
