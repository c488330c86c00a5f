package demo

// buildRoom makes the garage behind the mechanic.
func buildRoom(b *builder, m *materialSet) {
	l, r, k, f := float32(wallLeft), float32(wallRight), float32(wallBack), float32(wallFront)
	c := float32(ceiling)
	b.begin(at(0, 0, wallBack), m.get("blocks"))
	b.quad(vec{l, 0, 0}, vec{r, 0, 0}, vec{r, c, 0}, vec{l, c, 0})
	b.begin(world, m.get("plaster"))
	b.quad(vec{l, 0, f}, vec{r, 0, f}, vec{r, c, f}, vec{l, c, f})
	b.quad(vec{l, 0, k}, vec{l, 0, f}, vec{l, c, f}, vec{l, c, k})
	b.quad(vec{r, 0, k}, vec{r, 0, f}, vec{r, c, f}, vec{r, c, k})
	b.quad(vec{l, c, k}, vec{r, c, k}, vec{r, c, f}, vec{l, c, f})
	b.begin(world, m.get("concrete"))
	b.quad(vec{l, 0, k}, vec{r, 0, k}, vec{r, 0, f}, vec{l, 0, f})
	buildPegboard(b, m)
	buildBackBench(b, m)
	buildShelf(b, m)
	buildDoor(b, m)
	buildHood(b, m)
	buildBicycle(b, m)
	buildWall(b, m)
	// The housings of the lamps out of the picture, as far as they throw shade.
	b.begin(world, m.get("dark"))
	b.rod(v3(-1.52, 2.5, 0.80), v3(-1.52, 2.31, 0.80), 0.01, 8)
	// A black flag keeps the lantern off the wall on its own side.
	b.box(v3(-1.62, 1.85, 0.30), 0.62, 1.25, 0.004, 0.001)
}

const (
	pegLeft, pegRight = -1.36, 0.93
	pegLow, pegHigh   = 1.02, 2.03
)

func buildPegboard(b *builder, m *materialSet) {
	z := wallBack + 0.022
	w, h := pegRight-pegLeft, pegHigh-pegLow
	cx, cy := (pegLeft+pegRight)/2, (pegHigh+pegLow)/2
	b.begin(at(cx, cy, z), m.get("pegboard"))
	b.box(vec{}, w, h, 0.006, 0.0005)
	for _, s := range []float64{-1, 1} {
		b.begin(at(cx, cy+s*(h/2+0.018), z), m.get("pine"))
		b.box(vec{}, w+0.08, 0.038, 0.024, 0.002)
		b.begin(at(cx+s*(w/2+0.02), cy, z).turn(2, 90), m.get("pine"))
		b.box(vec{}, h, 0.038, 0.024, 0.002)
	}
	out := z + 0.014
	for i := range 9 { // spanners by size
		n := 0.235 - 0.0125*float64(i)
		spanner(b, m, at(-1.27+0.052*float64(i), 1.90-n/2, out).turn(2, 2*float64(i%3-1)).turn(1, 9-float64(i*7%23)), n)
	}
	for i, c := range []string{"red plastic", "yellow plastic", "red plastic", "black plastic", "green plastic", "blue plastic"} {
		screwdriver(b, m, at(-1.28+0.062*float64(i), 1.47, out+0.006).turn(2, 2*float64(i%2)), c, 0.24-0.018*float64(i%4))
	}
	hammer(b, m, at(-0.83, 1.43, out+0.008).turn(2, -3))
	hammer(b, m, at(-0.73, 1.45, out+0.008).turn(2, 2))
	for i, c := range []string{"red plastic", "blue plastic", "black plastic"} {
		pliers(b, m, at(-0.62+0.075*float64(i), 1.83, out+0.004).turn(2, 3-2*float64(i)), c)
	}
	hacksaw(b, m, at(-1.10, 1.17, out+0.006).turn(2, 4))
	chainring(b, m, at(-0.74, 1.17, out), 0.085, 40)
	chainring(b, m, at(0.18, 1.86, out), 0.105, 48)
	chainring(b, m, at(0.40, 1.88, out), 0.072, 34)
	chainring(b, m, at(0.56, 1.89, out), 0.045, 20)
	buildHanging(b, m, out)
}

