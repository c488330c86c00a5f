package light

import "math"

// exchange.go lets the patches give each other their light until it has died away.

// exchange finds what patches see of each other, and each patch's exitance for
// each lamp at full level.
func (s *Scene) exchange() {
	n := len(s.patches)
	s.raw = make([]float64, n*n)
	parallel(n, func(i int) {
		a := &s.patches[i]
		s.factors(a.at, a.n, Whole, s.raw[i*n:(i+1)*n])
	})
	s.reciprocal()
	s.lit, s.uneven = make([][]float64, len(s.lamps)), make([][][]float64, len(s.lamps))
	s.exitance = make([][]float64, len(s.lamps))
	s.mask()
	s.passOn()
}

// reciprocal makes patches give each other what they take: Aᵢ·Fᵢⱼ = Aⱼ·Fⱼᵢ, of
// which the smaller patch's middle tells more truly, for it stands for less; and
// every patch all that it gives (rows and columns scaled in turn: Sinkhorn,
// "Diagonal equivalence to matrices with prescribed row and column sums", 1967).
func (s *Scene) reciprocal() {
	n := len(s.patches)
	g := s.raw
	for i := range n {
		for j := range i {
			a, b := s.patches[i].area, s.patches[j].area
			v := a * g[i*n+j]
			if w := b * g[j*n+i]; b < a*0.999 {
				v = w
			} else if a >= b*0.999 {
				v = (v + w) / 2
			}
			g[i*n+j], g[j*n+i] = v, v
		}
		g[i*n+i] = 0
	}
	scale := make([]float64, n)
	for range evenings {
		for i := range n {
			sum := 0.0
			for _, v := range g[i*n : (i+1)*n] {
				sum += v
			}
			scale[i] = 1
			if sum > 0 {
				scale[i] = math.Sqrt(s.patches[i].area / sum)
			}
		}
		for i := range n {
			for j := range n {
				g[i*n+j] *= scale[i] * scale[j]
			}
		}
	}
	for i := range n {
		for j := range n {
			g[i*n+j] /= s.patches[i].area
		}
	}
}

// evenings is how often reciprocal scales: what is left is under a hundredth.
const evenings = 10

// mask finds the lamps' bodies and takes what they hide out of the exchange.
func (s *Scene) mask() {
	s.makeBodies()
	n := len(s.patches)
	s.shares = append([]float64(nil), s.raw...)
	parallel(n, func(i int) { s.hide(s.patches[i].at, s.shares[i*n:(i+1)*n]) })
}

// passOn finds the patches' direct light and exitance for the lamps that have
// none yet.
func (s *Scene) passOn() {
	n, shares := len(s.patches), s.shares
	var fresh []int
	for l := range s.lamps {
		if s.lit[l] == nil {
			s.lit[l], s.uneven[l] = make([]float64, n), make([][]float64, n)
			fresh = append(fresh, l)
		}
	}
	parallel(n, func(i int) {
		for _, l := range fresh {
			s.lit[l][i], s.uneven[l][i] = s.litPatch(l, &s.patches[i])
		}
	})
	for _, l := range fresh {
		s.keepFlux(l)
	}
	parallel(len(s.lamps), func(l int) {
		if s.exitance[l] != nil {
			return
		}
		first := make([]float64, n)
		for i := range first {
			first[i] = s.patches[i].reflectance * s.lit[l][i]
		}
		b := append([]float64(nil), first...)
		for range mostSweeps {
			change, most := 0.0, 0.0
			for i := range b { // Gauss–Seidel: each sweep uses what it has found
				row := shares[i*n : (i+1)*n]
				var s0, s1, s2, s3 float64 // four sums: the processor adds them side by side
				j := 0
				for ; j+4 <= len(row); j += 4 {
					r, c := row[j:j+4:j+4], b[j:j+4:j+4]
					s0 += r[0] * c[0]
					s1 += r[1] * c[1]
					s2 += r[2] * c[2]
					s3 += r[3] * c[3]
				}
				for ; j < len(row); j++ {
					s0 += row[j] * b[j]
				}
				v := first[i] + s.patches[i].reflectance*((s0+s1)+(s2+s3))
				change = math.Max(change, math.Abs(v-b[i]))
				most = math.Max(most, v)
				b[i] = v
			}
			if change <= 1e-3*most {
				break
			}
		}
		s.exitance[l] = b
	})
}

// mostSweeps bounds the passing on; a sweep leaves at most the reflectance of
// what the one before changed.
const mostSweeps = 200
