//go:build amd64 && !purego

package picture

import "golang.org/x/sys/cpu"

//go:generate go -C asm run . -out ../simd_amd64.s -stubs ../simdstub_amd64.go -pkg picture
//go:generate go test lampwise -run TestGeneratedCodeIsFresh -update-sums

// buildHasWide says that the wide forms are compiled in.
const buildHasWide = true

var simdAvailable = cpu.X86.HasAVX2

// group is how many 16-bit numbers the wide instructions do at once.
const group = 16

// wide is what a worker needs for the wide forms of the inner loops. Where a
// form does not cover a case (deep codes, unhalved chroma, the ends of rows)
// the portable one does it; both compute the same integers.
type wide struct {
	mixed []int16    // a row of chroma mixed downwards, from mixed[1] on
	v     [3][]int16 // a row after vignette and limiter, from v[front] on
	all   []int16    // the memory of v
	tail  [block]uint16
	spare lanes

	input, mix, spread, output, filter, chroma [16]int32
	inputFits                                  bool
}

// front is the room before the first pixel of v.
const front = group

func newWide(k *Kernel) *wide {
	n := padded(k.in.Width + 1)
	cw, _ := k.in.ChromaSize()
	stride := front + n + group
	w := &wide{mixed: make([]int16, padded(cw+2)+2*group), all: make([]int16, 3*stride)}
	for i := range w.v {
		w.v[i] = w.all[i*stride : (i+1)*stride : (i+1)*stride]
	}
	w.setInput(k.input)
	w.setOutput(k.output)
	return w
}

// pair is two 16-bit numbers as the multiply-and-add instruction takes them.
func pair(lo, hi int32) int32 { return int32(uint32(lo)&0xffff | uint32(hi)<<16) }

func (w *wide) setInput(in *input) {
	bits := in.format.Bits
	left := int32(max(0, lumaBits-bits))
	luma := in.luma >> left // the coefficient of 15-bit luma
	w.inputFits = luma < 1<<15
	for _, c := range []int32{in.crR, in.cbG, in.crG, in.cbB} {
		w.inputFits = w.inputFits && max(c, -c) < 1<<15
	}
	top := int32(1)<<bits - 1
	w.input = [16]int32{pair(luma, in.crR), pair(luma, in.cbB), pair(luma, in.crG), pair(0, in.cbG), in.bias, top, left, in.drop}
	w.mix = [16]int32{top, 0, 0, tapUnit << (bits - 1)}
	up, _, _ := in.spreadShift()
	w.spread = [16]int32{4, 0, 2, 2, int32(up)}
	if in.format.Siting == SiteCentre {
		w.spread = [16]int32{3, 1, 3, 1, int32(up)}
	}
}

func (w *wide) setOutput(o *output) {
	noise := int32(o.shift - noiseBits)
	w.output = [16]int32{int32(2 * o.zero), -o.low, o.high, pair(o.y[0], o.y[1]), pair(o.y[2], 0), o.bias[0], 16 - noise, int32(o.shift), o.min, o.max}
	w.filter = [16]int32{pair(2, 1), pair(1, 0)}
	if o.midway {
		w.filter = [16]int32{pair(2, 2), 0}
	}
	w.chroma = [16]int32{
		0, 0, 0, o.cb[0], o.cb[1], o.cb[2], o.bias[1], o.cr[0], o.cr[1], o.cr[2], o.bias[2],
		noise, int32(o.shift), o.min, o.max,
	}
}

// wideRow is portableRow by the wide forms.
func (w *worker) wideRow(out []uint16, s sums, codes []uint16, y int, gain []uint16) (exact int) {
	in, f := w.k.input, w.k.from
	src, dst := w.a, w.b
	w.wide.chromaIn(in, w.cb, w.mixed[0], f.Cb, y)
	w.wide.chromaIn(in, w.cr, w.mixed[0], f.Cr, y)
	w.wide.rowIn(in, src, codes, w.cb, w.cr, w.marks)
	for _, step := range w.k.plan.steps {
		w.wide.step(step, dst, src, w.marks)
		src, dst = dst, src
	}
	exact = exactRow(w.exactly, src, codes, w.cb, w.cr, w.marks)
	w.wide.rowOut(w.k.output, out, s, src, gain, w.noise[planeY])
	return exact
}

