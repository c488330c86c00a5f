package caller

import "math"

// Mark is what a beep says: which step of which order begins now.
type Mark struct {
	// Step counts from 0; the number of the order's holds stands for its end.
	Step int
	// Order is Number of the order.
	Order int
}

// Bounds of a mark.
const (
	MaxStep   = 1<<stepBits - 1
	stepBits  = 7 // an order has at most 64 holds, and its end
	orderBits = 9
	tones     = 16
	symbols   = 8 // of a mark
	words     = 1 << (stepBits + orderBits)
)

// Number is a short number of an order's text, by which a clip's marks are
// told from another order's: FNV-1a of 32 bits (draft-eastlake-fnv), folded to
// 16 … 511. A word of one digit alone would be one tone eight times.
func Number(order string) int {
	h := uint32(2166136261)
	for i := range len(order) {
		h = (h ^ uint32(order[i])) * 16777619
	}
	return tones + int(h%(1<<orderBits-tones))
}

func (m Mark) word() int { return m.Step<<orderBits | m.Order }

func markOf(word int) Mark { return Mark{Step: word >> orderBits, Order: word & (1<<orderBits - 1)} }

// code is the tones of a word: the values of the polynomial over GF(16) whose
// coefficients are the word's four digits, at α⁰ … α⁷. Two words' codes agree in
// three places at most.
func code(word int) (out [symbols]uint8) {
	for i := range out {
		v := uint8(0)
		for k := 3; k >= 0; k-- { // Horner
			v = times(v, power[i]) ^ uint8(word>>(4*k)&15)
		}
		out[i] = v
	}
	return out
}

// power holds α⁰ … α¹⁴ of GF(16) with α⁴ = α + 1; logarithm is its inverse.
var power, logarithm = func() (p [15]uint8, l [16]uint8) {
	x := uint8(1)
	for i := range p {
		p[i], l[x] = x, uint8(i)
		if x <<= 1; x > 15 {
			x ^= 0b10011
		}
	}
	return p, l
}()

func times(a, b uint8) uint8 {
	if a == 0 || b == 0 {
		return 0
	}
	return power[(logarithm[a]+logarithm[b])%15]
}

// Sound of a mark: a rising chirp, a pause, and the tones, all inside the band
// that a telephone, a camera's microphone and a lossy codec all carry.
const (
	chirpLength  = 0.08 // s
	chirpFrom    = 800  // Hz
	chirpTo      = 3400 // Hz
	pauseLength  = 0.03 // s, in which the chirp's echo falls
	toneLength   = 0.045
	toneLowest   = 1000 // Hz
	toneStep     = 150  // Hz: more than three times 1/toneLength, so that echoes' sidebands stay apart
	edgeLength   = 0.006
	MarkLength   = chirpLength + pauseLength + symbols*toneLength // s
	toneListened = 0.035                                          // s, the end of each tone: its beginning has the echo of the one before
)

func toneHz(digit uint8) float64 { return toneLowest + toneStep*float64(digit) }

// at is the mark's sound at t, s from its beginning, −1..1.
func at(c [symbols]uint8, t float64) float64 {
	if t < 0 || t >= MarkLength {
		return 0
	}
	if t < chirpLength {
		return edge(t, chirpLength) * chirp(t)
	}
	t -= chirpLength + pauseLength
	if t < 0 {
		return 0
	}
	k := min(int(t/toneLength), symbols-1)
	t -= float64(k) * toneLength
	return edge(t, toneLength) * math.Sin(2*math.Pi*toneHz(c[k])*t)
}

func chirp(t float64) float64 {
	return math.Sin(2 * math.Pi * (chirpFrom*t + (chirpTo-chirpFrom)*t*t/(2*chirpLength)))
}

// edge fades a tone in and out, so that it doesn't click.
func edge(t, length float64) float64 {
	d := max(0, min(t, length-t))
	if d >= edgeLength {
		return 1
	}
	return (1 - math.Cos(math.Pi*d/edgeLength)) / 2
}
