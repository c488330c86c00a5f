package demo

// buildFigure: the mechanic.
func buildFigure(b *builder, m *materialSet, detail float64) {
	b.begin(world, m.get("skin"))
	b.ball(v3(-0.2, 1.64, 0.0), v3(0.08, 0.115, 0.1), 32)
	b.rod(v3(-0.2, 1.4, -0.02), v3(-0.2, 1.6, -0.01), 0.058, 24)
	b.begin(world, m.get("cotton"))
	b.ball(v3(-0.2, 1.15, -0.02), v3(0.24, 0.36, 0.15), 32)
	b.begin(world, m.get("hair shell"))
	b.ball(v3(-0.2, 1.68, -0.02), v3(0.086, 0.1, 0.1), 32)
}
