package media

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"strings"

	"golang.org/x/image/tiff"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Still is one picture from a file.
type Still struct {
	Path     string
	Kind     string         // "png", "tiff", "jpeg" or "exr"
	Bits     int            // a sample as stored; EXR: 32 once read
	Image    *picture.Image // R′G′B′ as coded, 0..1 = code 0..top, space display; EXR: scene-linear values as stored
	Frame    *picture.Frame // JPEG: its own Y′CbCr codes (BT.601, full range, chroma midway); else nil
	Rotation int            // degrees clockwise by which the picture is to be turned for display (JPEG's orientation tag); it is not turned here
	Notes    []Note
}

// Maxima for stills.
const (
	maxStillBytes  = 2 << 30
	maxStillPixels = 1 << 28 // 268 Mpx: more than a sheet of any camera's
)

// ReadStill reads a PNG (8, 16 bit), TIFF (8, 16 bit), JPEG or EXR file, told
// apart by what is in it, not by its name. The numbers are those stored: no
// profile and no gamma tag is applied. Faults are of class Input.
func ReadStill(ctx context.Context, path string) (*Still, error) {
	size, err := openable(path)
	if err != nil {
		return nil, err
	}
	if size > maxStillBytes {
		return nil, fault.New(fault.Input, "still-too-large", "scale it down first", "%s: %d bytes; a still may have %d", path, size, int64(maxStillBytes))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, storageFault(err, path)
	}
	defer f.Close()
	var head [8]byte
	n, _ := io.ReadFull(f, head[:])
	s := &Still{Path: path, Kind: stillKind(head[:n]), Notes: []Note{}}
	again := func() (io.Reader, error) {
		_, err := f.Seek(0, io.SeekStart)
		return bufio.NewReaderSize(f, 1<<16), err
	}
	if s.Kind == "exr" {
		return s, s.readEXR(ctx)
	}
	decode, config := decoders(s.Kind)
	if decode == nil {
		return nil, fault.New(fault.Input, "still-kind", "give a PNG, TIFF, JPEG or EXR file", "%s is not a still that can be read", path)
	}
	r, err := again()
	if err != nil {
		return nil, storageFault(err, path)
	}
	c, err := config(r)
	if err != nil {
		return nil, s.unreadable(err)
	}
	if err := s.sizes(c.Width, c.Height); err != nil {
		return nil, err
	}
	if r, err = again(); err != nil {
		return nil, storageFault(err, path)
	}
	decoded, err := decode(r)
	if err != nil {
		return nil, s.unreadable(err)
	}
	if s.Kind == "jpeg" {
		if r, err = again(); err != nil {
			return nil, storageFault(err, path)
		}
		s.orientation(r)
		return s, s.fromJPEG(decoded)
	}
	return s, s.fromRGB(decoded)
}

// stillKind knows a file by its first bytes.
func stillKind(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte("\x89PNG\r\n\x1a\n")):
		return "png"
	case bytes.HasPrefix(b, []byte("II*\x00")), bytes.HasPrefix(b, []byte("MM\x00*")):
		return "tiff"
	case bytes.HasPrefix(b, []byte("\xff\xd8\xff")):
		return "jpeg"
	case bytes.HasPrefix(b, []byte("\x76\x2f\x31\x01")):
		return "exr"
	}
	return ""
}

func decoders(kind string) (func(io.Reader) (image.Image, error), func(io.Reader) (image.Config, error)) {
	switch kind {
	case "png":
		return png.Decode, png.DecodeConfig
	case "tiff":
		return tiff.Decode, tiff.DecodeConfig
	case "jpeg":
		return jpeg.Decode, jpeg.DecodeConfig
	}
	return nil, nil
}

func (s *Still) sizes(w, h int) error {
	if w < 1 || h < 1 || w > 1<<16 || h > 1<<16 || w*h > maxStillPixels {
		return fault.New(fault.Input, "still-too-large", "scale it down first", "%s: a picture of %d × %d cannot be read", s.Path, w, h)
	}
	return nil
}

func (s *Still) unreadable(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || strings.Contains(err.Error(), "not enough pixel data") {
		return fault.Wrap(err, fault.Input, "still-cut-off", "copy it again", "%s: the %s file is cut off", s.Path, s.Kind)
	}
	return fault.Wrap(err, fault.Input, "still-unreadable", "save it again as PNG or TIFF", "%s: this %s file cannot be read: %v", s.Path, s.Kind, err)
}

// fromRGB takes the samples of a PNG or TIFF as stored.
func (s *Still) fromRGB(m image.Image) error {
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	im := picture.NewImage(w, h, picture.SpaceDisplay)
	s.Image, s.Bits = im, 8
	seeThrough := false
	set := func(x, y int, r, g, b, a, top uint32) {
		seeThrough = seeThrough || a != top
		p := im.Pix[3*(y*w+x):]
		p[0], p[1], p[2] = float32(r)/float32(top), float32(g)/float32(top), float32(b)/float32(top)
	}
	switch m := m.(type) {
	case *image.RGBA64:
		s.Bits = 16
		for y := range h {
			for x := range w {
				c := m.RGBA64At(b.Min.X+x, b.Min.Y+y)
				set(x, y, uint32(c.R), uint32(c.G), uint32(c.B), uint32(c.A), 0xffff)
			}
		}
	case *image.NRGBA64:
		s.Bits = 16
		for y := range h {
			for x := range w {
				c := m.NRGBA64At(b.Min.X+x, b.Min.Y+y)
				set(x, y, uint32(c.R), uint32(c.G), uint32(c.B), uint32(c.A), 0xffff)
			}
		}
	case *image.Gray16:
		s.Bits = 16
		for y := range h {
			for x := range w {
				v := uint32(m.Gray16At(b.Min.X+x, b.Min.Y+y).Y)
				set(x, y, v, v, v, 0xffff, 0xffff)
			}
		}
	case *image.RGBA, *image.NRGBA, *image.Gray, *image.Paletted:
		for y := range h {
			for x := range w {
				c := color.NRGBAModel.Convert(m.At(b.Min.X+x, b.Min.Y+y)).(color.NRGBA)
				set(x, y, uint32(c.R), uint32(c.G), uint32(c.B), uint32(c.A), 0xff)
			}
		}
	default:
		return fault.New(fault.Input, "still-unreadable", "save it again as RGB", "%s: this %s file's kind of colour is not supported", s.Path, s.Kind)
	}
	if seeThrough {
		s.Notes = append(s.Notes, Note{Code: "alpha", Message: "the picture is partly transparent, which is not read"})
	}
	return nil
}

