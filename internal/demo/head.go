package demo

import "math"

// The mechanic's head, in its own frame: origin between the eyes' level and
// the ears, x to the picture's right, y up, z out of the face. Sizes are those
// of an ordinary grown man (head 0.23 m high, 0.155 m wide, 0.20 m long; pupils
// 63 mm apart); shapes by eye.

const (
	eyeX, eyeY, eyeZ = 0.0315, 0.0, 0.0640
	eyeBall          = 0.0123
)

// lidLine gives how far the eye is open above and below the pupil's level at
// a distance x (signed, toward the temple positive) from it.
func lidLine(x float32) (up, down float32) {
	u := x / 0.0158
	open := max(0, 1-u*u)
	// A little higher on the nose's side above, on the temple's side below.
	return 0.0041*open*(1-0.10*u) + 0.0006*u, -0.0040*open*(1+0.15*u) + 0.0006*u
}

// skullField is the head without ears, eyes' openings and mouth.
func skullField(p, q vec) float32 {
	d := egg(q, v3(0, 0.034, -0.014), v3(0.0765, 0.0835, 0.0985)) // brain case
	d = join(d, egg(q, v3(0, 0.036, 0.036), v3(0.064, 0.056, 0.0485)), 0.02)
	d = join(d, egg(q, v3(0, -0.034, 0.022), v3(0.0605, 0.075, 0.060)), 0.025)                    // face
	d = join(d, limb(q, v3(0.053, -0.058, -0.004), v3(0.020, -0.101, 0.058), 0.014, 0.014), 0.03) // jaw
	d = join(d, egg(q, v3(0, -0.101, 0.066), v3(0.0215, 0.0145, 0.0165)), 0.018)                  // chin
	d = join(d, egg(q, v3(0.0435, -0.019, 0.045), v3(0.0190, 0.0135, 0.0235)), 0.022)             // cheekbone
	d = join(d, egg(q, v3(0.046, 0.002, 0.024), v3(0.0200, 0.034, 0.034)), 0.02)                  // temple
	d = join(d, egg(q, v3(0.0365, -0.052, 0.042), v3(0.0225, 0.030, 0.026)), 0.024)               // cheek
	d = join(d, egg(q, v3(0, -0.067, 0.0605), v3(0.031, 0.023, 0.0225)), 0.016)                   // muzzle
	d = join(d, arc(q, v3(0.004, 0.0165, 0.0795), v3(0.022, 0.0235, 0.083), v3(0.050, 0.0125, 0.060), 0.0068, 0.0062), 0.014)
	// Sockets, deepest beside the nose.
	d = carve(d, egg(q, v3(0.0315, -0.0005, 0.0875), v3(0.0205, 0.0125, 0.0145)), 0.013)
	d = carve(d, egg(q, v3(0.0175, 0.003, 0.0855), v3(0.0065, 0.0095, 0.010)), 0.011)
	if !within(q, v3(0, -0.025, 0.090), 0.065) {
		return d
	}
	return noseField(d, q)
}

// within says whether p is nearer than r to c: features that reach less far
// are left out elsewhere, which saves most of the work and changes nothing.
func within(p, c vec, r float32) bool {
	d := p.sub(c)
	return d.dot(d) < r*r
}

func noseField(d float32, q vec) float32 {
	d = join(d, limb(q, v3(0, 0.009, 0.0765), v3(0, -0.030, 0.0985), 0.0068, 0.0082), 0.011)
	d = join(d, limb(q, v3(0.004, -0.012, 0.078), v3(0.0085, -0.040, 0.086), 0.0075, 0.0085), 0.016)
	d = join(d, egg(q, v3(0, -0.0370, 0.1000), v3(0.0105, 0.0092, 0.0108)), 0.007) // tip
	d = join(d, egg(q, v3(0.0128, -0.0420, 0.0890), v3(0.0068, 0.0072, 0.0098)), 0.0042)
	d = join(d, limb(q, v3(0, -0.0445, 0.0985), v3(0, -0.0515, 0.0865), 0.0042, 0.0045), 0.005)
	d = carve(d, egg(q, v3(0.0072, -0.0490, 0.0945), v3(0.0036, 0.0050, 0.0062)), 0.0028)
	return d
}

// mouthLine is the middle of the closed lips at x: how high and how far out.
func mouthLine(x float32) vec {
	u := abs32(x) / 0.0255
	return vec{x, -0.0700 + 0.0012*u*u, 0.0868 - 0.0135*u*u - 0.0012*u}
}

// lipField is the lips' own body; below about 1 mm the skin is lip.
func lipField(q vec) float32 {
	up := arc(q, v3(0, -0.0672, 0.0868), v3(0.010, -0.0650, 0.0864), v3(0.0225, -0.0694, 0.0750), 0.0036, 0.0022)
	low := arc(q, v3(0, -0.0742, 0.0852), v3(0.012, -0.0744, 0.0845), v3(0.0215, -0.0702, 0.0755), 0.0046, 0.0024)
	return min(up, low)
}

// headField is the skin of head and neck.
func headField(p vec) float32 {
	q := vec{abs32(p.x), p.y, p.z}
	d := skullField(p, q)
	if within(q, v3(0, -0.068, 0.082), 0.062) {
		d = mouthField(d, q)
	}
	if within(q, v3(eyeX, eyeY, eyeZ), 0.045) {
		d = eyeField(d, p)
	}
	if within(q, v3(0.0715, -0.001, -0.016), 0.060) {
		d = earField(d, q)
	}
	if p.y < 0.02 {
		d = neckField(d, p, q)
	}
	return d
}

