package picture

// perChannel is three functions of one channel each, as a table of every u: an
// analytic stretch that does not mix channels is evaluated by it without
// interpolation, and a change of domain too.
type perChannel struct {
	in, out domain
	table   [3]*[1 << 16]uint16
	// outside says which u have a result outside the output domain. It is set
	// only where that matters: before a 3-D LUT at part strength, whose result
	// depends on the input that its grid does not hold.
	outside [3]*[1 << 16]bool
}

// newPerChannel samples f, which must treat the channels apart. next is the LUT
// that its result goes to, if any.
func newPerChannel(in, out domain, f func([3]float64) [3]float64, next *LUT3D) *perChannel {
	r := &perChannel{in: in, out: out}
	strict, ahead, top := false, uint16(0), uint16(displayTop)
	if next != nil {
		strict, ahead, top = next.Strength != 1, cutHalf(next), domainTop
	}
	for ch := range r.table {
		r.table[ch] = new([1 << 16]uint16)
		if strict {
			r.outside[ch] = new([1 << 16]bool)
		}
	}
	eachRow(1<<16, func(i int) {
		u := uint16(i)
		v := f(in.value([3]uint16{u, u, u}))
		code, _ := out.code(v)
		for ch := range code {
			r.table[ch][i] = min(code[ch], top-ahead) + ahead
			if strict {
				t := out.part(ch, v[ch])
				r.outside[ch][i] = t < 0 || t > 1
			}
		}
	})
	// Channels alike share a table, which then stays in the cache.
	for ch := 1; ch < 3; ch++ {
		if !strict && *r.table[ch] == *r.table[0] {
			r.table[ch] = r.table[0]
		}
	}
	return r
}

func (r *perChannel) row(dst, src []pixels, m marks) {
	for i := range src {
		d, s := &dst[i], &src[i]
		for x := range block {
			d.r[x] = r.table[0][s.r[x]]
			d.g[x] = r.table[1][s.g[x]]
			d.b[x] = r.table[2][s.b[x]]
		}
		if r.outside[0] == nil {
			continue
		}
		for x := range block {
			if r.exact([3]uint16{s.r[x], s.g[x], s.b[x]}) {
				m[i] |= 1 << x
			}
		}
	}
}

func (r *perChannel) laneRow(dst, src laneRow, m marks) {
	red, green, blue := r.table[0], r.table[1], r.table[2]
	for i := range src {
		d, s := &dst[i], &src[i]
		for x, v := range s {
			d[x] = pack3(uint64(red[uint16(v)]), uint64(green[uint16(v>>laneG)]), uint64(blue[uint16(v>>laneB)]))
		}
		if r.outside[0] == nil {
			continue
		}
		for x, v := range s {
			if r.exact(unpack3(v)) {
				m[i] |= 1 << x
			}
		}
	}
}

func (r *perChannel) at(u [3]uint16) [3]uint16 {
	return [3]uint16{r.table[0][u[0]], r.table[1][u[1]], r.table[2][u[2]]}
}

func (r *perChannel) exact(u [3]uint16) bool {
	return r.outside[0] != nil && (r.outside[0][u[0]] || r.outside[1][u[1]] || r.outside[2][u[2]])
}
