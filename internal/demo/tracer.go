package demo

import (
	"math"
)

// maxPictures bounds the pictures carried at once: five lamps, the ambient,
// and two more for the filament's colours, rounded up.
const maxPictures = 8

// light is what one ray brings back: for each picture the sensor's three
// channels, in the unit of radiance (cd/m² of the lamp's full level).
type light [maxPictures][3]float32

func (l *light) add(k float32, m *light, n int) {
	for i := range n {
		for c := range 3 {
			l[i][c] += k * m[i][c]
		}
	}
}

// tracer is a scene made ready for tracing. It's read-only while it works.
type tracer struct {
	tree      *tree
	facets    []facet // in the tree's order
	parts     []part
	materials []material
	lamps     []Lamp
	pictures  []pictureOf // what the entries of a light are
	first     []int       // first picture of each lamp
	// seen[picture][colour] is what the sensor reads from a surface of that
	// palette colour that returns unit radiance of a white under the lamp.
	seen    [maxPictures][][3]float32
	palette []spectrum
	white   int // the palette's perfect white
	// sensing[picture][channel][band] is the same before it's summed over a colour.
	sensing [maxPictures][3]spectrum
	// hush is the mean light that comes from the room itself (indirect
	// radiance of a white), for reflections of reflections.
	hush light
}

// pictureOf says which lamp a picture is of, and which of its spectra.
type pictureOf struct{ lamp, node int }

func newTracer(b *builder, materials []material, palette []spectrum, white int, lamps []Lamp, sensor [3]spectrum) *tracer {
	t := &tracer{tree: buildTree(b.tris), parts: b.parts, materials: materials, lamps: lamps, palette: palette, white: white}
	t.facets = make([]facet, len(b.facets))
	for i, o := range t.tree.order {
		t.facets[i] = b.facets[o]
	}
	for l := range lamps {
		t.first = append(t.first, len(t.pictures))
		for n := range lamps[l].spectra {
			t.pictures = append(t.pictures, pictureOf{l, n})
		}
	}
	for i, p := range t.pictures {
		spd := lamps[p.lamp].spectra[p.node]
		for c := range 3 {
			for w := range bands {
				t.sensing[i][c][w] = sensor[c][w] * spd[w]
			}
		}
		t.seen[i] = make([][3]float32, len(palette))
		for k := range palette {
			t.seen[i][k] = t.sense(i, &palette[k])
		}
	}
	return t
}

// sense is the sensor's reading of a reflectance under picture i's lamp.
func (t *tracer) sense(i int, s *spectrum) (rgb [3]float32) {
	for c := range 3 {
		var sum float32
		for w := range bands {
			sum += t.sensing[i][c][w] * s[w]
		}
		rgb[c] = sum
	}
	return rgb
}

// lampPictures gives the pictures of a lamp as a range.
func (t *tracer) lampPictures(l int) (from, to int) {
	return t.first[l], t.first[l] + len(t.lamps[l].spectra)
}

// draw gives the numbers of one sample of one pixel: each dimension is a
// well-spread sequence over the samples, shifted at random from pixel to pixel.
type draw struct {
	seed  uint64
	i     int
	block *blockers
}

// blockers remembers for each lamp, and for first and later surfaces apart,
// the triangle that last stood in its light. It's a guess that saves time and
// changes no result.
type blockers [2][8]int32

func newBlockers() *blockers {
	b := new(blockers)
	for i := range b {
		for j := range b[i] {
			b[i][j] = -1
		}
	}
	return b
}

func (d draw) pair(dimension uint64) (u, v float32) {
	h := mix64(d.seed + dimension*0x9e3779b97f4a7c15)
	return spread(d.i, float32(h>>40)*(1.0/(1<<24)), float32(h>>16&0xffffff)*(1.0/(1<<24)))
}

// faint is the illuminance in lx under which a lamp is asked only now and then.
// The exposure puts grey at some 60 lx, so this is over 6 stops down.
const faint = 0.5

// spare decides whether a sample of illuminance e is worth a shadow ray, and
// gives what to multiply it by so that the mean stays: 0 = leave it out.
func (d draw) spare(e float32, dimension uint64) float32 {
	if e >= faint {
		return 1
	}
	p := max(e*(1/faint), 0.05)
	if u, _ := d.pair(dimension); u >= p {
		return 0
	}
	return 1 / p
}

