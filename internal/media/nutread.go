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
