package job

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

// A set's pictures are kept as one zip archive: numbers.json says what was
// found with them, then each picture as half floats in planes (first all low
// bytes, then all high ones, which compress), R, G and B of a pixel together.
const (
	numbersEntry  = "numbers.json"
	picturesKind  = "lamp pictures"
	picturesForm  = 1
	mostPictures  = 64 << 20 // bytes of one unpacked entry: 4096 pixels square is refused long before
	mostSetPixels = 1 << 21
)

// separationNumbers is all of a Separation but for what is as large as the picture.
type separationNumbers struct {
	Kind         string        `json:"kind"`
	Form         int           `json:"form"`
	Width        int           `json:"width"`
	Height       int           `json:"height"`
	Lamps        []string      `json:"lamps"`
	Level        [][]float64   `json:"level"` // hold × lamp
	Noise        lamps.Noise   `json:"noise"`
	Effective    []float64     `json:"effective_frames"`
	AmbientScale [][3]float64  `json:"ambient_scale,omitempty"`
	Gain         [][3]float64  `json:"gain,omitempty"`
	Inflation    float64       `json:"inflation"`
	Spare        int           `json:"spare"`
	Bins         int           `json:"bins"` // length of misfit and figure
	Entries      []pictureFile `json:"entries"`
}

// pictureFile is one entry of the archive.
type pictureFile struct {
	Name string `json:"name"`
	What string `json:"what"` // lamp, ambient, blind, moving, misfit, figure
}

// packSeparation writes a separation's pictures and numbers as the bytes of
// one file. The lamps' filaments are settings and are kept elsewhere.
func packSeparation(s *lamps.Separation) ([]byte, error) {
	n := separationNumbers{
		Kind: picturesKind, Form: picturesForm, Width: s.W, Height: s.H, Lamps: s.Design.Lamps, Level: s.Design.Level, Noise: s.Noise,
		Effective: s.Effective, AmbientScale: s.AmbientScale, Gain: s.Gain, Inflation: s.Inflation, Spare: s.Spare,
	}
	var data [][]byte
	add := func(what string, d []byte) {
		n.Entries = append(n.Entries, pictureFile{fmt.Sprintf("%02d.%s", len(data), what), what})
		data = append(data, d)
	}
	for _, p := range s.Picture {
		add("lamp", halves(p.Pix))
	}
	add("ambient", halves(s.Ambient.Pix))
	if s.Blind != nil {
		b := make([]byte, 2*len(s.Blind))
		for i, v := range s.Blind {
			binary.LittleEndian.PutUint16(b[2*i:], v)
		}
		add("blind", b)
	}
	if s.Moving != nil {
		add("moving", bits(s.Moving))
	}
	if s.Misfit != nil {
		n.Bins = len(s.Misfit)
		b := make([]byte, 8*len(s.Misfit))
		for i, v := range s.Misfit {
			binary.LittleEndian.PutUint64(b[8*i:], math.Float64bits(v))
		}
		add("misfit", b)
	}
	if s.Figure != nil {
		n.Bins = len(s.Figure)
		add("figure", bits(s.Figure))
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
	head, err := json.MarshalIndent(n, "", " ")
	if err != nil {
		return nil, fmt.Errorf("pack lamp pictures: %w", err)
	}
	write := func(name string, d []byte) error {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		_, err = w.Write(d)
		return err
	}
	if err := write(numbersEntry, head); err != nil {
		return nil, fmt.Errorf("pack lamp pictures: %w", err)
	}
	for i, e := range n.Entries {
		if err := write(e.Name, data[i]); err != nil {
			return nil, fmt.Errorf("pack lamp pictures: %w", err)
		}
	}
	err = z.Close()
	return out.Bytes(), err
}

// unpackSeparation reads what packSeparation wrote; name stands for the file
// in messages. It may come from another machine, so nothing is believed.
func unpackSeparation(data []byte, name string) (*lamps.Separation, error) {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Input, "pictures-format", "Export the set again, or learn it again.", "%s: %s", name, fmt.Sprintf(format, args...))
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, bad("is no file of lamp pictures: %v", err)
	}
	entries := map[string]*zip.File{}
	for _, f := range z.File {
		if entries[f.Name] != nil {
			return nil, bad("holds %q twice", f.Name)
		}
		entries[f.Name] = f
	}
	read := func(name string, want int) ([]byte, error) {
		f := entries[name]
		if f == nil {
			return nil, bad("%q is missing", name)
		}
		r, err := f.Open()
		if err != nil {
			return nil, bad("%q: %v", name, err)
		}
		defer r.Close()
		b, err := io.ReadAll(io.LimitReader(r, mostPictures+1))
		if err != nil {
			return nil, bad("%q: %v", name, err)
		}
		if want >= 0 && len(b) != want || len(b) > mostPictures {
			return nil, bad("%q has %d bytes, not %d", name, len(b), want)
		}
		return b, nil
	}
	head, err := read(numbersEntry, -1)
	if err != nil {
		return nil, err
	}
	var n separationNumbers
	if err := json.Unmarshal(head, &n); err != nil {
		return nil, bad("%s: %v", numbersEntry, err)
	}
	if err := n.check(); err != nil {
		return nil, bad("%v", err)
	}
	s := &lamps.Separation{
		Design: &lamps.Design{Lamps: n.Lamps, Level: n.Level}, W: n.Width, H: n.Height, Noise: n.Noise, Effective: n.Effective,
		AmbientScale: n.AmbientScale, Gain: n.Gain, Inflation: n.Inflation, Spare: n.Spare,
	}
	pixels := n.Width * n.Height
	for _, e := range n.Entries {
		size := map[string]int{"lamp": 6 * pixels, "ambient": 6 * pixels, "blind": 2 * pixels, "moving": (pixels + 7) / 8, "misfit": 8 * n.Bins, "figure": (n.Bins + 7) / 8}
		want, ok := size[e.What]
		if !ok {
			return nil, bad("%q is of no known kind", e.What)
		}
		b, err := read(e.Name, want)
		if err != nil {
			return nil, err
		}
		switch e.What {
		case "lamp", "ambient":
			im := picture.NewImage(n.Width, n.Height, picture.SpaceSceneLinear)
			if !fromHalves(b, im.Pix) {
				return nil, bad("%q holds a number that isn't finite", e.Name)
			}
			if e.What == "ambient" {
				s.Ambient = im
			} else {
				s.Picture = append(s.Picture, im)
			}
		case "blind":
			s.Blind = make([]uint16, pixels)
			for i := range s.Blind {
				s.Blind[i] = binary.LittleEndian.Uint16(b[2*i:])
			}
		case "moving":
			s.Moving = fromBits(b, pixels)
		case "misfit":
			s.Misfit = make([]float64, n.Bins)
			for i := range s.Misfit {
				v := math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
				if !(v >= 0) || math.IsInf(v, 0) {
					return nil, bad("%q holds a number that isn't finite", e.Name)
				}
				s.Misfit[i] = v
			}
		case "figure":
			s.Figure = fromBits(b, n.Bins)
		}
	}
	if len(s.Picture) != len(n.Lamps) || s.Ambient == nil {
		return nil, bad("holds %d lamp pictures for %d lamps", len(s.Picture), len(n.Lamps))
	}
	return s, nil
}

