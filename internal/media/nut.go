package media

import (
	"encoding/binary"
	"fmt"
	"io"

	"lampwise/internal/picture"
)

// Raw frames travel between this program and ffmpeg in NUT, the open
// container of the ffmpeg project ("NUT Open Container Format", specification
// version 3): raw video's other pipes carry no timestamps, and with variable
// frame rates the timestamps are half of the picture. What is written here is
// the smallest legal stream: one raw video stream, every frame a key frame
// with a sync point in front.

const nutFileID = "nut/multimedia container\x00"

// Start codes (NUT specification, "startcodes").
const (
	nutMain      uint64 = 0x4E4D7A561F5F04AD
	nutStream    uint64 = 0x4E5311405BF2F9DB
	nutSyncpoint uint64 = 0x4E4BE4ADEECA4569
	nutIndex     uint64 = 0x4E58DD672F23E64E
	nutInfo      uint64 = 0x4E49AB68B596BA78
)

// Frame flags (NUT specification, "frame_flags").
const (
	nutKey       = 1
	nutEOR       = 2
	nutCodedPTS  = 8
	nutStreamID  = 16
	nutSizeMSB   = 32
	nutChecksum  = 64
	nutReserved  = 128
	nutSideMeta  = 256
	nutHeaderIdx = 1024
	nutMatchTime = 2048
	nutCoded     = 4096
	nutInvalid   = 8192
)

// nutPTSShift is the number of low timestamp bits a frame may carry alone. All
// timestamps here are written whole.
const nutPTSShift = 7

// Rational is a fraction, as frame rates and time bases are given.
type Rational struct {
	Num int64 `json:"num"`
	Den int64 `json:"den"`
}

// Float is the fraction's value; 0 for 0/0.
func (r Rational) Float() float64 {
	if r.Den == 0 {
		return 0
	}
	return float64(r.Num) / float64(r.Den)
}

func (r Rational) String() string { return fmt.Sprintf("%d/%d", r.Num, r.Den) }

// nutWriter writes frames of one format with timestamps in units of its time base.
type nutWriter struct {
	w      io.Writer
	format picture.Format
	head   []byte // reused for sync point and frame header
}

// newNUTWriter writes the headers. The time base is in seconds a tick, the
// aspect is that of one sample, the rate is what ffmpeg is told the frames keep.
func newNUTWriter(w io.Writer, f picture.Format, timeBase, aspect, rate Rational) (*nutWriter, error) {
	tag, err := nutFourCC(f)
	if err != nil {
		return nil, err
	}
	if aspect.Num <= 0 || aspect.Den <= 0 {
		aspect = Rational{1, 1}
	}
	b := []byte(nutFileID)

	p := putV(nil, 3)  // version
	p = putV(p, 1)     // streams
	p = putV(p, 65536) // longest stretch between sync points; each frame has its own anyway
	p = putV(p, 1)     // time bases
	p = putV(p, uint64(timeBase.Num))
	p = putV(p, uint64(timeBase.Den))
	// One group of frame codes for all 255 usable ones: everything is coded in
	// the frame's own header.
	p = putV(p, nutCoded)
	p = putV(p, 6) // fields that follow
	p = putV(p, 0) // timestamp difference (signed)
	p = putV(p, 1) // size multiplier
	p = putV(p, 0) // stream
	p = putV(p, 0) // size, low part
	p = putV(p, 0) // reserved
	p = putV(p, 255)
	p = putV(p, 0) // elision headers
	b = putPacket(b, nutMain, p)

	p = putV(nil, 0) // stream
	p = putV(p, 0)   // class: video
	p = putText(p, tag)
	p = putV(p, 0) // time base
	p = putV(p, nutPTSShift)
	p = putV(p, 1<<30) // largest timestamp step without a checksum; every header has one
	p = putV(p, 0)     // decode delay
	p = putV(p, 0)     // flags
	p = putV(p, 0)     // codec data
	p = putV(p, uint64(f.Width))
	p = putV(p, uint64(f.Height))
	p = putV(p, uint64(aspect.Num))
	p = putV(p, uint64(aspect.Den))
	p = putV(p, 0) // colour space: given to ffmpeg as options instead
	b = putPacket(b, nutStream, p)

	if rate.Num > 0 {
		p = putV(nil, 1) // of stream 0
		p = putV(p, 0)   // chapter
		p = putV(p, 0)   // chapter start
		p = putV(p, 0)   // chapter length
		p = putV(p, 1)   // entries
		p = putText(p, "r_frame_rate")
		p = putS(p, -1) // a text follows
		p = putText(p, rate.String())
		b = putPacket(b, nutInfo, p)
	}

	if _, err := w.Write(b); err != nil {
		return nil, err
	}
	return &nutWriter{w: w, format: f, head: make([]byte, 0, 128)}, nil
}

