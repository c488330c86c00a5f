package demo

import "math"

// surfaces lists what things are made of.
func surfaces() []material {
	plain := func(name string, c int, f0, rough float32) material {
		return material{name, func(s *spot, _ frame) {
			s.paint(c, 1)
			if f0 > 0 {
				s.gloss(f0, rough)
			}
		}}
	}
	metal := func(name string, c int, rough float32) material {
		return material{name, func(s *spot, _ frame) {
			s.bare(c, rough*(1+0.4*turbulence(s.q.mul(22), 2)))
		}}
	}
	list := []material{
		{"plaster", paintPlaster},
		{"pegboard", paintPegboard},
		{"concrete", paintConcrete},
		{"blocks", paintBlocks},
		{"pine", paintPine},
		{"bench", paintBench},
		{"tyre", paintTyre},
		plain("red plastic", colRed, 0.04, 0.22),
		plain("blue plastic", colBlue, 0.04, 0.25),
		plain("white paint", colPaper, 0.04, 0.3),
		plain("enamel", colPaper, 0.05, 0.06),
		plain("coffee", colLeather, 0.03, 0.04),
		plain("grey steel", colSteelPaint, 0.04, 0.28),
		plain("vice paint", colTeal, 0.045, 0.24),
		plain("orange paint", colOrange, 0.05, 0.05),
		plain("rag", colRag, 0, 0),
		{"skin", paintSkin},
		{"cotton", paintCotton},
		metal("steel", colSteel, 0.15),
		metal("chrome", colChrome, 0.03),
		{"polished", func(s *spot, _ frame) { s.bare(colChrome, 0.025) }},
		metal("aluminium", colAluminium, 0.16),
		metal("brass", colBrass, 0.09),
		plain("black plastic", colBlack, 0.04, 0.2),
		plain("rubber", colRubber, 0.04, 0.45),
		plain("red paint", colRed, 0.05, 0.08),
		plain("blue paint", colBlue, 0.05, 0.08),
		plain("teal paint", colTeal, 0.05, 0.06),
		plain("yellow plastic", colYellow, 0.04, 0.2),
		plain("green plastic", colGreen, 0.04, 0.2),
		plain("orange plastic", colOrange, 0.04, 0.25),
		{"canvas", paintCanvas},
		plain("cardboard", colCardboard, 0, 0),
		plain("paper", colPaper, 0, 0),
		plain("leather", colLeather, 0.04, 0.3),
		{"eye", paintEye},
		{"hand", paintHand},
		plain("nail", colSkin, 0.03, 0.34),
		metal("rim", colAnodised, 0.13),
		{"spoke", func(s *spot, _ frame) { s.bare(colSteel, 0.34) }},
		plain("grey card", colGrey18, 0, 0),
		{"hair", paintHair},
		plain("dark", colBlack, 0, 0),
	}
	for i := range 24 {
		list = append(list, plain("patch"+string(rune('a'+i)), colChart+i, 0, 0))
	}
	return list
}

func paintPlaster(s *spot, f frame) {
	t := 0.5 + 0.9*turbulence(s.p.mul(1.3), 3)
	s.mix(colPlaster, colPlasterWarm, clamp32(t, 0, 1))
	s.times(0.93 + 0.1*turbulence(s.p.mul(11), 2))
	s.bump(world, func(q vec) float32 { return 0.0012*valueNoise(q.mul(9)) + 0.0004*valueNoise(q.mul(55)) }, 0.004)
	s.q = s.p
}

// pegPitch is the pegboard's hole spacing, pegHole a hole's radius.
const (
	pegPitch = 0.0254
	pegHole  = 0.0033
)

func paintPegboard(s *spot, f frame) {
	t := clamp32(0.4+1.1*turbulence(vec{s.p.x * 2.2, s.p.y * 2.2, 3}, 4), 0, 1)
	s.mix(colPegboard, colPegboardDark, t)
	s.gloss(0.04, 0.38)
	x := s.p.x/pegPitch - floor32(s.p.x/pegPitch) - 0.5
	y := s.p.y/pegPitch - floor32(s.p.y/pegPitch) - 0.5
	r := sqrt32(x*x+y*y) * pegPitch
	if r < pegHole*1.15 {
		k := smooth32(pegHole*0.8, pegHole*1.15, r)
		s.times(0.06 + 0.94*k)
		s.f0 *= k
	}
}

func paintConcrete(s *spot, f frame) {
	s.paint(colConcrete, 1+0.45*turbulence(s.p.mul(5), 4))
	s.gloss(0.03, 0.5)
}

// paintBlocks is painted blockwork: joints pressed in, the paint uneven.
func paintBlocks(s *spot, f frame) {
	p := s.p
	t := clamp32(0.45+0.8*turbulence(p.mul(1.1), 3), 0, 1)
	s.mix(colPlaster, colPlasterWarm, t)
	k := 0.92 + 0.14*turbulence(p.mul(7), 3)
	// Grime toward the floor and a water stain.
	k *= 1 - 0.25*smooth32(1.0, 0.2, p.y+0.25*valueNoise(p.mul(2.5)))
	s.times(k)
	height := func(q vec) float32 {
		row := floor32(q.y / 0.2)
		x := q.x/0.4 + 0.5*(row-2*floor32(row/2))
		dx := abs32(x-floor32(x)-0.5)*0.4 - 0.2
		dy := abs32(q.y/0.2-row-0.5)*0.2 - 0.1
		joint := max(dx, dy) // 0 in the joint's middle, below 0 inside the block
		return 0.004*smooth32(0, -0.009, joint) + 0.0007*turbulence(q.mul(60), 2)
	}
	s.bump(f, height, 0.002)
	s.gloss(0.03, 0.5)
}