func (w *wide) chromaIn(in *input, dst []int16, spare []int32, plane []uint16, y int) {
	f := in.format
	if f.Bits > 10 || f.Sub == Sub444 {
		in.chroma(dst, spare, plane, y)
		return
	}
	cw, _ := f.ChromaSize()
	v := in.chromaRows(y)
	a, b := plane[v[0].at*cw:][:cw], plane[v[1].at*cw:][:cw]
	n := cw / group
	if n > 0 {
		w.mix[1], w.mix[2] = int32(v[0].weight), int32(v[1].weight)
		mixAVX2(&w.mixed[1], &a[0], &b[0], n, &w.mix[0])
	}
	in.mix(spare, a[n*group:], b[n*group:], int32(v[0].weight), int32(v[1].weight))
	for i := range cw - n*group {
		w.mixed[1+n*group+i] = int16(spare[i])
	}
	w.mixed[0], w.mixed[cw+1] = w.mixed[1], w.mixed[cw]
	// The rows are padded: the last group may go past the end.
	spreadAVX2(&dst[0], &w.mixed[0], (cw+group-1)/group, &w.spread[0])
}

func (w *wide) rowIn(in *input, dst []pixels, y []uint16, cb, cr []int16, m marks) {
	if !w.inputFits {
		w.portableIn(in, dst, y, cb, cr, m)
		return
	}
	for i := range blocks(len(y)) {
		from := i * block
		codes := y[from:]
		if len(codes) < block {
			copy(w.tail[:], codes)
			codes = w.tail[:]
		}
		if inputAVX2(&dst[i].r[0], &codes[0], &cb[from], &cr[from], &w.input[0]) != 0 && !in.held {
			n := min(block, len(y)-from)
			m[i] |= in.block(&w.spare, y[from:from+n], cb[from:from+n], cr[from:from+n])
			w.spare.toPixels(&dst[i])
		}
	}
}

// portableIn is rowIn by the portable form.
func (w *wide) portableIn(in *input, dst []pixels, y []uint16, cb, cr []int16, m marks) {
	for i := range blocks(len(y)) {
		from := i * block
		n := min(block, len(y)-from)
		beyond := in.block(&w.spare, y[from:from+n], cb[from:from+n], cr[from:from+n])
		if !in.held {
			m[i] |= beyond
		}
		w.spare.toPixels(&dst[i])
	}
}

func (w *wide) step(s step, dst, src []pixels, m marks) {
	c, ok := s.(*cube)
	if !ok || c.trilinear {
		s.row(dst, src, m)
		return
	}
	for i := range src {
		if cubeAVX2(&dst[i].r[0], &src[i].r[0], &c.nodes[0], &c.dir[0], &c.params[0])>>31 != 0 {
			m[i] |= c.marked(&src[i])
		}
	}
}

func (w *wide) rowOut(o *output, y []uint16, s sums, src []pixels, gain []uint16, noise []int16) {
	stride := 2 * len(w.v[0])
	for i := range blocks(len(y)) {
		from := i * block
		codes := y[from:]
		if len(codes) < block {
			codes = w.tail[:]
		}
		finishAVX2(&codes[0], &w.v[0][front+from], stride, &src[i].r[0], &gain[from], &noise[from], &w.output[0])
		if len(y)-from < block {
			copy(y[from:], codes)
		}
	}
	for ch, line := range [3][]int32{s.r, s.g, s.b} {
		v := w.v[ch]
		if o.format.Sub == Sub444 {
			for x := range y {
				line[x] = tapUnit * int32(v[front+x])
			}
			continue
		}
		v[front-1], v[front+len(y)] = v[front], v[front+len(y)-1]
		columns := (len(y) + 1) / 2
		filterAVX2(&line[0], &v[front], (columns+group/2-1)/(group/2), &w.filter[0])
	}
}

func (w *wide) chromaOut(o *output, cb, cr []uint16, rows [3]sums, weights [3]int32, noiseCb, noiseCr []int16) {
	n := len(cb) / (group / 2)
	if n > 0 {
		copy(w.chroma[:], weights[:])
		stride := 4 * cap(rows[0].r)
		chromaAVX2(&cb[0], &cr[0], &rows[0].r[0], &rows[1].r[0], &rows[2].r[0], stride, &noiseCb[0], &noiseCr[0], n, &w.chroma[0])
	}
	// What is left, less than a group, in the portable form.
	from := n * (group / 2)
	var rest [3][]uint64
	var room [3][group / 2]uint64
	offset := tapUnit * o.offset()
	for i, row := range rows {
		rest[i] = room[i][:len(cb)-from]
		for k := range rest[i] {
			at := from + k
			rest[i][k] = pack3(uint64(row.r[at]+offset), uint64(row.g[at]+offset), uint64(row.b[at]+offset))
		}
	}
	o.chroma(cb[from:], cr[from:], rest, weights, noiseCb[from:], noiseCr[from:])
}

func (w *wide) noise(o Output, row []int16, plane, y, frame int) {
	if o.Dither != DitherTriangular {
		o.noiseRow(row, plane, y, frame)
		return
	}
	// Rows are padded to whole groups.
	triangularAVX2(&row[0], o.rowKey(plane, y, frame), (len(row)+group-1)/group)
}
