package demo

import "math"

// A hand's frame: origin at the wrist, y along the back of the hand to the
// middle knuckle, z out of the back, x toward the thumb (for a left hand; a
// right one is its mirror image).

// wheelAt is the middle of the wheel on the bench, wheelTurn how it's turned
// (its axle points from there to the camera's left), wheelRim its rim's radius.
var (
	wheelAt    = v3(0.34, benchTop+0.262, 0.36)
	wheelAxle  = v3(-math.Sin(wheelTurn), 0, math.Cos(wheelTurn))
	wheelAside = v3(math.Cos(wheelTurn), 0, math.Sin(wheelTurn))
)

const (
	wheelTurn = 35 * math.Pi / 180
	wheelRim  = 0.215
)

// onRim is a point of the wheel at an angle from the picture's right, in degrees.
func onRim(radius, degrees float64) vec {
	s, c := math.Sincos(degrees * math.Pi / 180)
	return wheelAt.add(wheelAside.mul(float32(radius * c))).add(vec{0, float32(radius * s), 0})
}

// handL lies on the rim from above, its fingers over to the camera's side;
// handR rests on the bench.
var (
	handL = gripOnRim(138)
	handR = palmDown(v3(-0.385, benchTop+0.052, 0.245), 24)
)

func gripOnRim(degrees float64) frame {
	out := onRim(1, degrees).sub(wheelAt)
	f := frame{y: wheelAxle, z: out}
	// The wrist hangs a little lower than the fingers point.
	f.y = f.y.mad(0.35, out).unit()
	f.z = f.z.sub(f.y.mul(f.z.dot(f.y))).unit()
	f.x = f.y.cross(f.z)
	at := onRim(wheelRim+0.026, degrees)
	f.o = at.sub(f.y.mul(0.075))
	return f
}

func palmDown(at vec, yaw float64) frame {
	s, c := math.Sincos(yaw * math.Pi / 180)
	f := frame{o: at, y: v3(s, -0.22, c).unit()}
	f.z = v3(0.22*s, 1, 0.22*c)
	f.z = f.z.sub(f.y.mul(f.z.dot(f.y))).unit()
	f.x = f.y.cross(f.z)
	return f
}

// grip is how far each joint of the fingers is bent, in degrees, and the thumb's way.
type grip struct {
	bend  [4][3]float64 // index to little finger; knuckle, middle, end
	thumb [3]vec        // directions of the thumb's bones
	splay float64       // degrees between neighbours
}

var (
	gripL = grip{
		bend:  [4][3]float64{{38, 50, 28}, {44, 54, 30}, {48, 56, 30}, {50, 56, 32}},
		thumb: [3]vec{v3(0.62, 0.55, -0.42), v3(0.45, 0.62, -0.62), v3(0.25, 0.72, -0.62)},
		splay: 4,
	}
	gripR = grip{
		bend:  [4][3]float64{{14, 22, 14}, {20, 30, 18}, {26, 34, 20}, {30, 36, 20}},
		thumb: [3]vec{v3(0.75, 0.55, -0.34), v3(0.55, 0.80, -0.22), v3(0.38, 0.92, -0.05)},
		splay: 5,
	}
)

var (
	fingerBase  = [4]vec{v3(0.030, 0.092, 0.000), v3(0.010, 0.097, 0.002), v3(-0.010, 0.093, 0.001), v3(-0.028, 0.084, -0.003)}
	fingerBones = [4][3]float64{{0.043, 0.026, 0.021}, {0.048, 0.029, 0.022}, {0.044, 0.027, 0.022}, {0.034, 0.020, 0.019}}
)