// buildHanging is what hangs on the pegboard's right half.
func buildHanging(b *builder, m *materialSet, out float64) {
	ring := func(x, y, z float64) frame { return at(x, y, z).turn(0, 90) }
	tyre(b, m, ring(0.64, 1.46, out+0.03), 0.235, 0.017)
	tyre(b, m, ring(0.70, 1.44, out+0.062), 0.225, 0.015)
	b.begin(ring(0.25, 1.50, out), m.get("orange plastic"))
	for i := range 4 { // coiled cable housing
		b.torus(v3(0.004*float64(i), 0.004*float64(i), 0.003*float64(i)), 0.105+0.004*float64(i), 0.0028, 44, 7, 0, 1)
	}
	for i := range 4 {
		n := 0.21 - 0.02*float64(i)
		spanner(b, m, at(0.74+0.048*float64(i), 1.93-n/2, out).turn(1, 11-float64(i*9%20)), n)
	}
	// A clock-faced gauge and a note.
	b.begin(ring(0.05, 1.24, out), m.get("enamel"))
	b.lathe([][2]float64{{0, 0.018}, {0.048, 0.018}}, 36)
	b.begin(ring(0.05, 1.24, out), m.get("black plastic"))
	b.lathe([][2]float64{{0.048, 0.020}, {0.054, 0.020}, {0.056, 0}, {0, 0}}, 36)
	b.begin(at(0.05, 1.24, out+0.0195), m.get("red paint"))
	b.box(v3(0.012, 0.010, 0), 0.036, 0.003, 0.001, 0.0002)
	b.begin(at(0.30, 1.24, out-0.006).turn(2, -3), m.get("paper"))
	b.box(vec{}, 0.148, 0.21, 0.0004, 0.0001)
	b.begin(at(0.30, 1.24, out-0.0055).turn(2, -3), m.get("dark"))
	for i := range 9 {
		b.box(v3(-0.012+0.008*float64(i%3), 0.078-0.019*float64(i), 0), 0.10-0.012*float64(i%3), 0.0035, 0.0003, 0.0001)
	}
}

func buildBackBench(b *builder, m *materialSet) {
	const top, depth = 0.885, 0.50
	z := wallBack + depth/2
	b.begin(at(-0.25, top-0.02, z), m.get("pine"))
	b.box(vec{}, 2.25, 0.04, depth, 0.003)
	for _, x := range []float64{-1.30, -0.45, 0.80} {
		b.begin(at(x, top/2-0.02, z+0.2).turn(2, 90), m.get("pine"))
		b.box(vec{}, top-0.06, 0.07, 0.07, 0.003)
	}
	b.begin(at(-0.25, 0.40, z), m.get("pine"))
	b.box(vec{}, 2.2, 0.025, depth-0.05, 0.002)
	b.begin(at(-0.9, 0.41, z), m.get("cardboard"))
	b.box(v3(-0.1, 0.14, 0), 0.40, 0.26, 0.32, 0.003)
	b.box(v3(0.30, 0.10, 0.02), 0.30, 0.20, 0.30, 0.003)
	crate(b, m, at(0.25, 0.415, z), "blue plastic", 0.36, 0.24, 0.34)
	// On it: vice, tool box, tins, a jar, small parts.
	vice(b, m, at(-1.02, top, z+0.12))
	b.begin(at(-0.62, top, z+0.02), m.get("red paint"))
	b.box(v3(0, 0.075, 0), 0.34, 0.15, 0.18, 0.010)
	b.box(v3(0, 0.162, 0), 0.345, 0.026, 0.185, 0.010)
	b.begin(at(-0.62, top, z+0.02), m.get("steel"))
	b.box(v3(0, 0.145, 0.096), 0.045, 0.030, 0.006, 0.001)
	can(b, m, at(-1.27, top, z+0.02), "blue paint", "black plastic", 0.030, 0.17)
	can(b, m, at(-1.20, top, z-0.08), "yellow plastic", "enamel", 0.031, 0.19)
	can(b, m, at(0.16, top, z+0.05), "red paint", "enamel", 0.031, 0.18)
	can(b, m, at(0.245, top, z-0.02), "green plastic", "black plastic", 0.028, 0.15)
	jar(b, m, at(0.36, top, z+0.06), "steel", 0.042, 0.11, 5)
	jar(b, m, at(0.47, top, z-0.03), "red paint", 0.036, 0.10, 9)
	for i := range 3 {
		crate(b, m, at(0.60+0.135*float64(i), top, z-0.1), []string{"yellow plastic", "blue plastic", "yellow plastic"}[i], 0.12, 0.085, 0.2)
		crate(b, m, at(0.60+0.135*float64(i), top+0.088, z-0.1), []string{"blue plastic", "yellow plastic", "red plastic"}[i], 0.12, 0.085, 0.2)
	}
}

