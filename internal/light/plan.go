package light

import "lampwise/internal/unit"

// Schema is the version of the plan file that this program reads and writes.
const Schema = 1

// Plan is a plan file: a room, who is filmed in it, the camera and the lamps.
// Lengths are in metres from the corner at the camera's left: x to the right,
// y away from the front wall, z up. Zero means "not given" where a default is
// stated.
type Plan struct {
	Schema     int             `toml:"schema" json:"schema"`
	Title      string          `toml:"title" json:"title"`
	Room       RoomPlan        `toml:"room" json:"room"`
	Subject    SubjectPlan     `toml:"subject" json:"subject"`
	Background *BackgroundPlan `toml:"background" json:"background,omitempty"`
	Camera     CameraPlan      `toml:"camera" json:"camera"`
	Lamps      []LampPlan      `toml:"lamp" json:"lamp"`
	Things     []ThingPlan     `toml:"thing" json:"thing,omitempty"`
	Places     []PlacePlan     `toml:"place" json:"place,omitempty"`
	Circuits   []CircuitPlan   `toml:"circuit" json:"circuit,omitempty"`
	Targets    []string        `toml:"targets" json:"targets,omitempty"`
	name       string          // of the file
	where      places          // lines of keys
}

// RoomPlan is the room: its inside measures and how much its sides reflect.
type RoomPlan struct {
	Width   unit.Metre `toml:"width" json:"width"`
	Depth   unit.Metre `toml:"depth" json:"depth"`
	Height  unit.Metre `toml:"height" json:"height"`
	Walls   *float64   `toml:"walls" json:"walls,omitempty"` // reflectance, 0..1; 0.5 when not given
	Ceiling *float64   `toml:"ceiling" json:"ceiling,omitempty"`
	Floor   *float64   `toml:"floor" json:"floor,omitempty"`
	Left    *float64   `toml:"left" json:"left,omitempty"` // a wall that differs
	Right   *float64   `toml:"right" json:"right,omitempty"`
	Front   *float64   `toml:"front" json:"front,omitempty"`
	Back    *float64   `toml:"back" json:"back,omitempty"`
}

// SubjectPlan is the person.
type SubjectPlan struct {
	At          []unit.Metre `toml:"at" json:"at"`     // x, y
	Eyes        unit.Metre   `toml:"eyes" json:"eyes"` // height; 1.2 when not given (sitting)
	Facing      *unit.Degree `toml:"facing" json:"facing,omitempty"`
	Reflectance float64      `toml:"reflectance" json:"reflectance"` // of the skin
	Hair        float64      `toml:"hair" json:"hair"`               // of the hair
	Move        unit.Metre   `toml:"move" json:"move"`               // how far to each side the head goes
}

// BackgroundPlan is the patch of the background that is read.
type BackgroundPlan struct {
	At          []unit.Metre `toml:"at" json:"at"`
	Normal      []float64    `toml:"normal" json:"normal,omitempty"`
	Reflectance float64      `toml:"reflectance" json:"reflectance"`
	Finish      string       `toml:"finish" json:"finish,omitempty"` // its coat: matt, satin, gloss
}

// CameraPlan is the camera, its lens and its exposure.
type CameraPlan struct {
	At           []unit.Metre      `toml:"at" json:"at"`
	Look         []unit.Metre      `toml:"look" json:"look,omitempty"`
	Sensor       []unit.Millimetre `toml:"sensor_mm" json:"sensor_mm"`
	Focal        unit.Millimetre   `toml:"focal_mm" json:"focal_mm"`
	N            float64           `toml:"f" json:"f"`
	Transmission float64           `toml:"transmission" json:"transmission"`
	Focus        unit.Metre        `toml:"focus" json:"focus,omitempty"`
	Angle        unit.Degree       `toml:"shutter_deg" json:"shutter_deg,omitempty"`
	Time         unit.Second       `toml:"shutter_s" json:"shutter_s,omitempty"`
	Rate         unit.Hertz        `toml:"rate" json:"rate"`
	Sensitivity  float64           `toml:"sensitivity" json:"sensitivity"`
	ND           unit.Stop         `toml:"nd_stops" json:"nd_stops"`
	Curve        string            `toml:"curve" json:"curve,omitempty"`
	Clip         *unit.Stop        `toml:"clip_stops" json:"clip_stops,omitempty"`
	Floor        *unit.Stop        `toml:"floor_stops" json:"floor_stops,omitempty"`
	Balance      unit.Kelvin       `toml:"white_balance" json:"white_balance,omitempty"`
	Mains        unit.Hertz        `toml:"mains_hz" json:"mains_hz"`
	Lines        int               `toml:"lines" json:"lines"`
}

