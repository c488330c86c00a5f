package media

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Maxima of what is believed of a NUT stream; ffmpeg's own are far below.
const (
	nutMaxHeader = 1 << 20 // bytes of any header packet
	nutMaxFrame  = 1 << 31 // bytes of one frame: 16384 × 16384 × 4:4:4 × 16 bits is 1.6e9
	nutMaxTag    = 64
)

// nutReader reads the frames of the only stream of a NUT stream.
type nutReader struct {
	r        *bufio.Reader
	codes    [256]nutCode
	elided   [][]byte
	bases    []Rational
	timeBase Rational
	shift    uint
	lastPTS  int64
	tag      string
	width    int
	height   int
	pending  bool // next was called once by the header reader: code holds the frame code
	code     byte //
	payload  io.Reader
	left     int64
}

type nutCode struct {
	flags, stream, mul, size, reserved, header uint64
	pts, match                                 int64
}

// newNUTReader reads up to the first frame's header.
func newNUTReader(src io.Reader) (*nutReader, error) {
	n := &nutReader{r: bufio.NewReaderSize(src, 1<<16)}
	id := make([]byte, len(nutFileID))
	if _, err := io.ReadFull(n.r, id); err != nil {
		return nil, err // io.EOF when nothing came at all
	}
	if string(id) != nutFileID {
		return nil, errors.New("nut: not a NUT stream")
	}
	if err := n.headers(); err != nil {
		return nil, noEOF(err)
	}
	if n.timeBase.Num == 0 || n.tag == "" {
		return nil, errors.New("nut: frames before the stream header")
	}
	return n, nil
}

// next gives the next frame's timestamp (ticks of timeBase) and size in bytes;
// its bytes are then to be read from n. io.EOF after the last frame.
func (n *nutReader) next() (pts int64, size int64, err error) {
	if n.left > 0 {
		return 0, 0, fmt.Errorf("nut: %d bytes of the last frame were not read", n.left)
	}
	if !n.pending {
		if err := n.headers(); err != nil {
			return 0, 0, err
		}
	}
	if !n.pending {
		return 0, 0, io.EOF
	}
	n.pending = false
	pts, size, err = n.frame()
	return pts, size, noEOF(err)
}

// Read gives bytes of the present frame.
func (n *nutReader) Read(p []byte) (int, error) {
	if n.left == 0 {
		return 0, io.EOF
	}
	if int64(len(p)) > n.left {
		p = p[:n.left]
	}
	k, err := n.payload.Read(p)
	n.left -= int64(k)
	return k, err
}

// headers consumes packets until a frame code stands next (pending) or the stream ends.
func (n *nutReader) headers() error {
	for {
		c, err := n.r.ReadByte()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if c != 'N' {
			n.code, n.pending = c, true
			return nil
		}
		rest := make([]byte, 8)
		rest[0] = c
		if _, err := io.ReadFull(n.r, rest[1:]); err != nil {
			return noEOF(err)
		}
		code := binary.BigEndian.Uint64(rest)
		body, err := n.packet(rest)
		if err != nil {
			return noEOF(err)
		}
		switch code {
		case nutMain:
			err = n.mainHeader(body)
		case nutStream:
			err = n.streamHeader(body)
		case nutSyncpoint:
			err = n.syncpoint(body)
		case nutInfo, nutIndex:
		default:
			err = fmt.Errorf("nut: start code %016x is unknown", code)
		}
		if err != nil {
			return err
		}
	}
}

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

// frame reads the header of a frame whose code was read (NUT specification, "frame_header").
func (n *nutReader) frame() (pts, size int64, err error) {
	head := []byte{n.code}
	c := n.codes[n.code]
	flags := c.flags
	read := func() uint64 {
		if err != nil {
			return 0
		}
		var v uint64
		v, head, err = n.vRaw(head)
		return v
	}
	if flags&nutInvalid != 0 {
		return 0, 0, fmt.Errorf("nut: frame code %d is invalid", n.code)
	}
	if flags&nutCoded != 0 {
		flags ^= read()
	}
	stream := c.stream
	if flags&nutStreamID != 0 {
		stream = read()
	}
	pts = n.lastPTS + c.pts
	if flags&nutCodedPTS != 0 {
		coded := read()
		if coded < 1<<n.shift { // the low bits alone, nearest to the last one
			mask := int64(1)<<n.shift - 1
			delta := n.lastPTS - mask/2
			pts = (int64(coded)-delta)&mask + delta
		} else {
			pts = int64(coded) - 1<<n.shift
		}
	}
	bytes := c.size
	if flags&nutSizeMSB != 0 {
		msb := read()
		if msb > nutMaxFrame {
			return 0, 0, errors.New("nut: frame is too large")
		}
		bytes += msb * c.mul
	}
	if flags&nutMatchTime != 0 {
		read()
	}
	header := c.header
	if flags&nutHeaderIdx != 0 {
		header = read()
	}
	reserved := c.reserved
	if flags&nutReserved != 0 {
		reserved = read()
	}
	if reserved > 256 {
		return 0, 0, errors.New("nut: frame header is not legal")
	}
	for range reserved {
		read()
	}
	if err != nil {
		return 0, 0, err
	}
	if flags&nutChecksum != 0 {
		var sum [4]byte
		if _, err := io.ReadFull(n.r, sum[:]); err != nil {
			return 0, 0, err
		}
		if binary.BigEndian.Uint32(sum[:]) != nutCRC(0, head) {
			return 0, 0, errors.New("nut: checksum of a frame header differs")
		}
	}
	switch {
	case stream != 0:
		return 0, 0, fmt.Errorf("nut: a frame of stream %d", stream)
	case flags&nutSideMeta != 0:
		return 0, 0, errors.New("nut: a frame with side data")
	case bytes > nutMaxFrame:
		return 0, 0, errors.New("nut: frame is too large")
	case header >= uint64(len(n.elided)):
		return 0, 0, errors.New("nut: frame header is not legal")
	}
	if flags&nutEOR != 0 && bytes == 0 {
		return 0, 0, errors.New("nut: the stream stops in the middle")
	}
	n.lastPTS = pts
	n.left = int64(bytes)
	n.payload = n.r
	if p := n.elided[header]; len(p) > 0 && bytes <= 4096 {
		if uint64(len(p)) > bytes {
			return 0, 0, errors.New("nut: frame header is not legal")
		}
		n.payload = io.MultiReader(&onceReader{p}, n.r)
	}
	return pts, n.left, nil
}

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

type onceReader struct{ p []byte }

func (o *onceReader) Read(p []byte) (int, error) {
	if len(o.p) == 0 {
		return 0, io.EOF
	}
	k := copy(p, o.p)
	o.p = o.p[k:]
	return k, nil
}

// noEOF makes an end in the middle of something an error of its own.
func noEOF(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

// rescale converts ticks from one time base to another, to the nearest, halves away from zero.
func rescale(ticks int64, from, to Rational) int64 {
	num := float64(from.Num) * float64(to.Den)
	den := float64(from.Den) * float64(to.Num)
	if num == den {
		return ticks
	}
	return int64(math.Round(float64(ticks) * num / den))
}
