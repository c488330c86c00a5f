package caller

import (
	"bytes"
	"encoding/binary"
	"math"
)

// Timed is a mark at a time.
type Timed struct {
	Mark
	At float64 // s, of its beginning
}

// Rate is the samples a second of a schedule's sound.
const Rate = 48000

// Loudness of a mark's sound, of full scale: room is left for a loudspeaker.
const Loudness = 0.5

// Add adds marks to samples at a rate, times the loudness.
func Add(samples []float32, rate int, marks []Timed, loudness float64) {
	for _, m := range marks {
		c := code(m.word())
		from, to := max(0, int(math.Ceil(m.At*float64(rate)))), min(len(samples), int(math.Ceil((m.At+MarkLength)*float64(rate))))
		for i := from; i < to; i++ {
			samples[i] += float32(loudness * at(c, float64(i)/float64(rate)-m.At))
		}
	}
}

// Sound is the marks alone, of a length in s.
func Sound(marks []Timed, length float64) []float32 {
	out := make([]float32, int(math.Ceil(length*Rate)))
	Add(out, Rate, marks, Loudness)
	return out
}

// WAV writes mono samples as a RIFF WAVE file of 16 bits.
func WAV(samples []float32, rate int) []byte {
	var out bytes.Buffer
	n := uint32(2 * len(samples))
	put := func(v any) { binary.Write(&out, binary.LittleEndian, v) } //nolint:errcheck // a buffer takes all
	put([]byte("RIFF"))
	put(36 + n)
	put([]byte("WAVEfmt "))
	put([]uint32{16})
	put([]uint16{1, 1})
	put([]uint32{uint32(rate), uint32(2 * rate)})
	put([]uint16{2, 16})
	put([]byte("data"))
	put(n)
	for _, v := range samples {
		put(int16(math.Round(32767 * float64(max(-1, min(1, v))))))
	}
	return out.Bytes()
}
