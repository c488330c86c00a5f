package media

import (
	"encoding/binary"
	"io"
)

// orientation reads the orientation tag of a JPEG's EXIF header (EXIF 2.3,
// 4.6.4 A, tag 0x0112; TIFF 6.0). Anything odd in it counts as no tag.
func (s *Still) orientation(r io.Reader) {
	head := make([]byte, 1<<17) // the header stands in the first segments, each at most 64 kB
	n, _ := io.ReadFull(r, head)
	switch exifOrientation(head[:n]) {
	case 3:
		s.Rotation = 180
	case 6:
		s.Rotation = 90
	case 8:
		s.Rotation = 270
	case 2, 4, 5, 7:
		s.Notes = append(s.Notes, Note{Code: "mirrored", Message: "the picture is to be shown mirrored, which is not done here"})
	}
	if s.Rotation != 0 {
		s.Notes = append(s.Notes, Note{Code: "rotated", Message: "the picture is to be shown turned: it is read as stored"})
	}
}

// exifOrientation gives the tag's value, 1 (as stored) when there is none.
func exifOrientation(b []byte) int {
	for at := 2; at+4 <= len(b) && b[at] == 0xff; {
		marker, size := b[at+1], int(binary.BigEndian.Uint16(b[at+2:]))
		if marker == 0xda || size < 2 || at+2+size > len(b) {
			break
		}
		segment := b[at+4 : at+2+size]
		if marker == 0xe1 && len(segment) > 14 && string(segment[:6]) == "Exif\x00\x00" {
			return tiffOrientation(segment[6:])
		}
		at += 2 + size
	}
	return 1
}

func tiffOrientation(b []byte) int {
	var order binary.ByteOrder = binary.LittleEndian
	if string(b[:2]) == "MM" {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return 1
	}
	count := int64(order.Uint16(b[at:]))
	for i := range count {
		e := at + 2 + 12*i
		if e+12 > int64(len(b)) {
			return 1
		}
		if order.Uint16(b[e:]) == 0x0112 {
			if v := order.Uint16(b[e+8:]); v >= 1 && v <= 8 {
				return int(v)
			}
			return 1
		}
	}
	return 1
}
