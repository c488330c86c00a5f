package job

import (
	"fmt"
	"math"
	"path/filepath"

	"lampwise/internal/light"
	"lampwise/internal/optics"
	"lampwise/internal/unit"
)

// planDoubt is what a plan is good for before anything was measured: makers'
// figures, dimmers and walls are seldom nearer (common practice, no source).
const planDoubt unit.Stop = 0.5

// measuredDoubt is what is left once a lamp was measured on the set: the plan
// may still err from place to place.
const measuredDoubt unit.Stop = 0.15

// Planned is what a plan comes to: docs/json.md, plan.
type Planned struct {
	File     string           `json:"file"`
	Title    string           `json:"title"`
	Readings []PlannedReading `json:"readings"`
	Ratios   PlannedRatios    `json:"ratios"`
	Lamps    []PlannedLamp    `json:"lamps"`
	Falloff  []PlannedShift   `json:"falloff"`
	Exposure PlannedExposure  `json:"exposure"`
	Lens     PlannedLens      `json:"lens"`
	Power    PlannedPower     `json:"power"`
	Cautions []string         `json:"cautions"`
	Notes    []string         `json:"notes"`
	// Files are the drawings, by what they show.
	Files  map[string]string `json:"files,omitempty"`
	Met    *PlanMet          `json:"met,omitempty"`    // beside a learned set
	Solved *PlanSolved       `json:"solved,omitempty"` // what was found for the targets

	scene *light.Scene
}

// PlannedReading is what a place reads, all lamps at their levels.
type PlannedReading struct {
	Region      string     `json:"region"`
	Lux         float64    `json:"lux"`
	Stops       *float64   `json:"stops"` // from grey; null: dark
	SE          float64    `json:"se"`    // how far the plan may err, in stops
	Reflectance float64    `json:"reflectance"`
	Bounced     float64    `json:"bounced_share"` // of the light that comes by way of the room
	Corner      float64    `json:"lens_stops"`    // what the lens loses there, off its axis; counted in stops
	Clipped     bool       `json:"clipped"`
	Noise       bool       `json:"in_noise"`
	At          [3]float64 `json:"at"`
	Normal      [3]float64 `json:"normal"`
	Mirrors     []string   `json:"mirrors"` // lamps that it may throw into the lens if it shines
}

// PlannedRatios are the ratios that a lighting is told by.
type PlannedRatios struct {
	KeyToFill       *float64 `json:"key_to_fill"` // (key + fill) : fill, on the lit and the shaded cheek
	LitToShade      *float64 `json:"lit_to_shade_stops"`
	KeyToBackground *float64 `json:"key_to_background_stops"`
	Key             string   `json:"key"`
	Fill            string   `json:"fill"`
	// FillByRoom is how many stops of the shaded cheek's light are the room's doing.
	FillByRoom *float64 `json:"room_lifts_shade_stops"`
}

// PlannedLamp is what one lamp does.
type PlannedLamp struct {
	Name          string              `json:"name"`
	Kind          string              `json:"kind,omitempty"`
	Level         float64             `json:"level"`
	Lumens        float64             `json:"lumens"` // at full
	Lux           map[string]float64  `json:"lux"`    // at its level, alone
	Bounced       map[string]float64  `json:"bounced_lux"`
	Stops         map[string]*float64 `json:"stops"` // alone, from grey
	SE            float64             `json:"se"`
	RoomMean      float64             `json:"room_mean_lux"` // the customary estimate
	Distance      float64             `json:"distance_m"`    // to the face
	InverseSquare float64             `json:"inverse_square_from_m"`
	Kelvin        *float64            `json:"cct"`
	MiredToKey    *float64            `json:"mired_to_key"`
	MiredToWhite  *float64            `json:"mired_to_white"`
	Looks         string              `json:"looks"`
	Shown         *[3]float64         `json:"shown_bt709"`    // its colour on the screen, linear, brightest channel 1; null: not known
	Measured      *float64            `json:"measured_stops"` // taken on from the set
	Flicker       string              `json:"flicker,omitempty"`
	Cable         float64             `json:"cable_m,omitempty"` // along the walls and up to the lamp
}

// PlannedShift is how a place changes when the subject moves.
type PlannedShift struct {
	Region string  `json:"region"`
	Toward string  `json:"toward"`
	Metres float64 `json:"metres"`
	Stops  float64 `json:"stops"`
}

// PlanRequest asks for a plan's figures.
type PlanRequest struct{ File string }

// PlanFile reads a plan and computes all of it.
func PlanFile(r PlanRequest) (*Planned, error) {
	p, err := light.Load(r.File)
	if err != nil {
		return nil, err
	}
	return plan(p, r.File)
}

func plan(p *light.Plan, file string) (*Planned, error) {
	webs, err := loadWebs(p, filepath.Dir(file))
	if err != nil {
		return nil, err
	}
	s, err := light.NewScene(p, webs)
	if err != nil {
		return nil, err
	}
	return planScene(s, file)
}

// planScene computes all of a plan that is ready.
func planScene(s *light.Scene, file string) (*Planned, error) {
	p := s.Plan
	out := &Planned{File: file, Title: p.Title, Readings: []PlannedReading{}, Lamps: []PlannedLamp{}, Falloff: []PlannedShift{}, Notes: []string{}, scene: s}
	if err := out.exposure(); err != nil {
		return nil, err
	}
	out.read()
	out.expose()
	out.lens()
	out.colours()
	out.flickers()
	out.power()
	out.cables()
	out.cautions()
	for _, f := range s.Falloff() {
		out.Falloff = append(out.Falloff, PlannedShift{f.Place, f.Toward, float64(p.Subject.Move), float64(f.Stops)})
	}
	return out, nil
}

