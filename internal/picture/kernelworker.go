package picture

// worker does bands of rows of a frame, with memory of its own.
type worker struct {
	k       *Kernel
	wide    *wide    // nil in a portable kernel
	a, b    pixelRow // of the wide form
	c, d    laneRow  // of the portable one
	cb, cr  []int16
	mixed   [2][]int32 // of Cb and Cr, with room for whole blocks
	marks   marks
	exactly *exactly
	noise   [3][]int16
	unity   []uint16 // the gain of a frame without vignette
	spare   []uint16 // luma codes that belong to another band
	sums    [3]sums  // rows y−1, y and y+1 of chroma's horizontal filter, in turn
}

func newWorker(k *Kernel) *worker {
	n := padded(k.in.Width + 1)
	w := &worker{
		k: k, cb: make([]int16, n), cr: make([]int16, n), mixed: [2][]int32{make([]int32, n+block), make([]int32, n+block)},
		marks: make(marks, n/block), exactly: newExactly(k), unity: make([]uint16, n), spare: make([]uint16, n),
	}
	for i := range w.unity {
		w.unity[i] = 1 << 15
	}
	for i := range w.noise {
		w.noise[i] = make([]int16, n)
	}
	if k.simd {
		w.wide = newWide(k)
		w.a, w.b = make(pixelRow, n/block), make(pixelRow, n/block)
	} else {
		w.c, w.d = make(laneRow, n/block), make(laneRow, n/block)
	}
	ocw, _ := k.out.ChromaSize()
	for i := range w.sums {
		w.sums[i] = newSums(padded(ocw), k.simd)
	}
	return w
}

func (w *worker) run() {
	k := w.k
	defer k.wait.Done()
	exact := 0
	pixels := 0
	for {
		band := int(k.band.Add(1)) - 1
		if band >= bands(k.in.Height) {
			break
		}
		from := band * bandRows
		to := min(from+bandRows, k.in.Height)
		exact += w.rows(from, to)
		pixels += (to - from) * k.in.Width
	}
	k.fast.Add(int64(pixels - exact))
	k.slow.Add(int64(exact))
}

// rows does rows from..to−1 of the frame, from even, and the chroma rows that
// belong to them.
func (w *worker) rows(from, to int) (exact int) {
	k := w.k
	height := k.in.Height
	_, ch := k.out.ChromaSize()
	if k.out.Sub != Sub420 {
		for y := from; y < to; y++ {
			exact += w.luma(y, 0, true)
			w.chroma(y, [3]int{0, 0, 0}, [3]int32{tapUnit, 0, 0})
		}
		return exact
	}
	// The row before the first is needed by the first chroma row where chroma
	// lies on luma's rows. It belongs to another band: its luma is not written.
	cosited := k.out.Siting == SiteTopLeft
	if cosited && from > 0 {
		w.luma(from-1, 0, false)
	}
	for y := from; y < to; y += 2 {
		exact += w.luma(y, 1, true)
		after := 1
		if y+1 < height {
			exact += w.luma(y+1, 2, true)
			after = 2
		}
		if cy := y / 2; cy < ch {
			if cosited {
				before := 0
				if y == 0 {
					before = 1
				}
				w.chroma(cy, [3]int{before, 1, after}, [3]int32{1, 2, 1})
			} else {
				w.chroma(cy, [3]int{1, after, after}, [3]int32{2, 2, 0})
			}
		}
		w.sums[0], w.sums[2] = w.sums[2], w.sums[0]
	}
	return exact
}

// luma does row y up to its luma codes, which are stored if write is set, and
// leaves its part of the chroma in sums[slot].
func (w *worker) luma(y, slot int, write bool) (exact int) {
	k := w.k
	f := k.from
	width := k.in.Width
	codes := f.Y[y*width:][:width]
	gain := w.unity
	if k.gain != nil {
		stride := padded(width + 1)
		gain = k.gain[y*stride:][:stride]
	}
	out := k.to.Y[y*width:][:width]
	if !write {
		out = w.spare[:width]
	}
	w.noiseRow(planeY, y, width)
	if w.wide != nil {
		return w.wideRow(out, w.sums[slot], codes, y, gain)
	}
	return w.portableRow(out, w.sums[slot], codes, y, gain)
}

func (w *worker) portableRow(out []uint16, s sums, codes []uint16, y int, gain []uint16) (exact int) {
	in, f := w.k.input, w.k.from
	src, dst := w.c, w.d
	cb, cr := in.mixed(w.mixed[0], f.Cb, y), in.mixed(w.mixed[1], f.Cr, y)
	pairs := in.inPairs()
	if pairs {
		in.pairs(src, codes, w.mixed[0], w.mixed[1], w.marks)
	} else {
		in.spread(w.cb, cb)
		in.spread(w.cr, cr)
		in.row(src, codes, w.cb, w.cr, w.marks)
	}
	for _, step := range w.k.plan.steps {
		step.laneRow(dst, src, w.marks)
		src, dst = dst, src
	}
	if w.marks.any() {
		if pairs {
			in.spread(w.cb, cb)
			in.spread(w.cr, cr)
		}
		exact = exactRow(w.exactly, src, codes, w.cb, w.cr, w.marks)
	}
	w.k.output.row(out, s, src, gain, w.noise[planeY])
	return exact
}

func (w *worker) chroma(cy int, rows [3]int, weights [3]int32) {
	k := w.k
	cw, _ := k.out.ChromaSize()
	w.noiseRow(planeCb, cy, cw)
	w.noiseRow(planeCr, cy, cw)
	cb, cr, picked := k.to.Cb[cy*cw:][:cw], k.to.Cr[cy*cw:][:cw], [3]sums{w.sums[rows[0]], w.sums[rows[1]], w.sums[rows[2]]}
	if w.wide != nil {
		w.wide.chromaOut(k.output, cb, cr, picked, weights, w.noise[planeCb], w.noise[planeCr])
	} else {
		k.output.chroma(cb, cr, [3][]uint64{picked[0].lanes, picked[1].lanes, picked[2].lanes}, weights, w.noise[planeCb], w.noise[planeCr])
	}
}

func (w *worker) noiseRow(plane, y, n int) {
	o, row, frame := w.k.program.Output, w.noise[plane][:n], w.k.from.Index
	if w.wide != nil {
		w.wide.noise(o, row, plane, y, frame)
		return
	}
	o.noiseRow(row, plane, y, frame)
}