// paintBench is a work bench's top: pine, worn, cut and stained.
func paintBench(s *spot, f frame) {
	paintPine(s, f)
	p := s.p
	n := turbulence(vec{p.x * 5, 1, p.z * 7}, 4)
	if n > 0.05 {
		t := clamp32(1.5*(n-0.05), 0, 0.45)
		for i := range s.tints {
			s.tints[i].share *= 1 - t
		}
		s.tints[2] = tint{colBlack, t}
	}
	// Cuts along and across.
	c := valueNoise(vec{p.x*14 + p.z*130, 3, p.z*9 - p.x*45})
	if c > 0.80 {
		s.times(0.72)
	}
	s.rough = 0.34 + 0.12*turbulence(p.mul(30), 2)
	s.bump(f, func(q vec) float32 { return 0.0005 * valueNoise(vec{q.x * 18, q.y * 60, q.z * 150}) }, 0.0015)
}

// paintTyre is rubber with tread blocks across the ring.
func paintTyre(s *spot, f frame) {
	s.paint(colRubber, 1+0.4*turbulence(s.q.mul(30), 2))
	s.gloss(0.04, 0.42)
	a := float32(math.Atan2(float64(s.q.z), float64(s.q.x)))
	r := sqrt32(s.q.x*s.q.x + s.q.z*s.q.z)
	if w := sin32(a*130 + 900*abs32(s.q.y)); w > 0.2 && r > 0.1 {
		s.times(0.55)
	}
}

func paintPine(s *spot, f frame) {
	q := s.q
	ring := q.z*46 + 2.2*valueNoise(vec{q.x * 1.6, q.y * 9, q.z * 9}) + 0.3*valueNoise(vec{q.x * 9, q.y * 60, q.z * 60})
	g := ring - floor32(ring)
	t := smooth32(0.35, 0.95, g) * (1 - smooth32(0.95, 1, g))
	s.mix(colPine, colPineDark, clamp32(0.12+0.5*t+0.3*turbulence(vec{q.x * 4, q.y * 40, q.z * 40}, 2), 0, 1))
	s.gloss(0.035, 0.34)
}

// weave is cloth's fine relief: threads across each other.
func weave(q vec, pitch float32) float32 {
	k := 2 * 3.14159265 / pitch
	return sin32(q.x*k) * sin32(q.y*k)
}

func paintCotton(s *spot, f frame) {
	t := clamp32(0.35+0.5*turbulence(s.q.mul(17), 3), 0, 1)
	s.mix(colCotton, colCottonDark, t)
	// Worn lighter on the folds' backs, a stain here and there.
	s.times(1 + 0.25*turbulence(s.q.mul(70), 2))
	if n := turbulence(s.q.mul(8).add(vec{4, 4, 4}), 2); n > 0.30 {
		s.times(1 - 1.2*(n-0.30))
	}
	s.gloss(0.02, 0.6)
	s.bump(f, func(q vec) float32 { return 0.00035*valueNoise(q.mul(160)) + 0.00012*weave(q, 0.0022) }, 0.0006)
}

func paintCanvas(s *spot, f frame) {
	s.paint(colCanvas, 1+0.35*turbulence(s.q.mul(24), 4))
	if n := turbulence(s.q.mul(11).add(vec{1, 9, 2}), 3); n > 0.12 { // oil
		t := clamp32(2.4*(n-0.12), 0, 0.6)
		s.tints[0].share *= 1 - t
		s.tints[1] = tint{colBlack, t}
	}
	s.gloss(0.025, 0.5)
	s.bump(f, func(q vec) float32 { return 0.0003*valueNoise(q.mul(120)) + 0.00018*weave(q, 0.0026) }, 0.0006)
}

// paintHand is skin that works: redder knuckles, grease in the lines.
func paintHand(s *spot, f frame) {
	mottle := turbulence(s.q.mul(60), 3)
	s.mix(colSkin, colSkinFlushed, clamp32(0.45+0.6*mottle+0.3*smooth32(0.07, 0.11, s.q.y), 0, 1))
	s.times(0.92 + 0.1*mottle)
	if n := turbulence(s.q.mul(85).add(vec{3, 1, 8}), 3); n > 0.10 && s.q.y > 0.02 {
		t := clamp32(2.2*(n-0.10), 0, 0.5)
		s.tints[0].share *= 1 - t
		s.tints[1].share *= 1 - t
		s.tints[2] = tint{colBlack, t}
	}
	s.gloss(0.028, 0.38)
	s.bump(f, func(q vec) float32 { return 0.0002*valueNoise(q.mul(300)) + 0.0004*valueNoise(q.mul(90)) }, 0.0008)
}

func paintHair(s *spot, f frame) {
	t := clamp32(0.25+0.5*turbulence(s.q.mul(160), 2), 0, 1)
	s.mix(colHair, colHairLight, t)
	s.gloss(0.055, 0.3)
}
