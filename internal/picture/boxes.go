package picture

import "sync"

// Boxes makes a small picture of a frame: each k×k box of pixels is the mean of
// their R′G′B′ (E′, as RGB gives it). Width and height are the frame's over k,
// rounded down and 1 at least; what is left over at the right and the bottom
// isn't looked at. k is 1 or more.
//
// The way from codes to E′ is linear, so the codes are summed as whole numbers
// first: the same as the mean of RGB up to the rounding of the last bit.
func (f *Frame) Boxes(k int) *Image {
	w, h := max(1, f.Width/k), max(1, f.Height/k)
	out := NewImage(w, h, SpaceSignal)
	across, down := boxTaps(f.Format, true), boxTaps(f.Format, false)
	toRGB := f.Matrix.ToRGB()
	kx, ky := min(k, f.Width), min(k, f.Height)
	one := 1 / float64(kx*ky)
	lines := sync.Pool{New: func() any { return newBoxLines(f, w) }}
	eachRow(h, func(y int) {
		l := lines.Get().(*boxLines)
		defer lines.Put(l)
		clear(l.y)
		clear(l.cb)
		clear(l.cr)
		for row := y * k; row < y*k+ky; row++ {
			l.add(f, row, kx, across, down[row])
		}
		for x := range w {
			out.Set(x, y, toRGB.Apply([3]float64{
				f.Range.LumaFromCode(float64(l.y[x])*one, f.Bits),
				f.Range.ChromaFromCode(float64(l.cb[x])*one/(tapUnit*tapUnit), f.Bits),
				f.Range.ChromaFromCode(float64(l.cr[x])*one/(tapUnit*tapUnit), f.Bits),
			}))
		}
	})
	return out
}

// boxTaps gives the chroma taps of each column or row (see chromaTaps).
func boxTaps(f Format, across bool) [][2]tap {
	n := f.Height
	if across {
		n = f.Width
	}
	out := make([][2]tap, n)
	for i := range out {
		if across {
			out[i], _ = chromaTaps(f, i, 0)
		} else {
			_, out[i] = chromaTaps(f, 0, i)
		}
	}
	return out
}

// boxLines are the sums of a row of boxes: luma in codes, chroma in sixteenths
// of one; and a chroma line mixed from two. 64 bits hold 2¹⁶ times 16 of as many
// pixels as a frame has (MaxSide squared is 2²⁸).
type boxLines struct {
	y, cb, cr []int64
	mixed     [2][]int32
}

func newBoxLines(f *Frame, w int) *boxLines {
	cw, _ := f.ChromaSize()
	return &boxLines{make([]int64, w), make([]int64, w), make([]int64, w), [2][]int32{make([]int32, cw), make([]int32, cw)}}
}

// add sums a row of the frame's pixels, kx columns a box.
func (l *boxLines) add(f *Frame, row, kx int, across [][2]tap, v [2]tap) {
	cw, _ := f.ChromaSize()
	for i, plane := range [2][]uint16{f.Cb, f.Cr} {
		a, b := plane[v[0].at*cw:][:cw], plane[v[1].at*cw:][:cw]
		wa, wb := int32(v[0].weight), int32(v[1].weight)
		m := l.mixed[i][:cw]
		for x := range m {
			m[x] = wa*int32(a[x]) + wb*int32(b[x])
		}
	}
	luma := f.Y[row*f.Width:][:f.Width]
	cb, cr := l.mixed[0], l.mixed[1]
	at := 0
	for x := range l.y {
		var sy, sb, sr int64
		for range kx {
			t := across[at]
			w0, w1 := int64(t[0].weight), int64(t[1].weight)
			sy += int64(luma[at])
			sb += w0*int64(cb[t[0].at]) + w1*int64(cb[t[1].at])
			sr += w0*int64(cr[t[0].at]) + w1*int64(cr[t[1].at])
			at++
		}
		l.y[x] += sy
		l.cb[x] += sb
		l.cr[x] += sr
	}
}