// mouthField adds lips, the line between them and the folds about the mouth.
func mouthField(d float32, q vec) float32 {
	d = join(d, lipField(q), 0.004)
	mouth := arc(q, mouthLine(0), mouthLine(0.014), mouthLine(0.0248), 0.0013, 0.0011)
	d = carve(d, mouth, 0.0026)
	// The fold from the nose's wing to the mouth's corner, and the dip over the lip.
	d = carve(d, arc(q, v3(0.0205, -0.040, 0.0855), v3(0.029, -0.052, 0.0825), v3(0.034, -0.071, 0.0740), 0.0018, 0.0012), 0.007)
	d = carve(d, limb(q, v3(0, -0.0555, 0.0925), v3(0, -0.0620, 0.0930), 0.0020, 0.0022), 0.005)
	d = carve(d, arc(q, v3(0, -0.0865, 0.0860), v3(0.010, -0.086, 0.084), v3(0.020, -0.083, 0.074), 0.003, 0.001), 0.009)
	return d
}

// eyeField lays lids over the eyeballs and opens them.
func eyeField(d float32, p vec) float32 {
	s := float32(1)
	if p.x < 0 {
		s = -1
	}
	c := vec{s * eyeX, eyeY, eyeZ}
	r := p.sub(c)
	lid := egg(r, vec{0, 0, 0}, v3(0.0150, 0.0141, 0.0141))
	d = join(d, lid, 0.005)
	x := s * r.x
	up, down := lidLine(x)
	open := max(r.y-up, down-r.y)
	open = max(open, abs32(x)-0.0152)
	open = max(open, -r.z)
	d = carve(d, max(open, 0.0127-r.length()-0.05), 0.0012)
	// The fold above the upper lid.
	fold := arc(vec{x, r.y, r.z}, v3(-0.0135, 0.0065, 0.0105), v3(0.001, 0.0128, 0.0135), v3(0.0155, 0.0065, 0.0080), 0.0009, 0.0009)
	return carve(d, fold, 0.0035)
}

// earField adds the ears, turned out a little from the head.
func earField(d float32, q vec) float32 {
	c := v3(0.0715, -0.001, -0.016)
	r := q.sub(c)
	// The ear's own axes: out (normal), up (leaning back), forward.
	n := v3(0.93, 0.05, -0.36).unit()
	up := v3(0.06, 0.97, -0.22).unit()
	fw := up.cross(n)
	e := vec{r.dot(n), r.dot(up), r.dot(fw)}
	taper := float32(1) - 0.22*clamp32(-e.y/0.03, 0, 1)
	body := egg(e, v3(0.002, 0, 0), v3(0.0050, 0.0300, 0.0175*float64(taper)))
	bowl := egg(e, v3(0.0082, -0.003, 0.003), v3(0.0060, 0.0130, 0.0092))
	groove := arc(e, v3(0.0072, 0.008, 0.0130), v3(0.0078, 0.0340, -0.002), v3(0.0070, -0.006, -0.0128), 0.0020, 0.0022)
	body = carve(body, bowl, 0.004)
	body = carve(body, groove, 0.003)
	body = join(body, egg(e, v3(0.003, -0.005, 0.0145), v3(0.0035, 0.0055, 0.0035)), 0.003)
	body = join(body, egg(e, v3(0.001, -0.027, 0.006), v3(0.0045, 0.0085, 0.0075)), 0.004)
	return join(d, body, 0.006)
}

func neckField(d float32, p, q vec) float32 {
	d = join(d, limb(q, v3(0, -0.045, -0.022), v3(0, -0.235, -0.045), 0.0545, 0.0620), 0.022)
	d = join(d, limb(q, v3(0.046, -0.06, -0.022), v3(0.014, -0.235, 0.018), 0.0120, 0.0105), 0.014)
	d = join(d, egg(q, v3(0, -0.125, 0.030), v3(0.011, 0.014, 0.010)), 0.014)
	d = join(d, limb(q, v3(0.03, -0.14, -0.052), v3(0.10, -0.225, -0.060), 0.034, 0.034), 0.04)
	return d
}

// buildHead puts head, neck and eyes into the scene; the head stands in f.
func buildHead(b *builder, m *materialSet, f frame, detail float64) {
	b.begin(f, m.get("skin"))
	size := float32(0.0016 / math.Sqrt(detail))
	b.nets(headField, v3(-0.105, -0.235, -0.125), v3(0.105, 0.135, 0.125), size)
	for _, s := range []float64{-1, 1} {
		b.begin(f.shift(s*eyeX, eyeY, eyeZ), m.get("eye"))
		b.ball(vec{}, v3(eyeBall, eyeBall, eyeBall), 28)
		// The cornea stands out of the ball.
		b.ball(v3(gazeX*eyeBall*0.46, gazeY*eyeBall*0.46, 0.0058), v3(0.0073, 0.0073, 0.0073), 20)
	}
}

// buildLids puts the closed upper lids over the eyes. They let light through
// to the open eye, for the two are never there together.
func buildLids(b *builder, m *materialSet, f frame) {
	layer := b.layer
	b.layer, b.open = layerLids, true
	b.begin(f, m.get("skin"))
	for _, s := range []float64{-1, 1} {
		b.ball(v3(s*eyeX, eyeY, eyeZ), v3(0.0150, 0.0141, 0.01405), 30)
	}
	b.layer, b.open = layer, false
}

// The gaze, as sines of the eye's turn: at the lens, which stands a little
// beside where the head is turned.
const gazeX, gazeY = -0.10, -0.06
