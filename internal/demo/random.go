package demo

import "math"

// random is a small counter-based generator: its stream depends only on its
// seed, so work can be shared among goroutines in any order. Mixing function:
// Steele, Lea & Flood, "Fast Splittable Pseudorandom Number Generators",
// OOPSLA 2014 (SplitMix64).
type random struct{ s uint64 }

func mix64(z uint64) uint64 {
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	return z ^ (z >> 31)
}

// seeded makes a stream from a seed and any number of labels.
func seeded(seed uint64, labels ...uint64) random {
	s := mix64(seed + 0x9e3779b97f4a7c15)
	for _, l := range labels {
		s = mix64(s ^ mix64(l+0x9e3779b97f4a7c15))
	}
	return random{s}
}

func (r *random) next() uint64 {
	r.s += 0x9e3779b97f4a7c15
	return mix64(r.s)
}

// float is even over 0..1, 1 left out.
func (r *random) float() float32 { return float32(r.next()>>40) * (1.0 / (1 << 24)) }

func (r *random) between(lo, hi float64) float64 {
	return lo + (hi-lo)*float64(r.next()>>11)/(1<<53)
}

// normal is a standard normal deviate (Box and Muller 1958).
func (r *random) normal() float64 {
	u := (float64(r.next()>>11) + 0.5) / (1 << 53)
	v := float64(r.next()>>11) / (1 << 53)
	return math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*v)
}

// The additive recurrence with the plastic number's powers spreads points
// evenly over the square (M. Roberts, "The Unreasonable Effectiveness of
// Quasirandom Sequences", 2018).
const (
	plastic1 = 0.7548776662466927
	plastic2 = 0.5698402909980532
)

// spread gives point i of the recurrence, shifted by (a, b) on the torus.
func spread(i int, a, b float32) (u, v float32) {
	x := float64(a) + float64(i)*plastic1
	y := float64(b) + float64(i)*plastic2
	return min(float32(x-math.Floor(x)), oneBelow), min(float32(y-math.Floor(y)), oneBelow)
}

// oneBelow is the largest float32 under 1.
const oneBelow = 1 - 1.0/(1<<24)

// hash3 gives 0..1 for a lattice point.
func hash3(x, y, z int32) float32 {
	h := uint32(x)*0x8da6b343 ^ uint32(y)*0xd8163841 ^ uint32(z)*0xcb1ab31f
	h ^= h >> 15
	h *= 0x2c1b3c6d
	h ^= h >> 12
	h *= 0x297a2d39
	h ^= h >> 15
	return float32(h>>8) * (1.0 / (1 << 24))
}

// valueNoise is smooth noise of −1..1 with features about one unit wide
// (trilinear mix of lattice values under a smooth step).
func valueNoise(p vec) float32 {
	fx, fy, fz := floor32(p.x), floor32(p.y), floor32(p.z)
	x, y, z := int32(fx), int32(fy), int32(fz)
	u, v, w := p.x-fx, p.y-fy, p.z-fz
	u, v, w = u*u*(3-2*u), v*v*(3-2*v), w*w*(3-2*w)
	l := func(a, b, t float32) float32 { return a + (b-a)*t }
	n := l(
		l(l(hash3(x, y, z), hash3(x+1, y, z), u), l(hash3(x, y+1, z), hash3(x+1, y+1, z), u), v),
		l(l(hash3(x, y, z+1), hash3(x+1, y, z+1), u), l(hash3(x, y+1, z+1), hash3(x+1, y+1, z+1), u), v), w)
	return 2*n - 1
}

// turbulence sums octaves of noise, each half as wide and half as strong.
func turbulence(p vec, octaves int) float32 {
	var sum, amp float32 = 0, 0.5
	for range octaves {
		sum += amp * valueNoise(p)
		p = vec{2.03*p.x + 17.1, 2.03*p.y - 3.7, 2.03*p.z + 8.3}
		amp *= 0.5
	}
	return sum
}

func floor32(x float32) float32 {
	i := float32(int32(x))
	if i > x {
		i--
	}
	return i
}