func (n *separationNumbers) check() error {
	switch {
	case n.Kind != picturesKind || n.Form != picturesForm:
		return fmt.Errorf("is %q of form %d; this lampwise reads form %d", n.Kind, n.Form, picturesForm)
	case n.Width < 32 || n.Height < 32 || n.Width > 4096 || n.Height > 4096 || n.Width*n.Height > mostSetPixels:
		return fmt.Errorf("pictures of %d×%d", n.Width, n.Height)
	case len(n.Lamps) == 0 || len(n.Lamps) > lamps.MaxLamps:
		return fmt.Errorf("%d lamps", len(n.Lamps))
	case len(n.Level) == 0 || len(n.Level) > lamps.MaxHolds || len(n.Effective) != len(n.Level):
		return fmt.Errorf("%d holds", len(n.Level))
	case n.AmbientScale != nil && len(n.AmbientScale) != len(n.Level) || n.Gain != nil && len(n.Gain) != len(n.Level):
		return fmt.Errorf("gains of %d holds", len(n.Gain))
	case !(n.Inflation >= 1 && n.Inflation < 1e9) || n.Bins < 0 || n.Bins > mostSetPixels || len(n.Entries) > lamps.MaxLamps+8:
		return fmt.Errorf("numbers out of range")
	}
	for _, l := range n.Lamps {
		if err := lamps.CheckLampName(l); err != nil {
			return err
		}
	}
	for h, row := range n.Level {
		if len(row) != len(n.Lamps) || !(n.Effective[h] > 0) {
			return fmt.Errorf("hold %d has %d levels", h+1, len(row))
		}
		for _, v := range row {
			if !(v >= 0 && v <= 1) {
				return fmt.Errorf("hold %d has a level of %g", h+1, v)
			}
		}
	}
	return nil
}

// halves packs numbers as half floats: all low bytes, then all high bytes.
func halves(pix []float32) []byte {
	b := make([]byte, 2*len(pix))
	for i, v := range pix {
		h := halfOf(v)
		b[i], b[len(pix)+i] = byte(h), byte(h>>8)
	}
	return b
}

// fromHalves unpacks; false when a number isn't finite.
func fromHalves(b []byte, pix []float32) bool {
	value := halfValues()
	for i := range pix {
		h := uint16(b[i]) | uint16(b[len(pix)+i])<<8
		if h&0x7c00 == 0x7c00 {
			return false
		}
		pix[i] = value[h]
	}
	return true
}

func bits(mask []bool) []byte {
	b := make([]byte, (len(mask)+7)/8)
	for i, m := range mask {
		if m {
			b[i/8] |= 1 << (i % 8)
		}
	}
	return b
}

func fromBits(b []byte, n int) []bool {
	mask := make([]bool, n)
	for i := range mask {
		mask[i] = b[i/8]>>(i%8)&1 == 1
	}
	return mask
}