// Dimensions of a sample; lamps take dimLamp + 8·depth + their number.
const (
	dimPixel   = 0
	dimReflect = 1
	dimBounce  = 2
	dimMirror  = 3
	dimLamp    = 64
	dimSpare   = 128
)

// spotAt reads the surface at a hit, as seen along d.
func (t *tracer) spotAt(o, d vec, h hit) (s spot) {
	q := &t.tree.tris[h.tri]
	f := &t.facets[h.tri]
	s.p = o.mad(h.t, d)
	s.ng = q.e1.cross(q.e2).unit()
	if s.ng.dot(d) > 0 {
		s.ng = s.ng.neg()
	}
	s.n = f.n0.mul(1 - h.u - h.v).add(f.n1.mul(h.u)).add(f.n2.mul(h.v)).unit()
	if s.n.dot(s.ng) < 0 {
		s.n = s.n.neg()
	}
	s.along = f.tangent
	p := &t.parts[f.part]
	s.q = p.frame.inside(s.p)
	s.seed = p.seed
	s.metal, s.lamp = -1, -1
	for i := range s.tints {
		s.tints[i].colour = t.white
	}
	t.materials[f.material].paint(&s, p.frame)
	// A normal that looks away from the viewer would make a black rim.
	if k := s.n.dot(d); k > -0.02 && s.along == (vec{}) {
		s.n = s.n.mad(-(k + 0.02), d).unit()
	}
	return s
}

// offset is how far rays start off a surface: far above float32's step at 5 m.
const offset = 4e-5

// reflectBelow is the roughness under which a reflected ray is traced; above
// it the lamps' highlights come from the lamp samples alone.
const reflectBelow = 0.32

// shade adds to out the light that leaves h toward the viewer. round is the
// radiance a white there gets from the room (indirect light), for each picture.
func (t *tracer) shade(o, d vec, h hit, dr draw, round *light, depth int, out *light) {
	s := t.spotAt(o, d, h)
	n := len(t.pictures)
	if s.lamp >= 0 {
		l, _ := t.lamps[s.lamp].face.seen(o, s.p, d)
		t.glow(int(s.lamp), l, out)
		return
	}
	if s.along != (vec{}) {
		t.shadeHair(&s, d, dr, round, depth, out)
		return
	}
	wo := d.neg()
	nv := max(s.n.dot(wo), 1e-3)
	keep := float32(1) // what the coat lets through to the body
	if s.metal < 0 && s.f0 > 0 {
		keep = 1 - s.f0 - (1-s.f0)*schlick(nv)
	}
	mirror := s.f0 > 0 && s.rough < reflectBelow && depth == 0
	rough := s.rough
	if depth > 0 {
		rough = max(rough, 0.25)
	}
	for l := range t.lamps {
		u, v := dr.pair(dimLamp + 8*uint64(depth) + uint64(l))
		ls, ok := t.lamps[l].face.sample(s.p, u, v)
		if !ok {
			continue
		}
		nl := s.n.dot(ls.dir)
		if nl <= 0 || s.ng.dot(ls.dir) <= 0 {
			continue
		}
		e := ls.l * nl / ls.pdf
		k := dr.spare(e, dimSpare+8*uint64(depth)+uint64(l))
		if k == 0 {
			continue
		}
		e *= k
		from, to := t.lampPictures(l)
		if t.tree.blocked(s.p.mad(offset, s.ng), ls.dir, 0, ls.dist*0.9995-offset, &dr.block[min(depth, 1)][l]) {
			continue
		}
		body := e * keep / math.Pi
		for _, k := range s.tints {
			if k.share == 0 {
				continue
			}
			w := body * k.share
			for i := from; i < to; i++ {
				c := &t.seen[i][k.colour]
				out[i][0] += w * c[0]
				out[i][1] += w * c[1]
				out[i][2] += w * c[2]
			}
		}
		if s.f0 > 0 {
			half := wo.add(ls.dir).unit()
			nh := max(s.n.dot(half), 0)
			dd := ggx(nh, rough)
			spec := e * dd * smithOver4(nl, nv, rough)
			if mirror {
				// Balance with the reflected ray that may meet the same lamp.
				pb := dd * smithG1(nv, rough) / (4 * nv)
				spec *= ls.pdf / (ls.pdf + pb)
			}
			t.reflectLight(&s, schlick(wo.dot(half)), spec, from, to, nil, out)
		}
	}
	for _, k := range s.tints {
		if k.share == 0 {
			continue
		}
		for i := range n {
			c, w := &t.seen[i][k.colour], &t.seen[i][t.white]
			out[i][0] += keep * k.share * round[i][0] * c[0] / w[0]
			out[i][1] += keep * k.share * round[i][1] * c[1] / w[1]
			out[i][2] += keep * k.share * round[i][2] * c[2] / w[2]
		}
	}
	if s.f0 == 0 {
		return
	}
	if !mirror {
		t.reflectLight(&s, 0.3*schlick(nv), 1, 0, n, &t.hush, out)
		return
	}
	t.reflect(&s, wo, nv, dr, depth, out)
}

