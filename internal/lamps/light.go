package lamps

import (
	"runtime"
	"sync"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Light is a picture of scene-linear camera RGB at working size, with what is
// known of its samples.
type Light struct {
	*picture.Image
	// Clipped marks pixels under which any recorded sample was at the
	// recording's clip (W·H); nil when none was.
	Clipped []bool
	// Frames is the number of frames with independent noise that the picture
	// is the mean of: 1 for a still, 0 is read as 1.
	Frames float64
}

// The size a working picture may have.
const (
	minSide = 32   // below it a region has too few pixels to judge
	maxSide = 4096 // a whole 4K frame, should one want no reduction
)

// Check holds a picture against what everything here needs of it.
func (l *Light) Check() error {
	if err := l.checkShape(); err != nil {
		return err
	}
	for _, x := range l.Pix {
		if x-x != 0 { // NaN, as is the difference of two infinities
			return errNotFinite()
		}
	}
	return nil
}

func errNotFinite() error {
	return fault.New(fault.Input, "light-finite", "decode the clip again with the right curve", "a working picture holds a number that isn't finite")
}

func (l *Light) checkShape() error {
	if l.Image == nil || l.W < minSide || l.H < minSide || l.W > maxSide || l.H > maxSide {
		return fault.New(fault.Input, "light-size", "give a picture between 32 and 4096 pixels on each side", "a working picture has an unusable size")
	}
	if len(l.Pix) != 3*l.W*l.H || (l.Clipped != nil && len(l.Clipped) != l.W*l.H) {
		return fault.New(fault.Input, "light-size", "", "a working picture of %d×%d has %d samples", l.W, l.H, len(l.Pix))
	}
	return nil
}

// frames is the number of frames behind the picture, at least 1.
func (l *Light) frames() float64 { return max(l.Frames, 1) }

// MarkClipped marks every pixel that has a channel at or above level
// (scene-linear), for a picture that isn't an average of recorded samples.
func (l *Light) MarkClipped(level float64) {
	if l.Clipped == nil {
		l.Clipped = make([]bool, l.W*l.H)
	}
	for p := range l.Clipped {
		q := l.Pix[3*p : 3*p+3]
		if float64(max(q[0], q[1], q[2])) >= level {
			l.Clipped[p] = true
		}
	}
}

// grown marks every pixel within reach of a marked one: a clipped sample's
// neighbours are spoilt by the camera's sharpening and by chroma subsampling.
func grown(mask []bool, w, h, reach int) []bool {
	if mask == nil || reach <= 0 {
		return mask
	}
	across := make([]bool, len(mask))
	for y := range h {
		row := mask[y*w : y*w+w]
		for x, m := range row {
			if m {
				for k := max(0, x-reach); k <= min(w-1, x+reach); k++ {
					across[y*w+k] = true
				}
			}
		}
	}
	out := make([]bool, len(mask))
	for y := range h {
		for x := range w {
			if across[y*w+x] {
				for k := max(0, y-reach); k <= min(h-1, y+reach); k++ {
					out[k*w+x] = true
				}
			}
		}
	}
	return out
}

// inRows runs f on stretches of 0..h, on all processors.
func inRows(h int, f func(from, to int)) {
	n := min(runtime.GOMAXPROCS(0), h)
	if n <= 1 {
		f(0, h)
		return
	}
	var wait sync.WaitGroup
	for i := range n {
		from, to := i*h/n, (i+1)*h/n
		wait.Go(func() { f(from, to) })
	}
	wait.Wait()
}
