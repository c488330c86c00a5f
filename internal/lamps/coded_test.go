package lamps

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// A made camera's frames sent through a real encoder and back: chroma at half
// size, codes of 8 or 10 bits, and a codec that joins frames and smooths what
// it can't afford. Its errors are no noise, hang together over frames, places
// and channels, and are the ones that real footage has.

// coding is how a clip is recorded.
type coding struct {
	codec   media.Codec
	quality float64
	format  picture.Format
	enlarge int // recorded pixels for a working one, each way
}

func (c coding) String() string {
	s := "10-bit intra 4:2:2"
	if c.format.Bits == 8 {
		s = "8-bit long-GOP 4:2:0"
	}
	return s
}

// intra10 and long8 are the two usual kinds of recording.
func intra10(enlarge int) coding {
	return coding{codec: media.CodecIntermediate, quality: 12, enlarge: enlarge, format: picture.Format{Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteCentre}}
}

func long8(enlarge int) coding {
	return coding{codec: media.CodecH264, quality: 18, enlarge: enlarge, format: picture.Format{Bits: 8, Sub: picture.Sub420, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteCentre}}
}

// needEncoder skips a test where ffmpeg is absent.
func needEncoder(t testing.TB) {
	t.Helper()
	for _, p := range []string{"ffmpeg", "ffprobe"} {
		if _, err := exec.LookPath(p); err != nil {
			t.Skip(p + " is absent: nothing can be encoded")
		}
	}
}

