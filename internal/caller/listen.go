package caller

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Heard is a mark found in a sound track.
type Heard struct {
	Mark
	At    float64 // s from the first sample to the mark's beginning
	Score float64 // 0..1: the share of the tones' energy, over their usual, in the mark's own
}

// LeastRate is the samples a second from which marks can be heard; more than
// ListenRate tells nothing more.
const (
	LeastRate  = 8000
	ListenRate = 12000
)

// The detector's thresholds, found on made sound without a mark in it
// (TestNothingIsHeardInNoise) and with (TestHeardAgainstNoise).
const (
	leastChirp = 0.19  // normalised correlation: noise of the band alone stands at 1/√240 = 0.065, a mark 11 dB below it at 0.27
	leastScore = 0.165 // for any word: noise alone reached 0.159 in 1758 tries
	leastLead  = 0.02  // over the next best: noise alone reached 0.018
	knownScore = 0.12  // for a word of the clip's order, once that is known
	knownLead  = 0.03
	apart      = 0.3 // s: two marks are never nearer
	bandLow    = 700 // Hz
	bandHigh   = 3700
)

// Listen finds the marks of one order in mono samples: its steps in time,
// rising. Sound without a schedule in it gives none.
func Listen(samples []float32, rate int) ([]Heard, error) {
	l, err := NewListener(rate)
	if err != nil {
		return nil, err
	}
	l.Add(samples)
	return l.Marks(), nil
}

// Listener is Listen for sound that comes piece by piece; it keeps half a
// minute of it.
type Listener struct {
	detector
	from   float64 // s, of the first sample that is kept
	chirps []candidate
}

// candidate is where a chirp may be, with the energies of the tones that follow.
type candidate struct {
	at float64
	energy
}

const (
	listenTime = 30.0             // s that are looked at together
	ahead      = MarkLength + 0.1 // s after a chirp that are needed
	behind     = 0.1              // s before it
)

// NewListener listens to samples at a rate.
func NewListener(rate int) (*Listener, error) {
	if rate < LeastRate {
		return nil, fmt.Errorf("caller: %d samples a second are too few to hear the beeps; %d are needed", rate, LeastRate)
	}
	return &Listener{detector: detector{rate: float64(rate)}}, nil
}

// Add takes the next samples.
func (l *Listener) Add(samples []float32) {
	most := int(listenTime * l.rate)
	for len(samples) > 0 {
		n := min(len(samples), most-len(l.samples))
		l.samples = append(l.samples, samples[:n]...)
		samples = samples[n:]
		if len(l.samples) == most {
			l.look(listenTime - ahead)
		}
	}
}

// look finds the chirps up to a time of the samples kept, and lets go of those
// before it.
func (l *Listener) look(to float64) {
	for _, c := range l.detector.chirps() {
		if c < to && (c >= behind || l.from == 0) {
			l.chirps = append(l.chirps, candidate{l.from + c, l.detector.energy(c)})
		}
	}
	gone := int(min(max((to-behind)*l.rate, 0), float64(len(l.samples))))
	l.samples = append(l.samples[:0], l.samples[gone:]...)
	l.from += float64(gone) / l.rate
}

// Marks ends the sound and gives what was heard.
func (l *Listener) Marks() []Heard {
	l.look(math.Inf(1))
	var heard []Heard
	for i := range l.chirps {
		c := &l.chirps[i]
		word, score, lead := c.best(0, words, 1)
		if score >= leastScore && lead >= leastLead {
			heard = append(heard, Heard{markOf(word), c.at, score})
		}
	}
	order, ok := commonest(heard)
	if !ok {
		return nil
	}
	// With the order known, fainter marks of it can be believed.
	heard = heard[:0]
	for i := range l.chirps {
		c := &l.chirps[i]
		word, score, lead := c.best(order, words, 1<<orderBits)
		if score >= knownScore && lead >= knownLead {
			heard = append(heard, Heard{markOf(word), c.at, score})
		}
	}
	return rising(heard)
}

// commonest is the order that most of the marks are of; at least two must be.
func commonest(heard []Heard) (order int, ok bool) {
	sum, count := map[int]float64{}, map[int]int{}
	for _, h := range heard {
		sum[h.Order] += h.Score
		count[h.Order]++
	}
	best := 0.0
	for _, h := range heard { // in time, so that a tie falls the same way each time
		if count[h.Order] >= 2 && sum[h.Order] > best {
			best, order, ok = sum[h.Order], h.Order, true
		}
	}
	return order, ok
}

// rising keeps the heaviest run of marks whose steps rise with time, and lie
// apart.
func rising(heard []Heard) []Heard {
	slices.SortFunc(heard, func(a, b Heard) int { return cmp.Compare(a.At, b.At) })
	n := len(heard)
	weight, before := make([]float64, n), make([]int, n)
	last := -1
	for i, h := range heard {
		weight[i], before[i] = h.Score, -1
		for j := range i {
			g := heard[j]
			if g.Step < h.Step && h.At-g.At >= apart && weight[j]+h.Score > weight[i] {
				weight[i], before[i] = weight[j]+h.Score, j
			}
		}
		if last < 0 || weight[i] > weight[last] {
			last = i
		}
	}
	var out []Heard
	for i := last; i >= 0; i = before[i] {
		out = append(out, heard[i])
	}
	slices.Reverse(out)
	return out
}

