package job

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/optics"
	"lampwise/internal/unit"
)

// ExposureRequest asks what an exposure comes to.
type ExposureRequest struct {
	F            float64
	Transmission float64
	Angle, Time  float64 // degrees, or seconds; one of them
	Rate         float64
	Sensitivity  float64
	ND           float64 // stops
	Mains        float64
	Lux          float64 // measured; 0: none
	Luminance    float64 // measured, cd/m²; 0: none
	Curve        string
}

// ExposureFigures is the answer: docs/json.md, exposure.
type ExposureFigures struct {
	PlannedExposure
	ReflectedGrey float64       `json:"reflected_grey_cdm2"` // luminance the settings are for, K = 12.5
	Hemisphere    float64       `json:"hemisphere_lux"`      // the same for a meter with a dome, C = 340
	Implied       float64       `json:"implied_grey"`        // reflectance on which both meters agree
	Lux           *float64      `json:"lux"`
	LuxStops      *float64      `json:"lux_stops"` // of an 18 % card under it
	FForLux       *float64      `json:"f_for_lux"`
	NDForLux      *float64      `json:"nd_for_lux_stops"`
	Spot          *float64      `json:"luminance_stops"` // of what has that luminance
	Card          *ExposureCard `json:"card"`
}

// ExposureCard is what a log curve makes of reflectances.
type ExposureCard struct {
	Curve string            `json:"curve"`
	Rows  []ExposureCardRow `json:"rows"`
	// ZebraSkin and ZebraClip are where to set the camera's zebra, in per cent of
	// its waveform (narrow range): skin from … to …, and clip.
	ZebraSkin [2]float64 `json:"zebra_skin_percent"`
	ZebraClip float64    `json:"zebra_clip_percent"`
	TopStops  float64    `json:"top_stops"`
}

// ExposureCardRow is one reflectance.
type ExposureCardRow struct {
	Name        string   `json:"name"`
	Reflectance float64  `json:"reflectance"`
	Stops       *float64 `json:"stops"` // from grey; null: black
	Code        float64  `json:"code_10bit"`
	Percent     float64  `json:"percent"`
}

// cardPatches are the reflectances of the card. Skin's are common practice, no
// source: dark skin about 0.08, light skin about 0.36.
var cardPatches = []struct {
	name string
	rho  float64
}{{"black", 0}, {"dark skin", 0.08}, {"grey card", optics.GreyCard}, {"light skin", 0.36}, {"white card", 0.90}}

// skinStops is the range of skin in stops from grey when the face is exposed
// as usual: light skin a stop over, less a stop for its shaded side.
var skinStops = [2]unit.Stop{0, 1}

// clipMargin is how far under the curve's end a clip warning is set.
const clipMargin unit.Stop = 1.0 / 3