// fromJPEG takes a JPEG's own codes: Y′CbCr of BT.601 in full range, chroma
// midway between luma samples (JFIF 1.02, "Standard").
func (s *Still) fromJPEG(m image.Image) error {
	s.Bits = 8
	var luma, cb, cr []uint8
	var yStride, cStride int
	b := m.Bounds()
	f := picture.Format{
		Width: b.Dx(), Height: b.Dy(), Bits: 8, Sub: picture.Sub444,
		Range: colour.Full, Matrix: colour.MatrixBT601, Siting: picture.SiteCentre,
	}
	switch m := m.(type) {
	case *image.YCbCr:
		luma, cb, cr, yStride, cStride = m.Y, m.Cb, m.Cr, m.YStride, m.CStride
		switch m.SubsampleRatio {
		case image.YCbCrSubsampleRatio444:
		case image.YCbCrSubsampleRatio422:
			f.Sub = picture.Sub422
		case image.YCbCrSubsampleRatio420:
			f.Sub = picture.Sub420
		default:
			return fault.New(fault.Input, "still-unreadable", "save it again as 4:4:4 or 4:2:0", "%s: this JPEG's chroma subsampling (%v) is not supported", s.Path, m.SubsampleRatio)
		}
	case *image.Gray:
		luma, yStride = m.Pix, m.Stride
	default:
		return fault.New(fault.Input, "still-unreadable", "save it again as an ordinary colour JPEG", "%s: this JPEG holds print colours (CMYK)", s.Path)
	}
	frame := picture.NewFrame(f)
	copyRows(frame.Y, f.Width, luma, yStride)
	cw, _ := f.ChromaSize()
	if cb == nil { // grey
		for i := range frame.Cb {
			frame.Cb[i], frame.Cr[i] = 128, 128
		}
	} else {
		copyRows(frame.Cb, cw, cb, cStride)
		copyRows(frame.Cr, cw, cr, cStride)
	}
	s.Frame = frame
	s.Image = frame.Image(picture.SpaceDisplay, func(e [3]float64) [3]float64 { return e })
	return nil
}

func copyRows(dst []uint16, width int, src []uint8, stride int) {
	for row := 0; row*width < len(dst); row++ {
		expand(dst[row*width:(row+1)*width], src[row*stride:])
	}
}

// readEXR lets ffmpeg decode an EXR's half or float samples; linear values
// come through as they are.
func (s *Still) readEXR(ctx context.Context) error {
	ffmpeg, err := findTool(ctx, "ffmpeg")
	if err != nil {
		return err
	}
	// The NUT header that comes first tells the size; the format is the decoder's own.
	a := append([]string{"-hide_banner", "-nostdin", "-v", "error"}, inputGuards()...)
	a = append(a, "-f", "exr_pipe", "-i", fileURL(s.Path), "-frames:v", "1", "-c:v", "rawvideo", "-f", "nut", "pipe:1")
	err = streamTool(ctx, ffmpeg.path, a, func(r io.Reader) error {
		n, err := newNUTReader(r)
		if errors.Is(err, io.EOF) {
			return nil // the program's own reason is better
		}
		if err != nil {
			return err
		}
		if err := s.sizes(n.width, n.height); err != nil {
			return err
		}
		_, size, err := n.next()
		if err != nil {
			return noEOF(err)
		}
		// The decoder's own storage, told by its size: float planes G, B, R, with
		// or without a fourth, or grey alone. Nothing is converted.
		planes := [3]int{1, 2, 0}
		switch pixels := int64(n.width) * int64(n.height); size {
		case 12 * pixels:
		case 16 * pixels:
			s.Notes = append(s.Notes, Note{Code: "alpha", Message: "the picture has a transparency plane, which is not read"})
		case 4 * pixels:
			planes = [3]int{-1}
		default:
			return fmt.Errorf("%s: a frame of %d bytes for %d × %d", s.Path, size, n.width, n.height)
		}
		im := picture.NewImage(n.width, n.height, picture.SpaceSceneLinear)
		row := make([]byte, 4*n.width)
		for _, channel := range planes {
			for y := range n.height {
				if _, err := io.ReadFull(n, row); err != nil {
					return noEOF(err)
				}
				if channel >= 0 {
					floatRow(im.Pix[3*y*n.width+channel:], row)
					continue
				}
				for c := range 3 {
					floatRow(im.Pix[3*y*n.width+c:], row)
				}
			}
			if channel < 0 {
				break
			}
		}
		s.Image, s.Bits = im, 32
		_, err = io.Copy(io.Discard, r)
		return err
	})
	var failed *failedError
	if errors.As(err, &failed) || err == nil && s.Image == nil {
		reason := "it is damaged"
		if failed != nil {
			reason = failed.reason()
		}
		return fault.Wrap(err, fault.Input, "still-unreadable", "save it again as a flat RGB EXR", "%s: this EXR file cannot be read: %s", s.Path, reason)
	}
	return err
}