type detector struct {
	samples []float32
	rate    float64
}

// chirps are the times at which a chirp may begin: peaks of the matched
// filter's envelope over the band's energy.
func (d *detector) chirps() []float64 {
	length := int(math.Round(chirpLength * d.rate))
	size := 1
	for size < 8*length {
		size *= 2
	}
	fft := fourier.NewCmplxFFT(size)
	template := make([]complex128, size)
	sum := 0.0
	for i := range length {
		t := float64(i) / d.rate
		v := edge(t, chirpLength) * chirp(t)
		template[i] = complex(v, 0)
		sum += v * v
	}
	template = fft.Coefficients(nil, template)
	inBand := func(k int) bool {
		hz := float64(k) * d.rate / float64(size)
		return hz >= bandLow && hz <= bandHigh
	}
	hop := size - length
	n := len(d.samples)
	match := make([]float64, n)
	block, coefficients, product := make([]complex128, size), make([]complex128, size), make([]complex128, size)
	for from := 0; from < n; from += hop {
		for i := range block {
			block[i] = 0
			if from+i < n {
				block[i] = complex(float64(d.samples[from+i]), 0)
			}
		}
		coefficients = fft.Coefficients(coefficients, block)
		for k := range coefficients {
			// Positive frequencies alone: what comes back has the envelope as its size.
			if !inBand(k) || k > size/2 {
				coefficients[k], product[k] = 0, 0
				continue
			}
			product[k] = coefficients[k] * cmplx.Conj(template[k])
		}
		correlation := fft.Sequence(product, product)
		band := fft.Sequence(coefficients, coefficients)
		// The band's energy under the template, by a running sum. Having positive
		// frequencies alone, it is half the sound's.
		e := 0.0
		for i := range length {
			e += sq(cmplx.Abs(band[i]))
		}
		for i := 0; i < hop && from+i < n; i++ {
			match[from+i] = cmplx.Abs(correlation[i]) / math.Sqrt(max(e, 1e-30)*sum/2)
			e += sq(cmplx.Abs(band[i+length])) - sq(cmplx.Abs(band[i]))
		}
	}
	return d.peaks(match)
}

// peaks are the largest of their neighbourhoods.
func (d *detector) peaks(match []float64) []float64 {
	near := int(0.04 * d.rate)
	var out []float64
	for i := 0; i < len(match); i++ {
		if match[i] < leastChirp {
			continue
		}
		peak := true
		for j := max(0, i-near); j < min(len(match), i+near+1); j++ {
			if match[j] > match[i] || match[j] == match[i] && j < i {
				peak = false
				break
			}
		}
		if peak {
			out = append(out, float64(i)/d.rate)
			i += near
		}
	}
	return out
}

// energy is each symbol's energy at each tone, over the tone's usual.
type energy [symbols][tones]float64

func (d *detector) energy(chirp float64) (e energy) {
	for i := range e {
		end := chirp + chirpLength + pauseLength + float64(i+1)*toneLength
		from, to := int(math.Round((end-toneListened)*d.rate)), int(math.Round(end*d.rate))
		from, to = max(0, from), min(to, len(d.samples))
		for k := range tones {
			e[i][k] = d.tone(from, to, toneHz(uint8(k)))
		}
	}
	// A whistle, a hum's overtone or an echo stands in a tone all along; no word
	// has a tone more than three times in eight.
	total := 0.0
	for i := range e {
		for k := range tones {
			total += e[i][k] / (symbols * tones)
		}
	}
	for k := range tones {
		var x [symbols]float64
		for i := range e {
			x[i] = e[i][k]
		}
		slices.Sort(x[:])
		usual := (x[3]+x[4])/2 + total/100 + 1e-30
		for i := range e {
			e[i][k] /= usual
		}
	}
	for i := range e {
		sum := 0.0
		for k := range tones {
			e[i][k] = math.Sqrt(e[i][k])
			sum += e[i][k]
		}
		for k := range tones {
			e[i][k] /= sum
		}
	}
	return e
}

// tone is the energy at a frequency (Goertzel, "An algorithm for the evaluation
// of finite trigonometric series", American Mathematical Monthly 65, 1958),
// under a raised cosine.
func (d *detector) tone(from, to int, hz float64) float64 {
	w := 2 * math.Pi * hz / d.rate
	c := 2 * math.Cos(w)
	var s1, s2 float64
	n := float64(to - from)
	for i := from; i < to; i++ {
		window := 1 - math.Cos(2*math.Pi*(float64(i-from)+0.5)/n)
		s1, s2 = window*float64(d.samples[i])+c*s1-s2, s1
	}
	return s1*s1 + s2*s2 - c*s1*s2
}

// best is the word, among first, first+step, …, below end, whose tones have the
// largest share of the energy, and by how much it leads the next best.
func (e *energy) best(first, end, step int) (word int, score, lead float64) {
	second := 0.0
	for w := first; w < end; w += step {
		s := 0.0
		for i, digit := range codes[w] {
			s += e[i][digit]
		}
		if s > score {
			word, score, second = w, s, score
		} else if s > second {
			second = s
		}
	}
	return word, score / symbols, (score - second) / symbols
}

// codes are all words' tones.
var codes = func() *[words][symbols]uint8 {
	out := new([words][symbols]uint8)
	for w := range out {
		out[w] = code(w)
	}
	return out
}()

func sq(x float64) float64 { return x * x }