// reflect traces one mirrored ray.
func (t *tracer) reflect(s *spot, wo vec, nv float32, dr draw, depth int, out *light) {
	n := len(t.pictures)
	u, v := dr.pair(dimReflect)
	x, y := basis(s.n)
	lv := vec{wo.dot(x), wo.dot(y), nv}
	m := visibleNormal(lv, s.rough, u, v)
	half := x.mul(m.x).add(y.mul(m.y)).add(s.n.mul(m.z))
	wi := half.mul(2 * wo.dot(half)).sub(wo)
	nl := s.n.dot(wi)
	if nl <= 0 || s.ng.dot(wi) <= 0 {
		return
	}
	k := schlick(wo.dot(half))
	gain := smithOver4(nl, nv, s.rough) * 4 * nl * nv / smithG1(nv, s.rough)
	o := s.p.mad(offset, s.ng)
	h, ok := t.tree.nearest(o, wi, 0, 100, layerAll)
	if !ok {
		return
	}
	var in light
	if lamp := t.lampAt(h); lamp >= 0 {
		l, pl := t.lamps[lamp].face.seen(o, o.mad(h.t, wi), wi)
		pb := ggx(max(s.n.dot(half), 0), s.rough) * smithG1(nv, s.rough) / (4 * nv)
		if pl > 0 {
			l *= pb / (pb + pl)
		}
		t.glow(lamp, l, &in)
	} else {
		// A weak mirror shows lamps always, the room by a sample now and then.
		if s.metal < 0 {
			p := min(1, 4*(s.f0+(1-s.f0)*k))
			if r, _ := dr.pair(dimMirror); r >= p {
				return
			}
			gain /= p
		}
		t.shade(o, wi, h, dr, &t.hush, depth+1, &in)
	}
	t.reflectLight(s, k, gain, 0, n, &in, out)
}

// lampAt says which lamp's face a hit is on, or −1.
func (t *tracer) lampAt(h hit) int {
	if m := int(t.facets[h.tri].material); m < len(t.lamps) {
		return m
	}
	return -1
}

// glow adds a lamp's own face at radiance l.
func (t *tracer) glow(lamp int, l float32, out *light) {
	from, to := t.lampPictures(lamp)
	for i := from; i < to; i++ {
		c := &t.seen[i][t.white]
		for k := range 3 {
			out[i][k] += l * c[k]
		}
	}
}

// reflectLight adds light mirrored at the surface with strength gain; k is the
// Fresnel rise. in is what arrives, or nil for unit radiance of each lamp.
func (t *tracer) reflectLight(s *spot, k, gain float32, from, to int, in, out *light) {
	for i := from; i < to; i++ {
		w := &t.seen[i][t.white]
		for c := range 3 {
			var r float32
			if s.metal >= 0 {
				m := t.seen[i][s.metal][c]
				r = s.f0 * (m + (w[c]-m)*k)
			} else {
				r = w[c] * (s.f0 + (1-s.f0)*k)
			}
			if in != nil {
				r *= in[i][c] / w[c]
			}
			out[i][c] += gain * r
		}
	}
}