// LampPlan is a lamp.
type LampPlan struct {
	Name        string                     `toml:"name" json:"name"`
	Kind        string                     `toml:"kind" json:"kind,omitempty"`
	Shape       string                     `toml:"shape" json:"shape"`
	Size        []unit.Metre               `toml:"size" json:"size,omitempty"`
	At          []unit.Metre               `toml:"at" json:"at"`
	Aim         any                        `toml:"aim" json:"aim,omitempty"` // a place's name, or x, y, z
	Turn        unit.Degree                `toml:"turn" json:"turn,omitempty"`
	Level       *float64                   `toml:"level" json:"level,omitempty"`
	Lowest      float64                    `toml:"lowest" json:"lowest,omitempty"`
	Lux         unit.Lux                   `toml:"lux" json:"lux,omitempty"`
	Distance    unit.Metre                 `toml:"distance" json:"distance,omitempty"`
	Lumens      unit.Lumen                 `toml:"lumens" json:"lumens,omitempty"`
	Luminance   unit.CandelaPerSquareMetre `toml:"luminance" json:"luminance,omitempty"`
	Photometry  string                     `toml:"photometry" json:"photometry,omitempty"`
	Beam        unit.Degree                `toml:"beam" json:"beam,omitempty"`
	Field       unit.Degree                `toml:"field" json:"field,omitempty"`
	Grid        unit.Degree                `toml:"grid" json:"grid,omitempty"`
	Diffusion   *DiffusionPlan             `toml:"diffusion" json:"diffusion,omitempty"`
	Kelvin      unit.Kelvin                `toml:"kelvin" json:"kelvin,omitempty"`
	Coloured    bool                       `toml:"coloured" json:"coloured,omitempty"`
	Gel         unit.Mired                 `toml:"gel_mired" json:"gel_mired,omitempty"`
	GelLoss     unit.Stop                  `toml:"gel_loss_stops" json:"gel_loss_stops,omitempty"`
	Dimming     string                     `toml:"dimming" json:"dimming,omitempty"` // steady, pulse, mains
	Pulse       unit.Hertz                 `toml:"pulse_hz" json:"pulse_hz,omitempty"`
	Watts       unit.Watt                  `toml:"watts" json:"watts,omitempty"`
	PowerFactor float64                    `toml:"power_factor" json:"power_factor,omitempty"`
	Circuit     string                     `toml:"circuit" json:"circuit,omitempty"`
	Ambient     bool                       `toml:"ambient" json:"ambient,omitempty"`
	Measured    *unit.Stop                 `toml:"measured_stops" json:"measured_stops,omitempty"`
	MeasuredSE  unit.Stop                  `toml:"measured_se" json:"measured_se,omitempty"`
}

// DiffusionPlan is a diffusion frame in front of a lamp.
type DiffusionPlan struct {
	Size         []unit.Metre `toml:"size" json:"size"`
	Distance     unit.Metre   `toml:"distance" json:"distance"` // from the lamp
	Transmission float64      `toml:"transmission" json:"transmission"`
	Spread       *float64     `toml:"spread" json:"spread,omitempty"` // share of what comes through that is spread all round; 1 when not given
}

// ThingPlan is a box that stands in the room: a bench, a shelf, a flag.
type ThingPlan struct {
	Name        string       `toml:"name" json:"name"`
	At          []unit.Metre `toml:"at" json:"at"` // its middle
	Size        []unit.Metre `toml:"size" json:"size"`
	Turn        unit.Degree  `toml:"turn" json:"turn,omitempty"` // about the vertical, anticlockwise seen from above
	Reflectance float64      `toml:"reflectance" json:"reflectance"`
	Quiet       bool         `toml:"quiet" json:"quiet,omitempty"` // drawings leave its name out
}

// PlacePlan is a place to read, or another position of a place that the plan
// has by itself. Given several times under one name, they're spots of one place,
// which reads their mean.
type PlacePlan struct {
	Name        string       `toml:"name" json:"name"`
	At          []unit.Metre `toml:"at" json:"at"`
	Normal      []float64    `toml:"normal" json:"normal"`
	Reflectance float64      `toml:"reflectance" json:"reflectance"`
	Finish      string       `toml:"finish" json:"finish,omitempty"` // its coat: matt, satin, gloss, skin; on the face skin, else matt, when not given
}

// CircuitPlan is a circuit with its breaker.
type CircuitPlan struct {
	Name    string      `toml:"name" json:"name"`
	Volts   unit.Volt   `toml:"volts" json:"volts"`
	Breaker unit.Ampere `toml:"breaker" json:"breaker"`
	Other   unit.Watt   `toml:"other_watts" json:"other_watts,omitempty"` // what else hangs on it
	// At is where its socket is, x and y, for drawing the cables.
	At []unit.Metre `toml:"at" json:"at,omitempty"`
}

// Lamp shapes.
const (
	ShapePoint = "point" // a bulb, or a photometric file
	ShapeBeam  = "beam"
	ShapeRect  = "rectangle"
	ShapeDisc  = "disc"
	ShapeBall  = "ball"
	ShapeTube  = "tube"
)

// Place names, as the rest of the program has them (lamps' regions).
const (
	FaceLit    = "face-lit"
	FaceShade  = "face-shade"
	Hair       = "hair"
	Background = "background"
	Card       = "card"
)