func vice(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("vice paint"))
	b.lathe([][2]float64{{0, 0}, {0.075, 0}, {0.075, 0.018}, {0.055, 0.026}, {0.045, 0.05}, {0.05, 0.075}, {0, 0.075}}, 30)
	b.box(v3(0, 0.105, -0.02), 0.10, 0.075, 0.12, 0.010)
	b.box(v3(0, 0.105, 0.085), 0.10, 0.075, 0.05, 0.010)
	b.begin(f, m.get("steel"))
	b.box(v3(0, 0.135, 0.036), 0.115, 0.030, 0.012, 0.001)
	b.box(v3(0, 0.135, 0.060), 0.115, 0.030, 0.012, 0.001)
	b.rod(v3(0, 0.085, 0.10), v3(0, 0.085, 0.17), 0.012, 16)
	b.rod(v3(-0.085, 0.10, 0.16), v3(0.085, 0.07, 0.16), 0.0055, 10)
	b.ball(v3(-0.085, 0.10, 0.16), v3(0.010, 0.010, 0.010), 10)
	b.ball(v3(0.085, 0.07, 0.16), v3(0.010, 0.010, 0.010), 10)
}

// buildWall is what's fixed to the bare wall on the right: a conduit with a
// switch box, a calendar, a hook with a pump.
func buildWall(b *builder, m *materialSet) {
	z := wallBack + 0.014
	b.begin(world, m.get("grey steel"))
	b.rod(v3(1.17, 2.5, z), v3(1.17, 1.93, z), 0.011, 12)
	b.box(v3(1.17, 1.885, z+0.012), 0.085, 0.13, 0.052, 0.004)
	b.rod(v3(1.06, 2.5, z), v3(1.06, 0.2, z), 0.011, 12)
	b.begin(world, m.get("enamel"))
	b.box(v3(1.17, 1.89, z+0.042), 0.022, 0.040, 0.012, 0.002)
	b.begin(world, m.get("paper"))
	b.box(v3(1.40, 1.93, z-0.008), 0.24, 0.33, 0.004, 0.0005)
	b.begin(world, m.get("blue paint"))
	b.box(v3(1.40, 2.03, z-0.0055), 0.22, 0.115, 0.001, 0.0002)
	b.begin(world, m.get("dark"))
	for i := range 5 {
		for j := range 7 {
			b.box(v3(1.313+0.029*float64(j), 1.945-0.030*float64(i), z-0.0055), 0.012, 0.012, 0.001, 0.0002)
		}
	}
	b.begin(world, m.get("dark"))
	for _, y := range []float64{2.188, 2.196} { // slots in the hood
		b.box(v3(tubeX, y, -1.4165), 0.9, 0.003, 0.001, 0.0002)
	}
	b.begin(world, m.get("black plastic"))
	b.pipe([]vec{v3(tubeX+0.62, 2.22, -1.6), v3(tubeX+0.75, 2.32, -1.7), v3(tubeX+0.80, 2.5, -1.72)}, 0.006, 8, 6)
}

