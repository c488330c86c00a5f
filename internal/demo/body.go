package demo

import "math"

// The mechanic's body in his own frame: origin on the floor between his feet,
// y up, z to his front.
var bodyFrame = at(-0.2, 0, -0.03).turn(1, 7)

// joints of the arms, in the body's frame; the hands are placed in the room.
var (
	shoulderL, shoulderR = v3(0.185, 1.395, -0.03), v3(-0.185, 1.395, -0.03)
	elbowL, elbowR       = v3(0.275, 1.145, 0.035), v3(-0.270, 1.140, 0.020)
)

// torsoField is the body under the shirt, arms left out.
func torsoField(p vec) float32 {
	q := vec{abs32(p.x), p.y, p.z}
	d := egg(q, v3(0, 1.265, -0.020), v3(0.178, 0.205, 0.118))
	d = join(d, egg(q, v3(0.075, 1.315, 0.055), v3(0.085, 0.070, 0.045)), 0.06)
	d = join(d, egg(q, v3(0, 1.02, 0.006), v3(0.160, 0.24, 0.122)), 0.10)
	d = join(d, limb(q, v3(0.02, 1.425, -0.045), v3(0.160, 1.405, -0.035), 0.055, 0.060), 0.06)
	d = join(d, limb(q, v3(0.03, 1.475, -0.050), v3(0.14, 1.425, -0.045), 0.030, 0.045), 0.05)
	return d
}

// folds is the cloth's relief at a place: long waves pulled toward the arms
// and the waist, and small creases.
func folds(p vec) float32 {
	ridge := func(q vec) float32 { // sharp on top, round below
		n := valueNoise(q)
		return 1 - 2*abs32(n)
	}
	w := p.add(vec{valueNoise(p.mul(9)), valueNoise(p.mul(9).add(vec{7, 3, 1})), 0}.mul(0.018))
	a := ridge(vec{w.x*9 + w.y*7, w.y*5 - w.x*4, w.z * 9})
	b := ridge(vec{w.x*23 - w.y*9, w.y * 11, w.z*20 + 5})
	return 0.0065*a + 0.0022*b
}

// sleeve is one arm's cloth from the shoulder to the rolled cuff.
func sleeve(p, shoulder, elbow, wrist vec) float32 {
	d := limb(p, shoulder, elbow, 0.066, 0.052)
	cuff := elbow.lerp(wrist, 0.33)
	d = join(d, limb(p, elbow, cuff, 0.052, 0.049), 0.02)
	// Rings of cloth pushed up at the elbow's bend.
	near := smooth32(0.13, 0.02, p.sub(elbow).length())
	along := p.sub(elbow).dot(elbow.sub(shoulder).unit())
	wave := sin32(along*190 + 3*valueNoise(p.mul(22)))
	d -= near * 0.0045 * wave
	// The cuff's roll.
	axis := wrist.sub(elbow).unit()
	t := p.sub(cuff).dot(axis)
	r := p.sub(cuff.mad(t, axis)).length()
	roll := slab(vec{t, r - 0.046, 0}, vec{}, v3(0.020, 0.0075, 1), 0.006)
	d = join(d, roll, 0.004)
	return d
}

// shirtField is the whole shirt. Its body ends at the neck.
func shirtField(p vec) float32 {
	d := torsoField(p) - 0.006
	wl, wr := bodyFrame.inside(handL.o), bodyFrame.inside(handR.o)
	d = join(d, sleeve(p, shoulderL, elbowL, wl), 0.045)
	d = join(d, sleeve(p, shoulderR, elbowR, wr), 0.045)
	d -= folds(p)
	// The neck comes out of it, through a ribbed band.
	band := limb(p, neckLow, neckHigh, 0.0520, 0.062)
	d = join(d, max(abs32(band-0.004)-0.005, d-0.0035), 0.003)
	return carve(d, band, 0.003)
}

var neckLow, neckHigh = v3(0, 1.455, -0.026), v3(0, 1.54, -0.005)

// apronRegion is the apron's outline seen from the front: below 0 inside.
func apronRegion(x, y float32) float32 {
	a := abs32(x)
	bib := max(a-0.112-0.02*smooth32(1.30, 1.1, y), max(y-1.318, -(y-0.80)))
	skirt := max(a-0.190, max(y-1.085+1.2*max(0, a-0.11)*0.6, -(y-0.70)))
	return min(bib, skirt)
}

// strapRegion is the two straps over the shoulders.
func strapRegion(x, y, z float32) float32 {
	a := abs32(x)
	c := 0.098 - 0.16*(y-1.31)
	if z < -0.03 {
		return 1
	}
	return max(abs32(a-c)-0.017, max(1.30-y, y-1.50))
}

func apronField(p vec) float32 {
	d := torsoField(p) - 0.006
	relief := 0.5 * folds(vec{p.x * 0.6, p.y * 0.6, p.z * 0.6})
	base := d - 0.0065 - relief
	shell := max(base-0.0035, -(base + 0.006))
	in := apronRegion(p.x, p.y)
	if p.z < 0 {
		in = 1
	}
	a := carveTo(shell, in)
	strap := carveTo(max(base-0.0025, -(base+0.006)), strapRegion(p.x, p.y, p.z))
	a = min(a, strap)
	// The pocket on the bib, with the lip it bulges with.
	pocket := max(abs32(p.x-0.01)-0.062, max(p.y-1.235, 1.135-p.y))
	bulge := 0.004 * smooth32(1.15, 1.235, p.y)
	if p.z > 0 {
		a = min(a, carveTo(max(base-0.0075-bulge, -(base+0.002)), pocket))
	}
	return a
}

// carveTo keeps of d what lies inside the region, edges a little round.
func carveTo(d, region float32) float32 { return -join(-d, -region, 0.004) }

func buildBody(b *builder, m *materialSet, detail float64) {
	k := float32(1 / math.Sqrt(detail))
	b.begin(bodyFrame, m.get("cotton"))
	b.nets(shirtField, v3(-0.42, 0.86, -0.20), v3(0.48, 1.54, 0.34), 0.0036*k)
	b.begin(bodyFrame, m.get("canvas"))
	b.nets(apronField, v3(-0.22, 0.86, -0.06), v3(0.22, 1.53, 0.17), 0.0026*k)
	// Rivets, a pencil and a spoke gauge in the pocket.
	b.begin(bodyFrame, m.get("brass"))
	for _, x := range []float64{-0.1, 0.1} {
		b.ball(v3(x, 1.302, 0.0).add(vec{0, 0, front(float32(x), 1.302)}), v3(0.0048, 0.0048, 0.0026), 10)
	}
	z := float64(front(0.045, 1.22)) + 0.004
	b.begin(bodyFrame, m.get("yellow plastic"))
	b.rod(v3(0.046, 1.18, z), v3(0.049, 1.288, z+0.008), 0.0036, 8)
	b.begin(bodyFrame, m.get("steel"))
	b.box(v3(0.020, 1.225, float64(front(0.02, 1.23))+0.006), 0.014, 0.075, 0.0016, 0.0004)
	buildArm(b, m, elbowL, handL, 1, gripL, k)
	buildArm(b, m, elbowR, handR, -1, gripR, k)
}

// front is how far out the apron's bib is at a place.
func front(x, y float32) float32 {
	z := float32(0.25)
	for range 60 {
		d := apronField(vec{x, y, z})
		if d < 0.0005 {
			break
		}
		z -= max(0.0005, 0.7*d)
	}
	return z
}
