package media

import "lampwise/internal/picture"

// Largest picture side that is accepted, in pixels.
const maxSide = 16384

// layout is how a raw frame's bytes lie in the pipe.
type layout int

const (
	planar     layout = iota // Y, Cb, Cr planes
	planarA                  // and a fourth plane, dropped
	biplanar                 // Y plane, then Cb and Cr in turns (nv12, nv16, nv24)
	biplanarHi               // likewise, 16-bit words with the code in the upper bits (p010, p210)
	packedUYVY               // Cb Y Cr Y
	packedYUYV               // Y Cb Y Cr
)

// pixelFormat is one of ffmpeg's formats that can be read without any arithmetic on its codes.
type pixelFormat struct {
	bits   int
	sub    picture.Subsampling
	layout layout
	full   bool // full range by its name
}

// pixelFormats by ffmpeg's names (libavutil pixdesc).
var pixelFormats = map[string]pixelFormat{
	"yuv420p": {8, picture.Sub420, planar, false}, "yuv422p": {8, picture.Sub422, planar, false}, "yuv444p": {8, picture.Sub444, planar, false},
	"yuvj420p": {8, picture.Sub420, planar, true}, "yuvj422p": {8, picture.Sub422, planar, true}, "yuvj444p": {8, picture.Sub444, planar, true},
	"yuv420p10le": {10, picture.Sub420, planar, false}, "yuv422p10le": {10, picture.Sub422, planar, false}, "yuv444p10le": {10, picture.Sub444, planar, false},
	"yuv420p12le": {12, picture.Sub420, planar, false}, "yuv422p12le": {12, picture.Sub422, planar, false}, "yuv444p12le": {12, picture.Sub444, planar, false},
	"yuv420p16le": {16, picture.Sub420, planar, false}, "yuv422p16le": {16, picture.Sub422, planar, false}, "yuv444p16le": {16, picture.Sub444, planar, false},
	"yuva420p": {8, picture.Sub420, planarA, false}, "yuva422p": {8, picture.Sub422, planarA, false}, "yuva444p": {8, picture.Sub444, planarA, false},
	"yuva420p10le": {10, picture.Sub420, planarA, false}, "yuva422p10le": {10, picture.Sub422, planarA, false}, "yuva444p10le": {10, picture.Sub444, planarA, false},
	"yuva422p12le": {12, picture.Sub422, planarA, false}, "yuva444p12le": {12, picture.Sub444, planarA, false},
	"yuva420p16le": {16, picture.Sub420, planarA, false}, "yuva422p16le": {16, picture.Sub422, planarA, false}, "yuva444p16le": {16, picture.Sub444, planarA, false},
	"nv12": {8, picture.Sub420, biplanar, false}, "nv16": {8, picture.Sub422, biplanar, false}, "nv24": {8, picture.Sub444, biplanar, false},
	"p010le": {10, picture.Sub420, biplanarHi, false}, "p210le": {10, picture.Sub422, biplanarHi, false},
	"uyvy422": {8, picture.Sub422, packedUYVY, false}, "yuyv422": {8, picture.Sub422, packedYUYV, false},
}

// frameBytes is the size of one raw frame (libavutil imgutils, alignment 1).
func (p pixelFormat) frameBytes(f picture.Format) int64 {
	cw, ch := f.ChromaSize()
	luma := int64(f.Width) * int64(f.Height)
	samples := luma + 2*int64(cw)*int64(ch)
	switch p.layout {
	case planarA:
		samples += luma
	case packedUYVY, packedYUYV:
		samples = 4 * int64(cw) * int64(f.Height)
	}
	if p.bits > 8 {
		samples *= 2
	}
	return samples
}
