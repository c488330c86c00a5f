package gauge

import (
	"cmp"
	"math"
	"slices"

	"lampwise/internal/picture"
)

// Flicker looks for lamps that pulse with the mains. A rolling shutter reads
// the rows one after the other, so the pulses lie across the picture as bands
// that move from frame to frame; with a global shutter, or a fast readout, the
// whole picture pulses. Rows are compared with their own mean over a window of
// neighbouring frames, strip by strip; the median of the strips is blind to a
// mechanic before some of them. What is left is searched for one wave over
// rows and frames.
//
// Bands that stand still (a mains' 100 Hz at exactly 25 or 50 frames a second)
// can't be told from the scene's own shading and are not seen.
type Flicker struct {
	cam    Camera
	format picture.Format
	light  *light
	bands  int
	fast   flickerWindow // frame by frame
	slow   flickerWindow // means of slowGroup frames, for waves that hardly move
	group  []float64
	groupN int
	groupT float64
	last   float64
	steps  []float64 // times between neighbouring frames, the first few hundred
	frames int
	run    int // neighbouring frames in a row, the longest
	runNow int
}

const (
	// SlowFlickerLimit is the same for bands that hardly move. Somebody who
	// moves in the picture looks like such bands, so their error is large.
	SlowFlickerLimit = 8 * FlickerLimit
	// FlickerLimit is the amplitude, in per cent of the light (peak, half of
	// peak to peak), from which flicker is told.
	FlickerLimit = 0.5

	flickerBands  = 72
	flickerStrips = 12
	flickerWindow64,
	slowGroup, shortestWindow = 64, 16, 32
	calmStrips  = 4     // of a band, that count
	flickerDark = 0.004 // linear; darker strips are left out

	waveMost    = 5.0 // cycles over the picture's height
	waveStep    = 0.25
	waveCells   = 2*int(waveMost/waveStep) + 1
	rateCells   = 64   // steps of 1/128 cycle a frame, from 0 to one half
	slowestCell = 3    // one cycle and a half in a window
	stillBelow  = 0.8  // Hz; slower pulsing of the whole picture is a change of exposure
	wholeBelow  = 0.35 // cycles over the height; less than that is the whole picture
	slowLeast   = 0.7  // cycles over the height that slow bands must have
	waveStands  = 20.0 // times its surroundings' power
	// Of slow waves the surroundings are full of who walks about, and the doubled
	// error of the fit is the judge: there it is enough to be worth a fit.
	slowStands = 12.0
)

// flickerWindow gathers profiles of neighbouring frames and, when it is full,
// adds their spectrum.
type flickerWindow struct {
	bands    int
	profile  []float32 // [frame][band][strip], log of light; NaN where too dark
	n        int
	from, to float64
	power    [rateCells + 1][waveCells]float64
	windows  int
	kept     []keptWindow
}

// keptWindow is a window's strongest cells and, for the strongest window, its
// signal.
type keptWindow struct {
	from, to float64
	signal   []float64 // [frame][band]
	scale    []float64 // of each band; less than 1 for a restless one
	frames   int
}

// keptMost windows are kept to say when; the others' spectra still count.
const keptMost = 24

// NewFlicker makes a searcher. The camera's curve must be known.
func NewFlicker(cam Camera) *Flicker { return &Flicker{cam: cam} }

// Add looks at a frame; only neighbouring frames (View.Before) can be searched.
func (k *Flicker) Add(v *View) {
	if k.cam.Curve == nil {
		return
	}
	if k.format != v.Format {
		k.format, k.light = v.Format, newLight(k.cam.Curve, v.Range)
		k.bands = min(flickerBands, v.H)
		k.fast, k.slow = newFlickerWindow(k.bands), newFlickerWindow(k.bands)
		k.group = make([]float64, k.bands*flickerStrips)
	}
	k.frames++
	if v.Before == nil {
		k.fast.close()
		k.slow.close()
		k.groupN, k.runNow = 0, 0
		clear(k.group)
	} else if len(k.steps) < 500 {
		k.steps = append(k.steps, v.Time-v.Before.Time)
	}
	k.runNow++
	k.run = max(k.run, k.runNow)
	k.last = v.Time
	p := k.fast.next(v.Time)
	k.profile(v, p)
	if k.groupN == 0 {
		k.groupT = v.Time
	}
	for i, x := range p {
		k.group[i] += float64(x)
	}
	if k.groupN++; k.groupN == slowGroup {
		q := k.slow.next((k.groupT + v.Time) / 2)
		for i, x := range k.group {
			q[i] = float32(x / slowGroup)
		}
		k.groupN = 0
		clear(k.group)
		k.slow.full()
	}
	k.fast.full()
}

// profile fills in the mean light of each band and strip.
func (k *Flicker) profile(v *View, out []float32) {
	m := codeToE(v.Format)
	var sum, n [flickerStrips]float32
	var from [flickerStrips + 1]int // columns
	for s := range from {
		from[s] = (s*v.W + flickerStrips - 1) / flickerStrips
	}
	for b := range k.bands {
		y0, y1 := b*v.H/k.bands, (b+1)*v.H/k.bands
		sum, n = [flickerStrips]float32{}, [flickerStrips]float32{}
		for y := y0; y < y1; y++ {
			row := v.Mean[y*v.W : (y+1)*v.W]
			for s := range sum {
				part := float32(0)
				for _, c := range row[from[s]:from[s+1]] {
					part += c
				}
				sum[s] += part
				n[s] += float32(from[s+1] - from[s])
			}
		}
		for s := range sum {
			l := float32(math.NaN())
			if n[s] > 0 {
				if lin := k.light.at(m.luma(sum[s] / n[s])); lin > flickerDark {
					l = float32(math.Log(float64(lin)))
				}
			}
			out[b*flickerStrips+s] = l
		}
	}
}

