package gauge

import (
	"unsafe"

	"lampwise/internal/picture"
)

// View is what a Viewer took from one frame. Its slices are reused: they are
// good until the Viewer's next Look, those of Before until the one after.
type View struct {
	Frame *picture.Frame // the frame itself; only for the time of Add
	picture.Format
	Index int
	Time  float64 // s

	Step int // every Step-th pixel of every Step-th row was taken
	W, H int // samples across and down

	// Codes of the samples. Chroma is the sample that lies nearest on the left
	// and above, not interpolated; Plain says that it was left out.
	Y, Cb, Cr []uint16
	Plain     bool
	// Mean luma code of the Step×Step block whose corner the sample is. The last
	// block of a row or column is larger where the size is no multiple.
	Mean []float32

	// Before is the frame before this one in the clip, nil where that was not
	// looked at. Its Frame is nil.
	Before *View

	e [3][]float32
	k bool // e is filled
}

// Viewer takes samples. Its zero value is ready; Step 0 chooses 4, and less
// for frames so small that fewer than about 320 columns would remain.
type Viewer struct {
	Step  int
	views [2]View
	n     int
}

const (
	usualStep    = 4
	leastColumns = 320
)

// Look takes samples from a frame. All frames of a Viewer have one format.
func (v *Viewer) Look(f *picture.Frame) *View { return v.look(f, false) }

// LookPlain is Look without chroma, for what wants luma alone.
func (v *Viewer) LookPlain(f *picture.Frame) *View { return v.look(f, true) }

func (v *Viewer) look(f *picture.Frame, plain bool) *View {
	now, before := &v.views[v.n%2], &v.views[(v.n+1)%2]
	before.Frame, before.Before = nil, nil
	now.take(f, v.step(f.Width), plain)
	if v.n > 0 && before.Format == f.Format && f.Index == before.Index+1 {
		now.Before = before
	}
	v.n++
	return now
}

func (v *Viewer) step(width int) int {
	if v.Step > 0 {
		return v.Step
	}
	return min(max(width/leastColumns, 1), usualStep)
}

func (v *View) take(f *picture.Frame, step int, plain bool) {
	w, h := max(f.Width/step, 1), max(f.Height/step, 1)
	if n := w * h; len(v.Y) != n {
		v.Y, v.Cb, v.Cr = make([]uint16, n), make([]uint16, n), make([]uint16, n)
		v.Mean = make([]float32, n)
	}
	v.Frame, v.Format, v.Index, v.Time = f, f.Format, f.Index, f.Time
	v.Step, v.W, v.H, v.Before, v.k, v.Plain = step, w, h, nil, false, plain
	cw, ch := f.ChromaSize()
	for y := range h {
		at := y * w
		fy := y * step
		if !plain {
			v.chroma(f, y, at, cw, ch)
		}
		y1 := fy + step
		if y == h-1 {
			y1 = f.Height
		}
		if step == 4 && y1 == fy+4 && f.Width >= 4*w && f.Bits <= laneBits {
			v.blocks4(f, y)
			continue
		}
		row := f.Y[fy*f.Width : (fy+1)*f.Width]
		for x := range w {
			v.Y[at+x] = row[x*step]
		}
		v.blocks(f, y, y1)
	}
}

// chroma takes a row of samples of both chroma planes, of cw×ch samples.
func (v *View) chroma(f *picture.Frame, y, at, cw, ch int) {
	step, w := v.Step, v.W
	cy := y * step
	if f.Sub == picture.Sub420 {
		cy = min(cy/2, ch-1)
	}
	rb, rr := f.Cb[cy*cw:(cy+1)*cw], f.Cr[cy*cw:(cy+1)*cw]
	db, dr := v.Cb[at:at+w], v.Cr[at:at+w]
	if f.Sub == picture.Sub444 {
		for x := range w {
			db[x], dr[x] = rb[x*step], rr[x*step]
		}
	} else {
		for x := range w {
			c := x * step >> 1
			db[x], dr[x] = rb[c], rr[c]
		}
	}
}

// blocks fills Mean of one row of blocks that ends above row y1.
func (v *View) blocks(f *picture.Frame, y, y1 int) {
	for x := range v.W {
		x0, x1 := x*v.Step, (x+1)*v.Step
		if x == v.W-1 {
			x1 = f.Width
		}
		v.block(f, y*v.W+x, x0, y*v.Step, x1, y1)
	}
}