// settings are the camera's, for optics.
func cameraSettings(c *light.CameraPlan) optics.Settings {
	return optics.Settings{N: c.N, T: c.Transmission, Time: c.Time, S: c.Sensitivity, Density: optics.DensityOf(c.ND)}
}

// read fills in lamps, readings and ratios.
func (out *Planned) read() {
	s := out.scene
	p := s.Plan
	set := cameraSettings(&p.Camera)
	clip, floor := out.Exposure.Clip, out.Exposure.Floor
	for i := range p.Lamps {
		l := &p.Lamps[i]
		pl := PlannedLamp{
			Name: l.Name, Kind: l.Kind, Level: *l.Level, Lumens: float64(s.Flux(i)), Lux: map[string]float64{}, Bounced: map[string]float64{},
			Stops: map[string]*float64{}, SE: float64(lampDoubt(l)), RoomMean: float64(s.Mean(i)), Distance: float64(s.Distance(i, s.Head())),
			InverseSquare: float64(s.InverseSquareFrom(i, 0.05)),
		}
		if in := s.IntoWall(i); in > 0.005 {
			out.Notes = append(out.Notes, fmt.Sprintf("Lamp %s reaches %.2f m through a wall, the floor or the ceiling: move it, turn it or check its size.", l.Name, float64(in)))
		}
		if l.Measured != nil {
			v := float64(*l.Measured)
			pl.Measured = &v
		}
		out.Lamps = append(out.Lamps, pl)
	}
	if name := s.Between(s.Eye(), s.Head()); name != "" {
		out.Notes = append(out.Notes, fmt.Sprintf("The camera doesn't see the face: %s stands between them.", name))
	}
	for _, place := range s.Places {
		lit := s.Read(place)
		r := PlannedReading{Region: place.Name, Mirrors: out.mirrored(place, lit)}
		sum, bounced, doubt := 0.0, 0.0, 0.0
		lens := float64(out.offAxis(place.At))
		for i, l := range lit {
			e := float64(l.Total())
			sum += e
			bounced += float64(l.Bounced)
			doubt += e * r.doubtOf(&out.Lamps[i])
			out.Lamps[i].Lux[place.Name] = e
			out.Lamps[i].Bounced[place.Name] = float64(l.Bounced)
			out.Lamps[i].Stops[place.Name] = finite(float64(set.Stops(unit.Lux(e), place.Reflectance)) + lens)
		}
		r.Lux, r.Stops, r.Reflectance, r.Corner = sum, finite(float64(set.Stops(unit.Lux(sum), place.Reflectance))+lens), place.Reflectance, lens
		r.At, r.Normal = [3]float64{place.At.X, place.At.Y, place.At.Z}, [3]float64{place.Normal.X, place.Normal.Y, place.Normal.Z}
		r.SE = float64(planDoubt)
		if sum > 0 {
			// Lamps may all err the same way (walls, the meter): doubts add by share.
			r.Bounced, r.SE = bounced/sum, doubt/sum
		}
		if r.Stops != nil {
			r.Clipped = clip != nil && *r.Stops > *clip
			r.Noise = floor != nil && *r.Stops < *floor
		}
		out.Readings = append(out.Readings, r)
	}
	out.mirrors()
	out.ratios()
}

// offAxis is what the lens loses of a place off its axis, in stops; a place
// outside the picture (by an angle over twice what is seen) isn't recorded and
// loses nothing.
func (out *Planned) offAxis(p light.Vec) unit.Stop {
	s := out.scene
	c := &s.Plan.Camera
	look := light.Vec{X: float64(c.Look[0]), Y: float64(c.Look[1]), Z: float64(c.Look[2])}.Sub(s.Eye()).Unit()
	cos := look.Dot(p.Sub(s.Eye()).Unit())
	angle := unit.Radian(math.Acos(math.Max(-1, math.Min(1, cos)))).Degree()
	if seen := optics.AngleOfView(optics.Sensor{Width: c.Sensor[0], Height: c.Sensor[1]}.Diagonal(), c.Focal); angle > seen {
		return 0
	}
	return unit.StopsOf(optics.Falloff(angle))
}

// lampDoubt is how far a lamp's light may differ from the plan.
func lampDoubt(l *light.LampPlan) unit.Stop {
	if l.Measured == nil {
		return planDoubt
	}
	return unit.Stop(math.Hypot(float64(measuredDoubt), float64(l.MeasuredSE)))
}

func (out *Planned) reading(region string) *PlannedReading {
	for i := range out.Readings {
		if out.Readings[i].Region == region {
			return &out.Readings[i]
		}
	}
	return nil
}

// ratios tells the key from the fill: by their names, else the lamp that gives
// the lit cheek most, and another that gives the shaded cheek most.
func (out *Planned) ratios() {
	named := func(name, region, not string) string {
		best, most := "", 0.0
		for _, l := range out.Lamps {
			if l.Name == name {
				return name
			}
			if l.Name != not && l.Lux[region] > most {
				best, most = l.Name, l.Lux[region]
			}
		}
		return best
	}
	r := &out.Ratios
	r.Key = named("key", light.FaceLit, "")
	r.Fill = named("fill", light.FaceShade, r.Key)
	lit, shade, back := out.reading(light.FaceLit), out.reading(light.FaceShade), out.reading(light.Background)
	if lit.Lux > 0 && shade.Lux > 0 {
		r.KeyToFill = finite(lit.Lux / shade.Lux)
		r.LitToShade = finite(math.Log2(lit.Lux / shade.Lux))
		r.FillByRoom = finite(-math.Log2(1 - shade.Bounced))
	}
	if lit.Stops != nil && back.Stops != nil {
		r.KeyToBackground = finite(*lit.Stops - *back.Stops)
	}
}
