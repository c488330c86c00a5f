package job

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"strconv"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Packed is a program as a graphics processor takes it: a list of steps and
// one run of texels (four single precision numbers each) that holds every
// step's parameters and samples. 3-D LUTs are named and fetched apart.
type Packed struct {
	Slope    float64           `json:"slope"`  // y = Slope·E′ + Offset
	Offset   float64           `json:"offset"` //
	Steps    []PackedStep      `json:"steps"`
	Vignette *picture.Vignette `json:"vignette"`
	Limit    bool              `json:"limit"` // held inside 0..1
	Texels   []float32         `json:"-"`
}

// PackedStep is one op. Form says its kind and whatever changes its code; At
// is its first texel, Samples how many samples follow its parameters.
type PackedStep struct {
	Form    string `json:"form"`
	At      int    `json:"at"`
	Samples int    `json:"samples"`
	Cube    string `json:"cube"` // of a 3-D LUT: its data's name
	Size    int    `json:"size"` // and its grid points a side
}

// pack writes a program's ops as texels. The data of its cubes is given by name.
func pack(p *picture.Program) (*Packed, map[string][]byte, error) {
	out := &Packed{Slope: p.Input.YSlope, Offset: p.Input.YOffset, Vignette: p.Vignette, Limit: p.Output.Limiter == picture.LimiterRGB, Steps: []PackedStep{}}
	if out.Slope == 0 && out.Offset == 0 {
		out.Slope = 1
	}
	cubes := map[string][]byte{}
	for _, op := range p.Ops {
		if err := out.add(op, cubes); err != nil {
			return nil, nil, err
		}
	}
	return out, cubes, nil
}

func (out *Packed) texel(v ...float64) {
	var t [4]float32
	for i, x := range v {
		t[i] = float32(x)
	}
	out.Texels = append(out.Texels, t[:]...)
}

func (out *Packed) three(v [3]float64, last float64) { out.texel(v[0], v[1], v[2], last) }