// buildShelf stands in the corner on the picture's left.
func buildShelf(b *builder, m *materialSet) {
	const left, right = -1.93, -1.46
	cx, w := (left+right)/2, right-left
	z := wallBack + 0.19
	for _, x := range []float64{left, right} {
		for _, dz := range []float64{-0.17, 0.17} {
			b.begin(at(x, 1.15, z+dz), m.get("grey steel"))
			b.box(vec{}, 0.035, 2.3, 0.035, 0.002)
		}
	}
	for i, y := range []float64{0.55, 1.0, 1.45, 1.90} {
		b.begin(at(cx, y, z), m.get("grey steel"))
		b.box(vec{}, w, 0.03, 0.38, 0.002)
		switch i {
		case 0:
			b.begin(at(cx, y+0.015, z), m.get("cardboard"))
			b.box(v3(0.02, 0.17, 0), 0.38, 0.34, 0.30, 0.003)
		case 1:
			for k := range 3 {
				tyre(b, m, at(cx+0.02, y+0.05+0.065*float64(k), z), 0.17, 0.032)
			}
		case 2:
			crate(b, m, at(cx+0.08, y+0.015, z+0.03), "orange plastic", 0.27, 0.19, 0.30)
			can(b, m, at(cx-0.14, y+0.015, z+0.08), "steel", "steel", 0.055, 0.13)
		default:
			b.begin(at(cx, y+0.015, z), m.get("cardboard"))
			b.box(v3(-0.02, 0.11, 0), 0.36, 0.22, 0.28, 0.003)
			helmet(b, m, at(cx+0.05, y+0.235, z))
		}
	}
}

func helmet(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("enamel"))
	b.nets(func(p vec) float32 {
		d := egg(p, v3(0, 0.0, 0), v3(0.105, 0.115, 0.15))
		for i := -1; i <= 1; i++ {
			d = carve(d, egg(p, v3(0.055*float64(i), 0.11, 0.02), v3(0.016, 0.05, 0.13)), 0.01)
		}
		return max(d, -p.y)
	}, v3(-0.13, -0.01, -0.17), v3(0.13, 0.14, 0.17), 0.006)
}

// buildDoor is the door's frame round the opening that daylight comes through.
func buildDoor(b *builder, m *materialSet) {
	x := wallRight - 0.02
	b.begin(world, m.get("white paint"))
	b.box(v3(x, 1.04, doorBack-0.045), 0.06, 2.08, 0.09, 0.004)
	b.box(v3(x, 1.04, doorFront+0.045), 0.06, 2.08, 0.09, 0.004)
	b.box(v3(x, 2.10, (doorBack+doorFront)/2), 0.06, 0.09, doorFront-doorBack+0.18, 0.004)
	// Glazing bars.
	for _, y := range []float64{0.75, 1.40} {
		b.box(v3(x+0.012, y, (doorBack+doorFront)/2), 0.025, 0.035, doorFront-doorBack, 0.003)
	}
	b.box(v3(x+0.012, 1.04, (doorBack+doorFront)/2), 0.025, 2.0, 0.035, 0.003)
}

const doorBack, doorFront = -1.50, -0.20

// buildHood shades the tube from the camera and throws its light on the wall.
func buildHood(b *builder, m *materialSet) {
	b.begin(world, m.get("white paint"))
	x0, x1 := float32(tubeX-0.66), float32(tubeX+0.66)
	z0, z1 := float32(wallBack+0.03), float32(-1.42)
	y := float32(2.215)
	b.box(v3(tubeX, 2.222, (float64(z0)+float64(z1))/2), 1.32, 0.012, float64(z1-z0), 0.002)
	b.box(v3(tubeX, 2.166, float64(z1)), 1.32, 0.112, 0.006, 0.002)
	for _, x := range []float32{x0, x1} {
		b.quad(vec{x, y - 0.105, z0}, vec{x, y - 0.105, z1}, vec{x, y, z1}, vec{x, y, z0})
	}
}

const tubeX = -0.25
