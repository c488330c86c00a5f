package media

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// packet reads length, body and checksum of the packet whose start code was read.
func (n *nutReader) packet(start []byte) ([]byte, error) {
	size, raw, err := n.vRaw(start)
	if err != nil {
		return nil, err
	}
	if size < 4 || size > nutMaxHeader {
		return nil, fmt.Errorf("nut: a header of %d bytes", size)
	}
	if size > 4096 {
		var sum [4]byte
		if _, err := io.ReadFull(n.r, sum[:]); err != nil {
			return nil, err
		}
		if binary.BigEndian.Uint32(sum[:]) != nutCRC(0, raw) {
			return nil, errors.New("nut: checksum of a header differs")
		}
	}
	body := make([]byte, size)
	if _, err := io.ReadFull(n.r, body); err != nil {
		return nil, err
	}
	data := body[:size-4]
	if binary.BigEndian.Uint32(body[size-4:]) != nutCRC(0, data) {
		return nil, errors.New("nut: checksum of a header differs")
	}
	return data, nil
}

func (n *nutReader) mainHeader(data []byte) error {
	b := nutBody{data: data}
	if version := b.v(); version != 3 && b.err == nil {
		return fmt.Errorf("nut: version %d, expected 3", version)
	}
	if streams := b.v(); streams != 1 && b.err == nil {
		return fmt.Errorf("nut: %d streams, expected 1", streams)
	}
	b.v() // longest stretch between sync points
	count := b.v()
	if count < 1 || count > 64 {
		return errors.Join(b.err, fmt.Errorf("nut: %d time bases", count))
	}
	n.bases = n.bases[:0]
	for range count {
		t := Rational{int64(b.v()), int64(b.v())}
		if b.err == nil && (t.Num <= 0 || t.Den <= 0 || t.Num > 1<<31 || t.Den > 1<<31) {
			return fmt.Errorf("nut: time base %s", t)
		}
		n.bases = append(n.bases, t)
	}
	var c nutCode
	c.mul, c.match = 1, 1-(1<<62)
	for i := 0; i < 256; {
		c.flags = b.v()
		fields := b.v()
		if fields > 64 {
			return fmt.Errorf("nut: %d fields in a frame code", fields)
		}
		c.size, c.reserved = 0, 0
		if fields > 0 {
			c.pts = b.s()
		}
		if fields > 1 {
			c.mul = b.v()
		}
		if fields > 2 {
			c.stream = b.v()
		}
		if fields > 3 {
			c.size = b.v()
		}
		if fields > 4 {
			c.reserved = b.v()
		}
		run := c.mul - c.size
		if fields > 5 {
			run = b.v()
		}
		if fields > 6 {
			c.match = b.s()
		}
		if fields > 7 {
			c.header = b.v()
		}
		for j := uint64(8); j < fields; j++ {
			b.v()
		}
		if b.err != nil {
			return b.err
		}
		if run < 1 || run > 256 || c.mul > nutMaxFrame || c.size > nutMaxFrame {
			return errors.New("nut: frame code table is not legal")
		}
		size := c.size
		for j := uint64(0); j < run && i < 256; i++ {
			if i == 'N' {
				n.codes[i] = nutCode{flags: nutInvalid}
				continue
			}
			n.codes[i] = c
			n.codes[i].size = size + j
			j++
		}
	}
	headers := b.v()
	if headers > 127 {
		return fmt.Errorf("nut: %d elision headers", headers)
	}
	n.elided = [][]byte{nil}
	for range headers {
		n.elided = append(n.elided, b.bytes(256))
	}
	return b.err
}

func (n *nutReader) streamHeader(data []byte) error {
	b := nutBody{data: data}
	id, class := b.v(), b.v()
	tag := b.bytes(nutMaxTag)
	base, shift := b.v(), b.v()
	b.v() // largest timestamp distance
	b.v() // decode delay
	b.v() // flags
	b.bytes(nutMaxHeader)
	w, h := b.v(), b.v()
	if b.err != nil {
		return b.err
	}
	switch {
	case id != 0 || class != 0:
		return errors.New("nut: the stream is not video")
	case base >= uint64(len(n.bases)) || shift > 15:
		return errors.New("nut: stream header is not legal")
	case w < 1 || h < 1 || w > maxSide || h > maxSide:
		return fmt.Errorf("nut: a picture of %d × %d", w, h)
	}
	n.tag, n.width, n.height = string(tag), int(w), int(h)
	n.timeBase, n.shift = n.bases[base], uint(shift)
	return nil
}

func (n *nutReader) syncpoint(data []byte) error {
	b := nutBody{data: data}
	t := b.v()
	if b.err != nil {
		return b.err
	}
	if len(n.bases) == 0 {
		return errors.New("nut: sync point before the main header")
	}
	count := uint64(len(n.bases))
	base := n.bases[t%count]
	ticks := int64(t / count)
	// The last timestamp is reset to the sync point's, in the stream's time base.
	if base == n.timeBase {
		n.lastPTS = ticks
		return nil
	}
	if n.timeBase.Num == 0 || ticks > 1<<40 {
		return errors.New("nut: sync point is not legal")
	}
	n.lastPTS = rescale(ticks, base, n.timeBase)
	return nil
}
