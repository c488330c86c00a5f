package demo

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"strings"

	"lampwise/internal/caller"
)

const soundRate = 48000

// writeSound writes a clip's sound as 16-bit mono WAVE (RIFF, PCM): the room's
// hum and hiss, and the caller's mark at each switching where the clip has one.
func writeSound(path string, c *clipScript, seed uint64) (err error) {
	n := c.frames * soundRate / Rate
	r := seeded(seed, 0x50)
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("demo: sound: %w", err)
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	w := bufio.NewWriter(f)
	put := func(v any) {
		if err == nil {
			err = binary.Write(w, binary.LittleEndian, v)
		}
	}
	put([]byte("RIFF"))
	put(uint32(36 + 2*n))
	put([]byte("WAVEfmt "))
	put(uint32(16))
	put([]uint16{1, 1})
	put([]uint32{soundRate, soundRate * 2})
	put([]uint16{2, 16})
	put([]byte("data"))
	put(uint32(2 * n))
	low := 0.0
	marks := make([]float32, n)
	if c.beeps {
		caller.Add(marks, soundRate, c.marks(), 0.25)
	}
	samples := make([]int16, n)
	for i := range samples {
		t := float64(i) / soundRate
		low += 0.02 * (r.normal() - low)
		v := 0.010*low*8 + 0.0012*r.normal() + 0.003*math.Sin(2*math.Pi*100*t) + 0.001*math.Sin(2*math.Pi*200*t)
		v += float64(marks[i])
		samples[i] = int16(32767 * math.Max(-1, math.Min(1, v)))
	}
	put(samples)
	if err == nil {
		err = w.Flush()
	}
	return err
}

// marks are the caller's: one at each hold's switching.
func (c *clipScript) marks() (out []caller.Timed) {
	names := make([]string, len(c.holds))
	for i, h := range c.holds {
		names[i] = h.Name
	}
	order := caller.Number(strings.Join(names, ", "))
	for i, h := range c.holds {
		out = append(out, caller.Timed{Mark: caller.Mark{Step: i, Order: order}, At: h.Start})
	}
	return out
}
