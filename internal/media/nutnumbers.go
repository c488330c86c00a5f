package media

import (
	"errors"
)

// vRaw reads a variable length number and appends its bytes to raw.
func (n *nutReader) vRaw(raw []byte) (uint64, []byte, error) {
	var v uint64
	for {
		c, err := n.r.ReadByte()
		if err != nil {
			return 0, raw, err
		}
		raw = append(raw, c)
		if v > 1<<56 {
			return 0, raw, errors.New("nut: number is too large")
		}
		v = v<<7 | uint64(c&0x7f)
		if c&0x80 == 0 {
			return v, raw, nil
		}
	}
}

// nutBody reads the numbers of a header packet; the first error stays.
type nutBody struct {
	data []byte
	err  error
}

func (b *nutBody) v() uint64 {
	var v uint64
	for b.err == nil {
		if len(b.data) == 0 {
			b.err = errors.New("nut: header is too short")
			break
		}
		c := b.data[0]
		b.data = b.data[1:]
		if v > 1<<56 {
			b.err = errors.New("nut: number is too large")
			break
		}
		v = v<<7 | uint64(c&0x7f)
		if c&0x80 == 0 {
			return v
		}
	}
	return 0
}

func (b *nutBody) s() int64 {
	v := b.v() + 1
	if v&1 != 0 {
		return -int64(v >> 1)
	}
	return int64(v >> 1)
}

func (b *nutBody) bytes(limit int) []byte {
	n := b.v()
	if b.err != nil {
		return nil
	}
	if n > uint64(limit) || n > uint64(len(b.data)) {
		b.err = errors.New("nut: header is too short")
		return nil
	}
	p := b.data[:n]
	b.data = b.data[n:]
	return p
}