// begin writes sync point and header of a frame of size bytes; the payload follows.
func (n *nutWriter) begin(pts int64, size int) error {
	if pts < 0 {
		return fmt.Errorf("nut: timestamp %d is negative", pts)
	}
	p := putV(nil, uint64(pts)) // one time base: timestamp × 1 + 0
	p = putV(p, 0)              // back pointer: this sync point itself
	b := putPacket(n.head[:0], nutSyncpoint, p)
	start := len(b)
	b = append(b, 0) // frame code
	b = putV(b, nutKey|nutCodedPTS|nutSizeMSB|nutChecksum)
	b = putV(b, uint64(pts)+1<<nutPTSShift)
	b = putV(b, uint64(size))
	b = binary.BigEndian.AppendUint32(b, nutCRC(0, b[start:]))
	n.head = b[:0]
	_, err := n.w.Write(b)
	return err
}

// putPacket appends start code, length, body and checksums.
func putPacket(b []byte, code uint64, body []byte) []byte {
	start := len(b)
	b = binary.BigEndian.AppendUint64(b, code)
	size := len(body) + 4
	b = putV(b, uint64(size))
	if size > 4096 {
		b = binary.BigEndian.AppendUint32(b, nutCRC(0, b[start:]))
	}
	b = append(b, body...)
	return binary.BigEndian.AppendUint32(b, nutCRC(0, body))
}

// putV appends a variable length number: seven bits a byte, highest first.
func putV(b []byte, v uint64) []byte {
	n := 1
	for x := v >> 7; x > 0; x >>= 7 {
		n++
	}
	for i := n - 1; i > 0; i-- {
		b = append(b, byte(v>>(7*i))|0x80)
	}
	return append(b, byte(v)&0x7f)
}

// putS appends a signed number (NUT specification, "s").
func putS(b []byte, v int64) []byte {
	if v > 0 {
		return putV(b, uint64(2*v-1))
	}
	return putV(b, uint64(-2*v))
}

func putText(b []byte, s string) []byte {
	return append(putV(b, uint64(len(s))), s...)
}

// nutCRC is the CRC of the NUT specification ("checksum"): polynomial
// 0x04C11DB7, highest bit first, start value 0, no final inversion.
func nutCRC(crc uint32, data []byte) uint32 {
	for _, d := range data {
		crc = crc<<8 ^ nutCRCTable[byte(crc>>24)^d]
	}
	return crc
}

var nutCRCTable = func() (t [256]uint32) {
	for i := range t {
		c := uint32(i) << 24
		for range 8 {
			if c&0x80000000 != 0 {
				c = c<<1 ^ 0x04C11DB7
			} else {
				c <<= 1
			}
		}
		t[i] = c
	}
	return t
}()

// nutFourCC names a planar format as ffmpeg's raw video does: 8 bits by the
// old codes, deeper ones as "Y3", chroma shifts, bits.
func nutFourCC(f picture.Format) (string, error) {
	var shift byte
	var eight string
	switch f.Sub {
	case picture.Sub420:
		shift, eight = 11, "I420"
	case picture.Sub422:
		shift, eight = 10, "Y42B"
	case picture.Sub444:
		shift, eight = 0, "444P"
	default:
		return "", fmt.Errorf("nut: no planar format for chroma %q", f.Sub)
	}
	switch f.Bits {
	case 8:
		return eight, nil
	case 10, 12, 16:
		return string([]byte{'Y', '3', shift, byte(f.Bits)}), nil
	}
	return "", fmt.Errorf("nut: no planar format of %d bits", f.Bits)
}