func (v *View) block(f *picture.Frame, at, x0, y0, x1, y1 int) {
	sum := 0
	for y := y0; y < y1; y++ {
		for _, c := range f.Y[y*f.Width+x0 : y*f.Width+x1] {
			sum += int(c)
		}
	}
	v.Mean[at] = float32(sum) / float32((x1-x0)*(y1-y0))
}

// blocks4 is blocks for whole blocks of 4×4, where nearly all time would go; it
// takes the row's samples along, each block's first code. Four codes are added at once in the lanes of a 64-bit word: four rows of codes
// below 2^14 fit into a lane of 16 bits.
func (v *View) blocks4(f *picture.Frame, y int) {
	w := f.Width
	r0, r1, r2, r3 := fours(f.Y[4*y*w:][:w]), fours(f.Y[(4*y+1)*w:][:w]), fours(f.Y[(4*y+2)*w:][:w]), fours(f.Y[(4*y+3)*w:][:w])
	mean := v.Mean[y*v.W:][:v.W]
	r0, r1, r2, r3 = r0[:len(mean)], r1[:len(mean)], r2[:len(mean)], r3[:len(mean)]
	sample := v.Y[y*v.W:][:len(mean)]
	const even = 0x0000ffff0000ffff
	for x := range mean {
		first := r0[x]
		sample[x] = uint16(first >> firstLane)
		lanes := first + r1[x] + r2[x] + r3[x]
		pairs := lanes&even + lanes>>16&even
		mean[x] = float32(uint32(pairs)+uint32(pairs>>32)) * (1.0 / 16)
	}
	if w%4 != 0 {
		v.block(f, y*v.W+v.W-1, 4*(v.W-1), 4*y, w, 4*y+4)
	}
}

// firstLane is where the first of four codes lies in a word: lowest where bytes
// are in the order of most processors.
var firstLane = func() uint {
	word := uint64(1)
	if *(*uint16)(unsafe.Pointer(&word)) == 1 {
		return 0
	}
	return 48
}()

// laneBits is the depth up to which four codes fit into a lane.
const laneBits = 14

// fours reads a row four codes at a time.
func fours(row []uint16) []uint64 {
	return unsafe.Slice((*uint64)(unsafe.Pointer(unsafe.SliceData(row))), len(row)/4)
}

// E returns R′, G′ and B′ of the samples as E′ (0 = black, 1 = white of the
// frame's range, not clamped). It is worked out once for each frame.
func (v *View) E() [3][]float32 {
	if v.k {
		return v.e
	}
	if len(v.e[0]) != len(v.Y) {
		for c := range v.e {
			v.e[c] = make([]float32, len(v.Y))
		}
	}
	m := codeToE(v.Format)
	r, g, b := v.e[0], v.e[1][:len(v.e[0])], v.e[2][:len(v.e[0])]
	ys, cbs, crs := v.Y[:len(r)], v.Cb[:len(r)], v.Cr[:len(r)]
	for i := range r {
		r[i], g[i], b[i] = m.rgb(ys[i], cbs[i], crs[i])
	}
	v.k = true
	return v.e
}

// eMatrix takes codes to R′G′B′ as E′ in one step.
type eMatrix struct{ y, y0, rCr, r0, gCb, gCr, g0, bCb, b0 float32 }

func codeToE(f picture.Format) eMatrix {
	m := f.Matrix.ToRGB()
	ys, yo := f.Range.LumaScale(f.Bits)
	cs, co := f.Range.ChromaScale(f.Bits)
	k := func(v float64) float32 { return float32(v) }
	return eMatrix{
		y: k(1 / ys), y0: k(-yo / ys),
		rCr: k(m[0][2] / cs), r0: k(-yo/ys - m[0][2]*co/cs),
		gCb: k(m[1][1] / cs), gCr: k(m[1][2] / cs), g0: k(-yo/ys - (m[1][1]+m[1][2])*co/cs),
		bCb: k(m[2][1] / cs), b0: k(-yo/ys - m[2][1]*co/cs),
	}
}

func (m *eMatrix) rgb(y, cb, cr uint16) (r, g, b float32) {
	fy, fb, fr := m.y*float32(y), float32(cb), float32(cr)
	return fy + (m.rCr*fr + m.r0), fy + (m.gCb*fb + m.gCr*fr + m.g0), fy + (m.bCb*fb + m.b0)
}

// luma is the luma as E′ of a code.
func (m *eMatrix) luma(code float32) float32 { return m.y*code + m.y0 }