// handField makes a hand with forearm; side is 1 for a left hand, −1 for a right.
func handField(g grip, side float32, elbow vec) field {
	type bone struct {
		a, b   vec
		ra, rb float32
	}
	var fingers [4][]bone
	for i := range fingers {
		p := fingerBase[i]
		yaw := (1.4 - float64(i)) * g.splay * math.Pi / 180
		dir := func(bend float64) vec {
			s, c := math.Sincos(bend * math.Pi / 180)
			return v3(math.Sin(yaw)*c, math.Cos(yaw)*c, -s)
		}
		total := 0.0
		r := float32(0.0090)
		if i == 3 {
			r = 0.0078
		}
		for j := range 3 {
			total += g.bend[i][j]
			q := p.mad(float32(fingerBones[i][j]), dir(total))
			fingers[i] = append(fingers[i], bone{p, q, r, r * 0.92})
			p, r = q, r*0.93
		}
	}
	var thumb []bone
	p := v3(0.024, 0.026, -0.008)
	for j, d := range g.thumb {
		q := p.mad([3]float32{0.042, 0.032, 0.025}[j], d.unit())
		thumb = append(thumb, bone{p, q, [3]float32{0.0150, 0.0112, 0.0105}[j], [3]float32{0.0118, 0.0108, 0.0088}[j]})
		p = q
	}
	return func(p vec) float32 {
		p.x *= side
		d := egg(p, v3(0.001, 0.052, -0.004), v3(0.041, 0.058, 0.0165))
		d = join(d, egg(p, v3(0.026, 0.036, -0.012), v3(0.018, 0.032, 0.016)), 0.014)
		d = join(d, egg(p, v3(-0.028, 0.040, -0.010), v3(0.014, 0.036, 0.015)), 0.012)
		d = join(d, limb(p, vec{0, -0.005, -0.002}, vec{0, 0.03, -0.003}, 0.0235, 0.024), 0.02)
		all := float32(1)
		for i := range fingers {
			f := float32(1)
			for j, b := range fingers[i] {
				f = join(f, limb(p, b.a, b.b, b.ra, b.rb), 0.006)
				if j == 0 { // the knuckle
					f = join(f, ball(p, b.a.add(vec{0, 0, 0.0015}), b.ra*1.08), 0.008)
				}
			}
			// The tendon over the back of the hand.
			t := limb(p, vec{fingerBase[i].x * 0.35, 0.015, 0.0095}, fingerBase[i].add(vec{0, 0, 0.006}), 0.0025, 0.0035)
			d = join(d, t, 0.008)
			all = join(all, f, 0.0028)
		}
		d = join(d, all, 0.009)
		th := float32(1)
		for _, b := range thumb {
			th = join(th, limb(p, b.a, b.b, b.ra, b.rb), 0.008)
		}
		d = join(d, th, 0.010)
		e := elbow
		e.x *= side
		mid := e.mul(0.55)
		d = join(d, limb(p, vec{0, -0.005, -0.002}, mid, 0.0235, 0.036), 0.02)
		return join(d, limb(p, mid, e, 0.036, 0.041), 0.03)
	}
}

// buildArm makes the bare forearm with its hand.
func buildArm(b *builder, m *materialSet, elbow vec, hand frame, side float32, g grip, k float32) {
	e := hand.inside(bodyFrame.point(elbow))
	f := handField(g, side, e)
	lo, hi := minVec(e, v3(-0.065, -0.03, -0.10)), maxVec(e, v3(0.085, 0.20, 0.04))
	pad := v3(0.05, 0.05, 0.05)
	b.begin(hand, m.get("hand"))
	b.nets(f, lo.sub(pad), hi.add(pad), 0.0021*k)
	buildNails(b, m, hand, side, g)
}

// buildNails puts flat shells on the finger ends.
func buildNails(b *builder, m *materialSet, hand frame, side float32, g grip) {
	for i := range 4 {
		p := fingerBase[i]
		total := 0.0
		yaw := (1.4 - float64(i)) * g.splay * math.Pi / 180
		var d vec
		for j := range 3 {
			total += g.bend[i][j]
			s, c := math.Sincos(total * math.Pi / 180)
			d = v3(math.Sin(yaw)*c, math.Cos(yaw)*c, -s)
			p = p.mad(float32(fingerBones[i][j]), d)
		}
		up := vec{0, 0, 1}.sub(d.mul(d.z)).unit()
		c := p.mad(-0.002, d).mad(0.0050, up)
		x := d.cross(up)
		f := frame{o: hand.point(vec{c.x * side, c.y, c.z})}
		f.y = hand.dir(vec{d.x * side, d.y, d.z})
		f.z = hand.dir(vec{up.x * side, up.y, up.z})
		f.x = hand.dir(vec{x.x * side, x.y, x.z})
		b.begin(f, m.get("nail"))
		b.ball(vec{}, v3(0.0056, 0.0066, 0.0024), 10)
	}
}