func (out *Packed) add(op picture.Op, cubes map[string][]byte) error {
	s := PackedStep{Form: op.Kind(), At: len(out.Texels) / 4}
	none := func(what string) error {
		return fault.New(fault.Input, "page-op", "Render and verify use it as it is; only the page can't show it.", "the page can't show %s", what)
	}
	switch op := op.(type) {
	case *picture.Matrix:
		for i := range 3 {
			out.three(op.M[i], op.Offset[i])
		}
	case *picture.Curves:
		if op.Axis == picture.AxisHalf || op.KeepHue || len(op.Samples[1]) != len(op.Samples[0]) || len(op.Samples[2]) != len(op.Samples[0]) {
			return none("a LUT over half floats, or with hue kept, or with channels of different lengths")
		}
		s.Form += " " + string(op.Axis)
		lo, hi := op.Lo, op.Hi
		if op.Axis == picture.AxisAsinh {
			for ch := range 3 {
				lo[ch], hi[ch] = math.Asinh(lo[ch]/op.Scale), math.Asinh(hi[ch]/op.Scale)
			}
		}
		out.three(lo, op.Scale)
		out.three(hi, 0)
		s.Samples = len(op.Samples[0])
		for i := range op.Samples[0] {
			out.texel(op.Samples[0][i], op.Samples[1][i], op.Samples[2][i], 0)
		}
	case *picture.Shift:
		if len(op.Table[1]) != len(op.Table[0]) || len(op.Table[2]) != len(op.Table[0]) {
			return none("a shift with channels of different lengths")
		}
		out.three(op.Weights, op.Lo)
		out.texel(op.Hi)
		s.Samples = len(op.Table[0])
		for i := range op.Table[0] {
			out.texel(op.Table[0][i], op.Table[1][i], op.Table[2][i])
		}
	case *picture.Compress:
		out.three(op.Limit, op.Power)
		out.three(op.Threshold, 0)
		var scale [3]float64 // as in picture.Compress: Limit lands on 1
		for ch := range scale {
			l, t := op.Limit[ch], op.Threshold[ch]
			scale[ch] = (l - t) / math.Pow(math.Pow((1-t)/(l-t), -op.Power)-1, 1/op.Power)
		}
		out.three(scale, 0)
	case *picture.Norm:
		if len(op.Tone) != len(op.Purity) {
			return none("a tone scale with tables of different lengths")
		}
		out.texel(op.Hi, op.Scale, op.Power, math.Asinh(op.Hi/op.Scale))
		s.Samples = len(op.Tone)
		for i := range op.Tone {
			out.texel(op.Tone[i], op.Purity[i])
		}
	case *picture.LUT3D:
		s.Form += " " + string(op.Interp)
		s.Size = op.Size
		out.three(op.Lo, op.Strength)
		out.three(op.Hi, 0)
		s.Cube = packCube(op, cubes)
	case *picture.Range:
		lo, hi := -math.MaxFloat32, math.MaxFloat32
		if op.Min != nil {
			lo = *op.Min
		}
		if op.Max != nil {
			hi = *op.Max
		}
		out.texel(op.Slope, op.Offset, lo, hi)
	case *picture.CDL:
		if op.Style == picture.CDLRev || op.Style == picture.CDLRevNoClamp {
			return none("a colour decision list in reverse")
		}
		s.Form += " " + op.Style
		out.three(op.Slope, op.Saturation)
		out.three(op.Offset, 0)
		out.three(op.Power, 0)
	case *picture.Mix:
		// The colour is set aside, the inner ops run, the two are mixed.
		out.Steps = append(out.Steps, PackedStep{Form: "aside", At: s.At})
		for _, inner := range op.Ops {
			if err := out.add(inner, cubes); err != nil {
				return err
			}
		}
		s.At = len(out.Texels) / 4
		out.texel(op.Strength)
	default:
		return none("a LUT with a step of the kind " + op.Kind())
	}
	out.Steps = append(out.Steps, s)
	return nil
}

func packCube(l *picture.LUT3D, cubes map[string][]byte) string {
	data := make([]byte, 0, 4*len(l.Data))
	for _, x := range l.Data {
		data = binary.LittleEndian.AppendUint32(data, math.Float32bits(float32(x)))
	}
	sum := sha256.Sum256(data)
	id := hex.EncodeToString(sum[:12]) + "-" + strconv.Itoa(l.Size)
	cubes[id] = data
	return id
}

// encodeSamples is how finely the camera's curve is told to the page.
const encodeSamples = 4096

// encodeFirst puts the camera's curve before the program, whose input then is
// scene light.
func (out *LiveProgram) encodeFirst(curve *colour.Curve) error {
	if curve == nil {
		return fault.New(fault.Input, "no-curve", "Turn decode on.", "a mix of lamps can't be shown through a grade without a camera curve")
	}
	const scale, top = 0.005, 64.0 // from a fraction of the noise floor up to over 8 stops from grey
	c := &picture.Curves{Axis: picture.AxisAsinh, Scale: scale}
	samples := make([]float64, encodeSamples)
	lo, hi := math.Asinh(-0.05/scale), math.Asinh(top/scale)
	for i := range samples {
		samples[i] = curve.Encode(scale * math.Sinh(lo+(hi-lo)*float64(i)/(encodeSamples-1)))
	}
	for ch := range 3 {
		c.Lo[ch], c.Hi[ch], c.Samples[ch] = -0.05, top, samples
	}
	first := &Packed{}
	if err := first.add(c, nil); err != nil {
		return fmt.Errorf("encode: %w", err)
	}
	move := len(first.Texels) / 4
	for i := range out.Steps {
		out.Steps[i].At += move
	}
	out.Steps = append(first.Steps, out.Steps...)
	out.Texels = append(first.Texels, out.Texels...)
	out.Slope, out.Offset = 1, 0
	return nil
}