// film records n frames of which light gives the scene's, and calls each with
// every frame as it comes back from the file, at working size.
func (c coding) film(t testing.TB, rng *rand.Rand, cam *madeCamera, n int, light func(i int) *picture.Image, each func(i int, l *Light)) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "clip.mov")
	var w *media.Writer
	var frame *picture.Frame
	for i := range n {
		l := light(i)
		if w == nil {
			c.format.Width, c.format.Height = l.W*c.enlarge, l.H*c.enlarge
			var err error
			w, err = media.NewWriter(t.Context(), path, media.WriteOptions{Format: c.format, Rate: media.Rational{Num: 25, Den: 1}, Codec: c.codec, Quality: c.quality, Speed: media.SpeedFastest, Threads: 1})
			if err != nil {
				t.Fatal(err)
			}
			frame = picture.NewFrame(c.format)
		}
		c.record(rng, cam, l, frame)
		frame.Index = i
		if err := w.Write(frame); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := media.OpenReader(t.Context(), path, media.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	back := picture.NewFrame(r.Format())
	for i := 0; ; i++ {
		if err := r.Next(back); errors.Is(err, io.EOF) {
			if i != n {
				t.Fatalf("%d frames come back of %d", i, n)
			}
			break
		} else if err != nil {
			t.Fatal(err)
		}
		each(i, c.play(cam, back))
	}
	r.Close()
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
}

// codeSteps is the fineness to which light is turned into codes and back here.
const codeSteps = 1 << 14

// record shoots one frame of light and writes its codes.
func (c coding) record(rng *rand.Rand, cam *madeCamera, light *picture.Image, f *picture.Frame) {
	fine := *cam
	fine.bits, fine.reduce = 14, 0
	if c.enlarge > 1 {
		light = stretched(light, c.enlarge)
	}
	shot := fine.shoot(rng, light)
	code := coderFor(cam.curve, 14)
	w, h := shot.W, shot.H
	top := float64(int(1)<<c.format.Bits - 1)
	scale := float64(int(1) << (c.format.Bits - 8))
	kr, kb := 0.2126, 0.0722 // BT.709
	cw, ch := c.format.ChromaSize()
	cb, cr := make([]float64, cw*ch), make([]float64, cw*ch)
	sx, sy := w/cw, h/ch
	for y := range h {
		for x := range w {
			p := y*w + x
			var e [3]float64
			for i := range 3 {
				e[i] = float64(code.index(shot.Pix[3*p+i])) / (codeSteps - 1)
			}
			luma := kr*e[0] + (1-kr-kb)*e[1] + kb*e[2]
			f.Y[p] = uint16(math.Round(min(max(scale*(16+219*luma), 0), top)))
			q := y/sy*cw + x/sx
			cb[q] += (e[2] - luma) / (2 * (1 - kb)) / float64(sx*sy)
			cr[q] += (e[0] - luma) / (2 * (1 - kr)) / float64(sx*sy)
		}
	}
	for q := range cb {
		f.Cb[q] = uint16(math.Round(min(max(scale*(128+224*cb[q]), 0), top)))
		f.Cr[q] = uint16(math.Round(min(max(scale*(128+224*cr[q]), 0), top)))
	}
}

// play is a recorded frame as a working picture.
func (c coding) play(cam *madeCamera, f *picture.Frame) *Light {
	code := coderFor(cam.curve, 14)
	clip := 0.97 * cam.clip
	full := f.Image(picture.SpaceSceneLinear, func(e [3]float64) (out [3]float64) {
		for i, v := range e {
			x := min(max(v, 0), 1) * (codeSteps - 1)
			k := min(int(x), codeSteps-2)
			t := float32(x - float64(k))
			out[i] = float64(code.decode[k]*(1-t) + code.decode[k+1]*t)
		}
		return out
	})
	l := &Light{Image: reduced(full, c.enlarge), Frames: 1}
	l.Clipped = make([]bool, l.W*l.H)
	for y := range full.H {
		for x := range full.W {
			p := 3 * (y*full.W + x)
			if float64(max(full.Pix[p], full.Pix[p+1], full.Pix[p+2])) > clip {
				l.Clipped[min(y/c.enlarge, l.H-1)*l.W+min(x/c.enlarge, l.W-1)] = true
			}
		}
	}
	return l
}

// stretched is a picture k times as large, straight between its pixels.
func stretched(in *picture.Image, k int) *picture.Image {
	out := picture.NewImage(in.W*k, in.H*k, in.Space)
	at := func(x, n int) (int, int, float32) {
		u := (float64(x)+.5)/float64(k) - .5
		i := int(math.Floor(u))
		return min(max(i, 0), n-1), min(max(i+1, 0), n-1), float32(u - float64(i))
	}
	inRows(out.H, func(from, to int) {
		for y := from; y < to; y++ {
			y0, y1, v := at(y, in.H)
			for x := range out.W {
				x0, x1, u := at(x, in.W)
				for c := range 3 {
					p := func(x, y int) float32 { return in.Pix[3*(y*in.W+x)+c] }
					out.Pix[3*(y*out.W+x)+c] = (p(x0, y0)*(1-u)+p(x1, y0)*u)*(1-v) + (p(x0, y1)*(1-u)+p(x1, y1)*u)*v
				}
			}
		}
	})
	return out
}

// learn films a switch clip of the order, holds of the given number of frames,
// and learns it as a clip is learned.
func (c coding) learn(t testing.TB, rng *rand.Rand, cam *madeCamera, o *Order, frames int, light func(hold, frame int) *picture.Image) (*Learned, *Recording, error) {
	t.Helper()
	var rec *Recorder
	var err error
	c.film(t, rng, cam, frames*len(o.Holds), func(i int) *picture.Image { return light(i/frames, i%frames) }, func(i int, l *Light) {
		if rec == nil {
			if rec, err = NewRecorder(l.W, l.H, 25); err != nil {
				t.Fatal(err)
			}
		}
		if err := rec.Add(l, unit.Second(float64(i)/25)); err != nil {
			t.Fatal(err)
		}
	})
	got, err := rec.Finish()
	if err != nil {
		return nil, nil, err
	}
	if _, err := got.Match(o); err != nil {
		return nil, got, err
	}
	l, err := Learn(got.Holds, o, got.Noise, LearnOptions{})
	return l, got, err
}

// today films n frames of a light and gives their mean, as a clip is checked.
func (c coding) today(t testing.TB, rng *rand.Rand, cam *madeCamera, correlation float64, n int, light func(i int) *picture.Image) *Light {
	var out *Light
	c.film(t, rng, cam, n, light, func(_ int, l *Light) {
		if out == nil {
			out = l
			return
		}
		for i, v := range l.Pix {
			out.Pix[i] += v
		}
		for p, m := range l.Clipped {
			out.Clipped[p] = out.Clipped[p] || m
		}
	})
	for i := range out.Pix {
		out.Pix[i] /= float32(n)
	}
	out.Frames = max(1, float64(n)/max(correlation, 1))
	return out
}