func newFlickerWindow(bands int) flickerWindow {
	return flickerWindow{bands: bands, profile: make([]float32, flickerWindow64*bands*flickerStrips)}
}

func (w *flickerWindow) next(t float64) []float32 {
	if w.n == 0 {
		w.from = t
	}
	w.to = t
	size := w.bands * flickerStrips
	w.n++
	return w.profile[(w.n-1)*size : w.n*size]
}

func (w *flickerWindow) full() {
	if w.n == flickerWindow64 {
		w.close()
	}
}

// close takes what was gathered as a window, if it is long enough.
func (w *flickerWindow) close() {
	n := w.n
	w.n = 0
	if n < shortestWindow {
		return
	}
	signal := w.signal(n)
	if signal == nil {
		return
	}
	k := keptWindow{w.from, w.to, signal, w.calm(signal, n), n}
	spectrum(signal, k.scale, n, &w.power)
	w.windows++
	if len(w.kept) < keptMost {
		w.kept = append(w.kept, k)
		return
	}
	// The strongest stay; those in the middle of the road go.
	least, at := rms(signal), -1
	for i := range w.kept {
		if r := rms(w.kept[i].signal); r < least {
			least, at = r, i
		}
	}
	if at >= 0 {
		w.kept[at] = k
	}
}

func rms(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

// signal is each band's light against its mean over the window, as a part of
// the light; nil where too much is dark. Of a band's strips the calmest count:
// whoever moves before the others adds to what flicker does to all alike.
func (w *flickerWindow) signal(n int) []float64 {
	size := w.bands * flickerStrips
	out := make([]float64, n*w.bands)
	used := 0 // bands
	type strip struct{ at, mean, restless float64 }
	strips := make([]strip, 0, flickerStrips)
	for b := range w.bands {
		strips = strips[:0]
		for s := range flickerStrips {
			at := b*flickerStrips + s
			sum, square := 0.0, 0.0
			for f := range n {
				x := float64(w.profile[f*size+at])
				sum += x
				square += x * x
			}
			mean := sum / float64(n)
			if v := square/float64(n) - mean*mean; !math.IsNaN(v) { // NaN: dark at some time
				strips = append(strips, strip{float64(at), mean, v})
			}
		}
		if len(strips) < calmStrips {
			continue
		}
		slices.SortFunc(strips, func(a, b strip) int { return cmp.Compare(a.restless, b.restless) })
		for f := range n {
			sum := 0.0
			for _, s := range strips[:calmStrips] {
				sum += float64(w.profile[f*size+int(s.at)]) - s.mean
			}
			out[f*w.bands+b] = sum / calmStrips
		}
		used++
	}
	if used < w.bands/3 {
		return nil
	}
	return out
}

// calm gives the scale by which bands are brought down that are more restless
// than the calm quarter of them: flicker makes all alike, and somebody before
// nearly all strips of a band makes that one so.
func (w *flickerWindow) calm(signal []float64, n int) []float64 {
	const quarter, allowed = 0.25, 1.4
	each := make([]float64, w.bands)
	var seen []float64
	for b := range each {
		s := 0.0
		for f := range n {
			x := signal[f*w.bands+b]
			s += x * x
		}
		each[b] = math.Sqrt(s / float64(n))
		if each[b] > 0 {
			seen = append(seen, each[b])
		}
	}
	scale := make([]float64, w.bands)
	most := math.Inf(1)
	if len(seen) > 0 {
		slices.Sort(seen)
		most = allowed * seen[int(quarter*float64(len(seen)))]
	}
	for b, r := range each {
		scale[b] = 1
		if r > most {
			scale[b] = most / r
		}
	}
	return scale
}

// spectrum adds the power of each wave to sum, such that a wave of amplitude A
// that fills the window adds A².
func spectrum(signal, scale []float64, n int, sum *[rateCells + 1][waveCells]float64) {
	bands := len(scale)
	weight, total := hann(n)
	re, im := make([]float64, bands), make([]float64, bands)
	for r := range sum {
		rate := float64(r) / (2 * rateCells)
		clear(re)
		clear(im)
		for f := range n {
			s, c := math.Sincos(2 * math.Pi * rate * float64(f))
			s, c = s*weight[f], c*weight[f]
			for b, x := range signal[f*bands : (f+1)*bands] {
				re[b] += x * c * scale[b]
				im[b] -= x * s * scale[b]
			}
		}
		for k := range waveCells {
			wave := float64(k)*waveStep - waveMost
			sumR, sumI := 0.0, 0.0
			for b := range bands {
				s, c := math.Sincos(2 * math.Pi * wave * (float64(b) + 0.5) / float64(bands))
				sumR += re[b]*c + im[b]*s
				sumI += im[b]*c - re[b]*s
			}
			a := 2 * math.Hypot(sumR, sumI) / (total * float64(bands))
			sum[r][k] += a * a
		}
	}
}

func hann(n int) (w []float64, total float64) {
	w = make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
		total += w[i]
	}
	return w, total
}
