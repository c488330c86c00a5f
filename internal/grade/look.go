package grade

import (
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// look mixes a LUT in: out = in + k·(LUT(in) − in), k in 0..1.
type look struct {
	chain *picture.Chain
	k     float64
}

func newLook(c *picture.Chain, k float64) *look { return &look{chain: c, k: k} }

func (l *look) apply(v [3]float64) [3]float64 {
	to := l.chain.Apply(v)
	for i := range v {
		v[i] += l.k * (to[i] - v[i])
	}
	return v
}

// ops adds the look on its own grid where it is one 3-D LUT.
func (l *look) ops(b *builder) error {
	if l.k == 1 {
		for _, op := range l.chain.Ops {
			b.add(op)
		}
		return nil
	}
	if len(l.chain.Ops) == 1 {
		if lut, ok := l.chain.Ops[0].(*picture.LUT3D); ok {
			// in + k·(in + s·(LUT(in) − in) − in) = in + k·s·(LUT(in) − in)
			mixed := *lut
			mixed.Strength *= l.k
			b.add(&mixed)
			return nil
		}
	}
	return fault.New(fault.Input, "look-strength", "Use it at strength 1, or bake it to one 3-D LUT: lampwise lut",
		"the look's file holds several steps (%d), which can't be mixed in at part strength", len(l.chain.Ops))
}
