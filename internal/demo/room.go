package demo

// buildRoom makes the garage.
func buildRoom(b *builder, m *materialSet) {
	b.begin(world, m.get("plaster"))
	l, r, k, f := float32(wallLeft), float32(wallRight), float32(wallBack), float32(wallFront)
	c := float32(ceiling)
	b.quad(vec{l, 0, k}, vec{r, 0, k}, vec{r, c, k}, vec{l, c, k})
	b.quad(vec{l, 0, f}, vec{r, 0, f}, vec{r, c, f}, vec{l, c, f})
	b.quad(vec{l, 0, k}, vec{l, 0, f}, vec{l, c, f}, vec{l, c, k})
	b.quad(vec{r, 0, k}, vec{r, 0, f}, vec{r, c, f}, vec{r, c, k})
	b.quad(vec{l, c, k}, vec{r, c, k}, vec{r, c, f}, vec{l, c, f})
	b.begin(world, m.get("concrete"))
	b.quad(vec{l, 0, k}, vec{r, 0, k}, vec{r, 0, f}, vec{l, 0, f})
	b.begin(at(0, 0, wallBack), m.get("pegboard"))
	b.box(v3(-0.35, 1.5, 0.015), 1.9, 1.1, 0.01, 0.001)
}