// Exposure computes an exposure's figures.
func Exposure(r ExposureRequest) (*ExposureFigures, error) {
	bad := func(what string) error {
		return fault.New(fault.Usage, "exposure", "For example: lampwise exposure --f 2.8 --shutter 180 --rate 25 --sensitivity 800", "%s", what)
	}
	positive := func(v float64) bool { return v > 0 && !math.IsInf(v, 0) }
	switch {
	case !positive(r.F) || r.F > 128:
		return nil, bad(fmt.Sprintf("f/%g is no f-number", r.F))
	case !positive(r.Rate) || r.Rate > 2000:
		return nil, bad(fmt.Sprintf("%g pictures a second can't be", r.Rate))
	case !positive(r.Sensitivity):
		return nil, bad(fmt.Sprintf("a sensitivity of %g can't be", r.Sensitivity))
	case !(r.ND >= 0 && r.ND <= 30):
		return nil, bad(fmt.Sprintf("ND of %g stops can't be", r.ND))
	case !(r.Transmission > 0 && r.Transmission <= 1):
		return nil, bad(fmt.Sprintf("a lens lets through 0 to 1 of the light, not %g", r.Transmission))
	case r.Mains != 50 && r.Mains != 60:
		return nil, bad(fmt.Sprintf("the mains have 50 or 60 Hz, not %g", r.Mains))
	case !(r.Lux >= 0) || !(r.Luminance >= 0) || math.IsInf(r.Lux+r.Luminance, 0):
		return nil, bad("light can't be negative or endless")
	}
	time := unit.Second(r.Time)
	if r.Time == 0 {
		if !(r.Angle > 0 && r.Angle <= 360) {
			return nil, bad(fmt.Sprintf("a shutter angle is 0 to 360 degrees, not %g", r.Angle))
		}
		time = optics.ShutterTime(unit.Degree(r.Angle), unit.Hertz(r.Rate))
	}
	if !positive(float64(time)) || float64(time)*r.Rate > 1+1e-9 {
		return nil, bad(fmt.Sprintf("an exposure of %g s doesn't fit between pictures %g s apart", float64(time), 1/r.Rate))
	}
	s := optics.Settings{N: r.F, T: r.Transmission, Time: time, S: r.Sensitivity, Density: optics.DensityOf(unit.Stop(r.ND))}
	out := &ExposureFigures{
		PlannedExposure: PlannedExposure{
			F: r.F, T: s.TStop(), Time: float64(time), Angle: float64(optics.ShutterAngle(time, unit.Hertz(r.Rate))), Rate: r.Rate,
			Sensitivity: r.Sensitivity, ND: r.ND, NDDensity: s.Density, EV100: s.EV100(), GreyLux: float64(s.GreyLux()), Curve: r.Curve,
			Safe: []PlanSafe{}, MainsHz: r.Mains, Ripple: float64(optics.Ripple(time, unit.Hertz(r.Mains))),
		},
		ReflectedGrey: float64(s.Luminance(optics.ReflectedK)), Hemisphere: float64(s.Lux(optics.HemisphereC)),
		Implied: optics.ImpliedGrey(optics.ReflectedK, optics.FlatC),
	}
	out.IsSafe = unit.Stop(out.Ripple) <= safeRipple
	for _, v := range optics.SafeTimes(unit.Hertz(r.Mains), unit.Hertz(r.Rate)) {
		out.Safe = append(out.Safe, PlanSafe{float64(v.Time), float64(v.Angle)})
	}
	if r.Lux > 0 {
		e := unit.Lux(r.Lux)
		stops := float64(s.Stops(e, optics.GreyCard))
		out.Lux, out.LuxStops, out.FForLux = &r.Lux, &stops, finite(s.FNumberFor(e))
		if nd := stops + r.ND; nd > 0 {
			out.NDForLux = &nd
		}
	}
	if r.Luminance > 0 {
		// Of the light that a matt surface of 18 % would need to look like that.
		out.Spot = finite(float64(s.Stops(unit.Lux(r.Luminance*math.Pi), 1)))
	}
	if r.Curve != "" {
		card, err := exposureCard(r.Curve)
		if err != nil {
			return nil, err
		}
		out.Card = card
		out.Clip, out.ClipFrom = &card.TopStops, "the curve's last code"
	}
	return out, nil
}

// exposureCard is a curve's card.
func exposureCard(id string) (*ExposureCard, error) {
	c, err := colour.CurveByID(id)
	if err != nil {
		return nil, err
	}
	card := &ExposureCard{Curve: c.ID, TopStops: float64(c.StopsAtTop())}
	row := func(name string, x float64) {
		card.Rows = append(card.Rows, ExposureCardRow{name, x, finite(math.Log2(x / colour.Grey)), float64(c.Code10(x)), float64(c.NarrowPercent(x))})
	}
	for _, p := range cardPatches {
		row(p.name, p.rho)
	}
	for stop := 3; unit.Stop(stop) < c.StopsAtTop(); stop++ {
		row(fmt.Sprintf("%+d stops", stop), colour.Grey*unit.Stop(stop).Factor())
	}
	for i, s := range skinStops {
		card.ZebraSkin[i] = float64(c.NarrowPercent(colour.Grey * s.Factor()))
	}
	card.ZebraClip = float64(c.NarrowPercent(colour.Grey * (c.StopsAtTop() - clipMargin).Factor()))
	return card, nil
}

