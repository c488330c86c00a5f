package demo

import "math"

// shadeHair is the thin-cylinder model of Kajiya & Kay, "Rendering Fur with
// Three Dimensional Textures", SIGGRAPH 1989: brightness goes with the sine
// between hair and light, and highlights form a cone about the hair.
func (t *tracer) shadeHair(s *spot, d vec, dr draw, round *light, depth int, out *light) {
	a := s.along
	nd := a.dot(d)
	sinV := sqrt32(max(0, 1-nd*nd))
	for l := range t.lamps {
		u, v := dr.pair(dimLamp + 8*uint64(depth) + uint64(l))
		ls, ok := t.lamps[l].face.sample(s.p, u, v)
		if !ok {
			continue
		}
		nl := a.dot(ls.dir)
		sinL := sqrt32(max(0, 1-nl*nl))
		k := dr.spare(ls.l/ls.pdf, dimSpare+8*uint64(depth)+uint64(l))
		if k == 0 {
			continue
		}
		ls.l *= k
		from, to := t.lampPictures(l)
		if t.tree.blocked(s.p.mad(6e-4, ls.dir), ls.dir, 0, ls.dist*0.9995-6e-4, &dr.block[min(depth, 1)][l]) {
			continue
		}
		e := ls.l / ls.pdf
		// Lit from behind, a hair lets some light through.
		side := 0.65 - 0.35*d.dot(ls.dir)
		body := e * sinL * side / math.Pi * 0.9
		for _, k := range s.tints {
			for i := from; i < to; i++ {
				c := &t.seen[i][k.colour]
				for j := range 3 {
					out[i][j] += body * k.share * c[j]
				}
			}
		}
		// The mirror cone: cos of the angle between the two cones about the hair.
		cone := clamp32(sinV*sinL+nd*nl, 0, 1)
		spec := e * s.f0 * float32(math.Pow(float64(cone), 40)) * 1.4
		for i := from; i < to; i++ {
			c := &t.seen[i][t.white]
			for j := range 3 {
				out[i][j] += spec * c[j]
			}
		}
	}
	for _, k := range s.tints {
		for i := range t.pictures {
			c, w := &t.seen[i][k.colour], &t.seen[i][t.white]
			for j := range 3 {
				out[i][j] += k.share * 0.8 * round[i][j] * c[j] / w[j]
			}
		}
	}
}
