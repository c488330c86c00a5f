package colour

// CAT names the cone-like space in which von Kries adaptation scales.
type CAT string

const (
	CAT16    CAT = "cat16"    // C. Li et al. 2017, "Comprehensive color solutions: CAM16, CAT16 and CAM16-UCS"; the default
	Bradford CAT = "bradford" // linearised, as in ICC.1 annex E
	CAT02    CAT = "cat02"    // CIE 159:2004
)

// Known says whether c is one of the transforms above.
func (c CAT) Known() bool { return c == CAT16 || c == Bradford || c == CAT02 }

// Matrix returns XYZ → cone-like responses. An empty CAT is CAT16; any other
// that is not Known panics: settings are checked where they are read.
func (c CAT) Matrix() Mat3 {
	switch c {
	case CAT16, "":
		return Mat3{
			{0.401288, 0.650173, -0.051461},
			{-0.250268, 1.204414, 0.045854},
			{-0.002079, 0.048952, 0.953127},
		}
	case Bradford:
		return Mat3{
			{0.8951, 0.2664, -0.1614},
			{-0.7502, 1.7135, 0.0367},
			{0.0389, -0.0685, 1.0296},
		}
	case CAT02:
		return Mat3{
			{0.7328, 0.4296, -0.1624},
			{-0.7036, 1.6975, 0.0061},
			{0.0030, 0.0136, 0.9834},
		}
	}
	panic("colour: unknown adaptation " + string(c))
}

// Adapt returns the von Kries matrix in XYZ that takes white from to white to
// (both at Y = 1): inv(C)·diag(C·to / C·from)·C. Whites so far from the
// black-body locus that a response is 0 or negative give a matrix that is of
// no use or not finite; Response tells beforehand.
//
// Source: von Kries in CAT16: C. Li et al. 2017, "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS", Color Research and Application 42(6); Bradford: ICC.1, annex E
func Adapt(from, to XY, cat CAT) Mat3 { return adaptWith(cat.Matrix(), from.XYZ(), to.XYZ()) }

func adaptWith(c Mat3, from, to XYZ) Mat3 {
	a, b := c.Apply(from), c.Apply(to)
	return c.Inverse().Mul(Diagonal(b[0]/a[0], b[1]/a[1], b[2]/a[2])).Mul(c)
}

// Response returns the cone-like responses to a white at Y = 1; all three are
// positive for any white that can be adapted from or to.
func (c CAT) Response(white XY) [3]float64 { return c.Matrix().Apply(white.XYZ()) }
