package grade

import "lampwise/internal/picture"

// look mixes a LUT in: out = in + k·(LUT(in) − in), k in 0..1. A LUT for the
// screen knows 0..100 % only, so in is held there: a signal above the
// recording's clip doesn't slip past it.
type look struct {
	chain *picture.Chain
	k     float64
}

func newLook(c *picture.Chain, k float64) *look { return &look{chain: c, k: k} }

func (l *look) apply(v [3]float64) [3]float64 {
	v = hold3(v, 0, 1)
	to := l.chain.Apply(v)
	for i := range v {
		v[i] += l.k * (to[i] - v[i])
	}
	return v
}

// ops adds the look: one 3-D LUT on its own grid, with the strength in it;
// several steps as a mix.
func (l *look) ops(b *builder) {
	b.hold(0, 1)
	if l.k == 1 {
		for _, op := range l.chain.Ops {
			b.add(op)
		}
		return
	}
	if len(l.chain.Ops) == 1 {
		if lut, ok := l.chain.Ops[0].(*picture.LUT3D); ok {
			// in + k·(in + s·(LUT(in) − in) − in) = in + k·s·(LUT(in) − in)
			mixed := *lut
			mixed.Strength *= l.k
			b.add(&mixed)
			return
		}
	}
	b.add(&picture.Mix{Ops: l.chain.Ops, Strength: l.k})
}
