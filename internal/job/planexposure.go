package job

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/light"
	"lampwise/internal/optics"
	"lampwise/internal/unit"
)

// PlannedExposure is the camera's exposure and what it makes of the light.
type PlannedExposure struct {
	F           float64      `json:"f"`
	T           float64      `json:"t"`
	Time        float64      `json:"time_s"`
	Angle       float64      `json:"shutter_deg"`
	Rate        float64      `json:"rate"`
	Sensitivity float64      `json:"sensitivity"`
	ND          float64      `json:"nd_stops"`
	NDDensity   float64      `json:"nd_density"`
	EV100       float64      `json:"ev100"`
	GreyLux     float64      `json:"grey_lux"` // at which an 18 % card reads 0
	Curve       string       `json:"curve,omitempty"`
	Clip        *float64     `json:"clip_stops"`
	ClipFrom    string       `json:"clip_from"`
	Floor       *float64     `json:"floor_stops"`
	Headroom    *float64     `json:"headroom_stops"` // from the brightest place to clip
	Over        *float64     `json:"card_stops"`     // how far the card at the face is from grey
	FForGrey    *float64     `json:"f_for_grey"`     // f-number that puts the card at grey
	NDForGrey   *float64     `json:"nd_for_grey_stops"`
	Safe        []PlanSafe   `json:"mains_safe"`
	MainsHz     float64      `json:"mains_hz"`
	IsSafe      bool         `json:"is_mains_safe"`
	Ripple      float64      `json:"ripple_stops"` // of a lamp that pulses wholly, at this time
	Scale       []PlanDetent `json:"-"`
}

// PlanSafe is an exposure time at which the mains don't show.
type PlanSafe struct {
	Time  float64 `json:"time_s"`
	Angle float64 `json:"shutter_deg"`
}

// PlanDetent is an f-number of the lens and the lux that it's right for.
type PlanDetent struct {
	F   float64
	Lux float64
}

// safeTolerance is how far an exposure time may be from a whole number of the
// lamp's pulses: a pulse wholly on and off then differs by under a hundredth
// of a stop (optics.Ripple).
const safeRipple unit.Stop = 0.01

// exposure fills in all that doesn't hang on the light.
func (out *Planned) exposure() error {
	c := &out.scene.Plan.Camera
	set := cameraSettings(c)
	e := &out.Exposure
	*e = PlannedExposure{
		F: c.N, T: set.TStop(), Time: float64(c.Time), Angle: float64(optics.ShutterAngle(c.Time, c.Rate)), Rate: float64(c.Rate),
		Sensitivity: c.Sensitivity, ND: float64(c.ND), NDDensity: set.Density, EV100: set.EV100(), GreyLux: float64(set.GreyLux()),
		Curve: c.Curve, Safe: []PlanSafe{}, MainsHz: float64(c.Mains), Ripple: float64(optics.Ripple(c.Time, c.Mains)),
	}
	e.IsSafe = unit.Stop(e.Ripple) <= safeRipple
	for _, s := range optics.SafeTimes(c.Mains, c.Rate) {
		e.Safe = append(e.Safe, PlanSafe{float64(s.Time), float64(s.Angle)})
	}
	if c.Floor != nil {
		v := float64(*c.Floor)
		e.Floor = &v
	} else {
		out.Notes = append(out.Notes, "The camera's noise floor isn't known: give floor_stops under [camera] (learn measures it), and readings below it are marked.")
	}
	switch {
	case c.Clip != nil:
		v := float64(*c.Clip)
		e.Clip, e.ClipFrom = &v, "the plan"
	case c.Curve != "":
		curve, err := colour.CurveByID(c.Curve)
		if err != nil {
			return inFile(out.File, err)
		}
		e.Clip, e.ClipFrom = finite(float64(curve.StopsAtTop())), "the curve's last code"
		out.Notes = append(out.Notes, "Clip is taken from the curve's last code; many cameras clip below it: learn measures where.")
	default:
		out.Notes = append(out.Notes, "Where the recording clips isn't known: give curve or clip_stops under [camera].")
	}
	return nil
}

