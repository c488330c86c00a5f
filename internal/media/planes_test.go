package media

import (
	"math/rand/v2"
	"testing"
)

// plainNarrow is narrow, obviously.
func plainNarrow(dst []byte, src []uint16) {
	for i, v := range src {
		dst[i] = byte(min(v, 255))
	}
}

// Rows of any length, with and without codes out of range, come out as from one
// sample at a time, and nothing beyond them is touched.
func TestNarrowAndExpand(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	for n := range 70 {
		for _, top := range []int{256, 300, 1 << 16} {
			src := make([]uint16, n)
			for i := range src {
				src[i] = uint16(random.IntN(top))
			}
			got, want := make([]byte, n+1), make([]byte, n+1)
			got[n], want[n] = 7, 7
			narrow(got, src)
			plainNarrow(want, src)
			if string(got) != string(want) {
				t.Fatalf("%d samples: %v instead of %v", n, got, want)
			}
			back := make([]uint16, n+1)
			back[n] = 9
			expand(back[:n], got[:n])
			for i, v := range back[:n] {
				if v != uint16(got[i]) {
					t.Fatalf("%d samples: sample %d is %d, not %d", n, i, v, got[i])
				}
			}
			if back[n] != 9 {
				t.Fatal("a sample beyond the row was written")
			}
		}
	}
}

func BenchmarkNarrow(b *testing.B) {
	src, dst := make([]uint16, 1<<16), make([]byte, 1<<16)
	b.SetBytes(1 << 16)
	for _, c := range []struct {
		name string
		do   func([]byte, []uint16)
	}{{"words", narrow}, {"plain", plainNarrow}} {
		b.Run(c.name, func(b *testing.B) {
			b.SetBytes(1 << 16)
			for b.Loop() {
				c.do(dst, src)
			}
		})
	}
}
