package media

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
)

// Maxima for walking through a file this program has had written.
const (
	maxMoov  = 256 << 20
	maxBoxes = 100_000
)

// setDisplayMatrix writes the matrix into the header of the file's picture
// track (ISO/IEC 14496-12, 8.3.2 "tkhd"). ffmpeg's own option for it differs
// between its versions and knows no mirrored pictures.
func setDisplayMatrix(path string, m [9]int32) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	at, err := videoTrackMatrix(f)
	if err != nil {
		return fmt.Errorf("display matrix: %w", err)
	}
	var b [36]byte
	for i, v := range m {
		binary.BigEndian.PutUint32(b[4*i:], uint32(v))
	}
	if _, err := f.WriteAt(b[:], at); err != nil {
		return err
	}
	return f.Close()
}

// videoTrackMatrix finds where in the file the picture track's matrix lies.
func videoTrackMatrix(f io.ReadSeeker) (int64, error) {
	end, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return 0, err
	}
	moov, moovAt, err := findMoov(f, end)
	if err != nil {
		return 0, err
	}
	found := int64(-1)
	err = eachBox(moov, func(kind string, body []byte, at int) error {
		if kind != "trak" {
			return nil
		}
		matrix, video := -1, false
		err := eachBox(body, func(kind string, inner []byte, innerAt int) error {
			switch kind {
			case "tkhd":
				offset := 40 // version 0: up to the matrix
				if len(inner) > 0 && inner[0] == 1 {
					offset = 52
				}
				if len(inner) < offset+44 {
					return errors.New("track header is too short")
				}
				matrix = innerAt + offset
			case "mdia":
				return eachBox(inner, func(kind string, handler []byte, _ int) error {
					if kind == "hdlr" && len(handler) >= 12 && string(handler[8:12]) == "vide" {
						video = true
					}
					return nil
				})
			}
			return nil
		})
		if err == nil && video && matrix >= 0 && found < 0 {
			found = moovAt + int64(at+matrix)
		}
		return err
	})
	if err == nil && found < 0 {
		err = errors.New("the file has no picture track")
	}
	return found, err
}

// findMoov reads the movie box and gives its body's offset.
func findMoov(f io.ReadSeeker, end int64) ([]byte, int64, error) {
	var head [16]byte
	for at, n := int64(0), 0; at+8 <= end; n++ {
		if n > maxBoxes {
			break
		}
		if _, err := f.Seek(at, io.SeekStart); err != nil {
			return nil, 0, err
		}
		if _, err := io.ReadFull(f, head[:8]); err != nil {
			return nil, 0, err
		}
		size, skip := int64(binary.BigEndian.Uint32(head[:4])), int64(8)
		if size == 1 {
			if _, err := io.ReadFull(f, head[8:16]); err != nil {
				return nil, 0, err
			}
			size, skip = int64(binary.BigEndian.Uint64(head[8:16])), 16
		} else if size == 0 {
			size = end - at
		}
		if size < skip || size > end-at {
			return nil, 0, errors.New("a box is longer than its file")
		}
		if string(head[4:8]) == "moov" {
			if size-skip > maxMoov {
				return nil, 0, errors.New("the movie box is too long")
			}
			body := make([]byte, size-skip)
			_, err := io.ReadFull(f, body)
			return body, at + skip, err
		}
		at += size
	}
	return nil, 0, errors.New("the file has no movie box")
}

// eachBox goes through the boxes in a body and gives each one's kind, body and offset.
func eachBox(data []byte, visit func(kind string, body []byte, at int) error) error {
	for at := 0; at+8 <= len(data); {
		size := int64(binary.BigEndian.Uint32(data[at:]))
		skip := 8
		if size == 1 {
			if at+16 > len(data) {
				return errors.New("a box is longer than the one around it")
			}
			size, skip = int64(binary.BigEndian.Uint64(data[at+8:])), 16
		} else if size == 0 {
			size = int64(len(data) - at)
		}
		if size < int64(skip) || size > int64(len(data)-at) {
			return errors.New("a box is longer than the one around it")
		}
		if err := visit(string(data[at+4:at+8]), data[at+skip:at+int(size)], at+skip); err != nil {
			return err
		}
		at += int(size)
	}
	return nil
}