// expose fills in what hangs on the light.
func (out *Planned) expose() {
	e := &out.Exposure
	set := cameraSettings(&out.scene.Plan.Camera)
	most := math.Inf(-1)
	for _, r := range out.Readings {
		if r.Stops != nil && r.Region != light.Card {
			most = math.Max(most, *r.Stops)
		}
	}
	if e.Clip != nil {
		e.Headroom = finite(*e.Clip - most)
	}
	card := out.reading(light.Card)
	if card.Lux > 0 {
		e.Over = finite(math.Log2(card.Lux / e.GreyLux))
		e.FForGrey = finite(set.FNumberFor(unit.Lux(card.Lux)))
		if nd := *e.Over + e.ND; nd > 0 {
			e.NDForGrey = &nd
		}
	}
}

// PlannedLens is what the lens sees.
type PlannedLens struct {
	Focal      float64  `json:"focal_mm"`
	Horizontal float64  `json:"angle_h_deg"`
	Vertical   float64  `json:"angle_v_deg"`
	Diagonal   float64  `json:"angle_d_deg"`
	Distance   float64  `json:"subject_m"`
	Focus      float64  `json:"focus_m"`
	Width      float64  `json:"frame_width_m"`
	Height     float64  `json:"frame_height_m"`
	Head       float64  `json:"head_share"` // of the picture's height
	Near       float64  `json:"near_m"`
	Far        *float64 `json:"far_m"` // null: infinity
	Hyperfocal float64  `json:"hyperfocal_m"`
	Circle     float64  `json:"circle_mm"`
	Sharp      bool     `json:"subject_sharp"`
	Background float64  `json:"background_m"`
	BackWidth  float64  `json:"background_width_m"`
	Blur       float64  `json:"background_blur_share"` // of the picture's height
}

// headHeight is a grown person's, chin to crown.
const headHeight = 0.23

func (out *Planned) lens() {
	c := &out.scene.Plan.Camera
	s := out.scene
	sensor := optics.Sensor{Width: c.Sensor[0], Height: c.Sensor[1]}
	subject := unit.Metre(s.Head().Sub(s.Eye()).Length())
	focus := c.Focus
	if focus == 0 {
		focus = subject
	}
	out.Lens = lensFigures(sensor, c.Focal, c.N, focus, subject, unit.Metre(out.backdrop().Sub(s.Eye()).Length()), c.Lines)
	if !out.Lens.Sharp {
		out.Notes = append(out.Notes, fmt.Sprintf("The subject, %.2f m away, is not in focus: sharp from %.2f m.", out.Lens.Distance, out.Lens.Near))
	}
}

func (out *Planned) backdrop() light.Vec {
	r := out.reading(light.Background)
	return light.Vec{X: r.At[0], Y: r.At[1], Z: r.At[2]}
}

// lensFigures are a lens's figures for a subject and a background.
func lensFigures(sensor optics.Sensor, f unit.Millimetre, n float64, focus, subject, background unit.Metre, lines int) PlannedLens {
	circle := optics.Delivery{Lines: lines}.Circle(sensor)
	d := optics.DepthOfField(f, n, circle, focus)
	l := PlannedLens{
		Focal: float64(f), Horizontal: float64(optics.AngleOfView(sensor.Width, f)), Vertical: float64(optics.AngleOfView(sensor.Height, f)),
		Diagonal: float64(optics.AngleOfView(sensor.Diagonal(), f)), Distance: float64(subject), Focus: float64(focus),
		Width: float64(optics.SeenAt(sensor.Width, f, focus, subject)), Height: float64(optics.SeenAt(sensor.Height, f, focus, subject)),
		Near: float64(d.Near), Far: finite(float64(d.Far)), Hyperfocal: float64(optics.Hyperfocal(f, n, circle)), Circle: float64(circle),
		Sharp: subject >= d.Near && subject <= d.Far, Background: float64(background),
		BackWidth: float64(optics.SeenAt(sensor.Width, f, focus, background)),
		Blur:      float64(optics.BlurDisc(f, n, focus, background) / sensor.Height),
	}
	l.Head = headHeight / l.Height
	return l
}