// LensRequest asks what a lens sees.
type LensRequest struct {
	Focal         float64 // mm
	Sensor        [2]float64
	F             float64
	Focus         float64 // m
	Subject       float64 // m; 0: in focus
	Background    float64 // m; 0: twice as far
	Lines         int
	Width, Height float64 // of what is to be framed, m; 0: not asked
}

// LensFigures is the answer: docs/json.md, lens.
type LensFigures struct {
	PlannedLens
	F        float64  `json:"f"`
	DistFor  *float64 `json:"distance_for_m"` // at which the lens frames what is asked
	FocalFor *float64 `json:"focal_for_mm"`   // that frames it from the subject's distance
	File     *string  `json:"file"`           // the drawing; null when not asked
}

// Lens computes a lens's figures.
func Lens(r LensRequest) (*LensFigures, error) {
	bad := func(hint, what string) error {
		return fault.New(fault.Usage, "lens", hint, "%s", what)
	}
	example := "For example: lampwise lens --focal 35 --f 2.8 --distance 2"
	switch {
	case !(r.Focal >= 2 && r.Focal <= 2000):
		if r.Focal > 0 && r.Focal < 2 {
			example = fmt.Sprintf("The focal length is in millimetres; %g looks like metres: write %g.", r.Focal, r.Focal*1000)
		}
		return nil, bad(example, fmt.Sprintf("a focal length of %g mm can't be", r.Focal))
	case !(r.F >= 0.5 && r.F <= 128):
		return nil, bad(example, fmt.Sprintf("f/%g is no f-number", r.F))
	case !(r.Sensor[0] >= 2 && r.Sensor[0] <= 80 && r.Sensor[1] >= 2 && r.Sensor[1] <= 80):
		return nil, bad("Width and height of what is recorded, in millimetres: --sensor 36x20.25", fmt.Sprintf("a sensor of %g × %g mm can't be", r.Sensor[0], r.Sensor[1]))
	case !(r.Focus > r.Focal/1000 && r.Focus <= 1000):
		if r.Focus >= 1000 {
			example = fmt.Sprintf("Distances are in metres; %g looks like millimetres: write %g.", r.Focus, r.Focus/1000)
		}
		return nil, bad(example, fmt.Sprintf("a distance of %g m can't be", r.Focus))
	case !(r.Subject >= 0 && r.Background >= 0 && r.Subject <= 1e5 && r.Background <= 1e5):
		return nil, bad(example, "distances can't be negative or endless")
	case r.Lines < 100 || r.Lines > 10000:
		return nil, bad(example, fmt.Sprintf("a picture of %d lines can't be", r.Lines))
	case !(r.Width >= 0 && r.Height >= 0 && r.Width <= 1e4 && r.Height <= 1e4):
		return nil, bad(example, "what is framed can't be negative or endless")
	}
	if r.Subject == 0 {
		r.Subject = r.Focus
	}
	if r.Background == 0 {
		r.Background = 2 * r.Subject
	}
	f := unit.Millimetre(r.Focal)
	sensor := optics.Sensor{Width: unit.Millimetre(r.Sensor[0]), Height: unit.Millimetre(r.Sensor[1])}
	out := &LensFigures{PlannedLens: lensFigures(sensor, f, r.F, unit.Metre(r.Focus), unit.Metre(r.Subject), unit.Metre(r.Background), r.Lines), F: r.F}
	if r.Width > 0 || r.Height > 0 {
		// The larger of both asks; thin lens: s = f·(1 + what/sensor).
		k := math.Max(r.Width*1000/r.Sensor[0], r.Height*1000/r.Sensor[1])
		out.DistFor = finite(r.Focal / 1000 * (1 + k))
		out.FocalFor = finite(r.Subject * 1000 / (1 + k))
	}
	return out, nil
}
