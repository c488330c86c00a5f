package demo

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"

	"github.com/google/renameio/v2/maybe"

	"lampwise/internal/fault"
)

// Truth is what the example knows of itself: every number a measurement of
// the clips could be held to. It's written as truth.json beside them.
type Truth struct {
	About  string      `json:"about"`
	Seed   uint64      `json:"seed"`
	Width  int         `json:"width"`
	Height int         `json:"height"`
	Rate   int         `json:"frames_per_s"`
	Order  string      `json:"order"` // of the switch clip
	Camera TruthCamera `json:"camera"`
	Lamps  []TruthLamp `json:"lamps"`
	// Regions are boxes in pixels of the frame, in the reference pose.
	Regions  map[string][4]float64 `json:"regions_px"` // x, y, width, height
	Readings map[string]Reading    `json:"readings"`   // of the reference mix
	Clips    []TruthClip           `json:"clips"`
	Pictures TruthPictures         `json:"lamp_pictures"`
}

// TruthCamera is the camera's numbers.
type TruthCamera struct {
	Curve        string     `json:"curve"`
	Gamut        string     `json:"gamut"`
	WhiteXY      [2]float64 `json:"white_balance_xy"`
	WhiteKelvin  float64    `json:"white_balance_k"`
	ClipStops    float64    `json:"clip_stops_over_grey"`
	ClipCode     float64    `json:"clip_code"` // Y′ code of a clipped neutral
	Electrons    [3]float64 `json:"electrons_at_clip"`
	ReadNoise    [3]float64 `json:"read_noise_electrons"`
	PatternRMS   float64    `json:"fixed_pattern_rms"`
	FrameLeaning float64    `json:"temporal_noise_reduction"`
}

// TruthLamp is one lamp, with what it gives in every region at its reference level.
type TruthLamp struct {
	Name     string             `json:"name"`
	Level    float64            `json:"level"`
	Kelvin   float64            `json:"cct_at_full_k,omitempty"`
	AtLevelK float64            `json:"cct_at_level_k,omitempty"`
	Duv      float64            `json:"duv"`
	Filament bool               `json:"filament,omitempty"`
	Ambient  bool               `json:"ambient,omitempty"`
	Stops    map[string]float64 `json:"stops"` // in each region alone, stops from grey of the green channel; absent where there's none
}

// Reading is a region's mean scene-linear camera RGB.
type Reading struct {
	RGB   [3]float64 `json:"rgb"`
	Stops float64    `json:"stops"` // of the green channel from 0.18
}

// TruthClip is one clip.
type TruthClip struct {
	Name       string        `json:"name"`
	File       string        `json:"file"`
	About      string        `json:"about,omitempty"`
	Frames     int           `json:"frames"`
	Coding     string        `json:"coding"` // "intra" or "long-gop"
	Holds      []Hold        `json:"holds"`
	Levels     []LevelRange  `json:"levels"`
	Drift      []float64     `json:"drift_stops"` // of each lamp against the reference
	CameraGain float64       `json:"camera_gain_stops"`
	Pose       Pose          `json:"pose"`
	Breathing  []BreathRange `json:"breathing,omitempty"`
}

// LevelRange is a run of frames with the same levels.
type LevelRange struct {
	First  int       `json:"first"`
	Last   int       `json:"last"`
	Levels []float64 `json:"levels"`
}

// BreathRange is a run of frames in which the focus moved the picture's scale.
type BreathRange struct {
	Frame int     `json:"frame"`
	Scale float64 `json:"scale"`
}

// TruthPictures says where the linear lamp pictures are and how to read them.
type TruthPictures struct {
	File   string   `json:"file"`
	Width  int      `json:"width"`
	Height int      `json:"height"`
	Names  []string `json:"names"`
	Format string   `json:"format"`
}

// reading averages a box of a frame-sized picture of native light.
func (s *Studio) reading(c *Camera, mix []float32, m mark) Reading {
	x0, y0 := max(0, int(math.Round(float64(m.x)))), max(0, int(math.Round(float64(m.y))))
	x1 := min(s.Width, max(x0+1, int(math.Round(float64(m.x+m.w)))))
	y1 := min(s.Height, max(y0+1, int(math.Round(float64(m.y+m.h)))))
	var sum [3]float64
	n := 0.0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			at := 3 * (y*s.Width + x)
			rgb := c.Expose([3]float64{float64(mix[at]), float64(mix[at+1]), float64(mix[at+2])})
			for i := range sum {
				sum[i] += rgb[i]
			}
			n++
		}
	}
	for i := range sum {
		sum[i] /= n
	}
	return Reading{RGB: sum, Stops: math.Log2(sum[1] / 0.18)}
}

// Levels are the lamps' levels in the reference mix, ambient last.
func (s *Studio) Levels() []float64 {
	v := make([]float64, len(s.lamps))
	for i := range v {
		v[i] = s.lamps[i].Level
	}
	return v
}

func (s *Studio) truth(c *Camera, seed uint64) *Truth {
	t := &Truth{
		About: "generated example: a bicycle mechanic in a one-car garage; lamp levels are fractions of full light; stops are from 18 % grey",
		Seed:  seed, Width: s.Width, Height: s.Height, Rate: Rate, Order: orderText(),
		Camera: TruthCamera{
			Curve: c.Curve.ID, Gamut: c.Gamut.ID, WhiteXY: [2]float64{c.White.X, c.White.Y}, WhiteKelvin: 5000,
			ClipStops: ClipStops, ClipCode: c.ClipCode(), Electrons: c.Electrons, ReadNoise: c.ReadNoise,
			PatternRMS: c.Pattern, FrameLeaning: c.Smoothing,
		},
		Regions: map[string][4]float64{}, Readings: map[string]Reading{},
	}
	all := s.Mix(s.Levels())
	for _, m := range s.marks {
		t.Regions[m.name] = [4]float64{float64(m.x), float64(m.y), float64(m.w), float64(m.h)}
		t.Readings[m.name] = s.reading(c, all, m)
	}
	for i, l := range s.lamps {
		levels := make([]float64, len(s.lamps))
		levels[i] = l.Level
		mix := s.Mix(levels)
		tl := TruthLamp{Name: l.Name, Level: l.Level, Kelvin: float64(l.Kelvin), Duv: l.Duv, Filament: l.Filament, Ambient: l.Ambient, Stops: map[string]float64{}}
		if l.Filament {
			tl.AtLevelK = float64(FilamentKelvin(l.Kelvin, l.Level))
		}
		for _, m := range s.marks[:6] {
			if r := s.reading(c, mix, m); r.RGB[1] > 1e-6 {
				tl.Stops[m.name] = r.Stops
			}
		}
		t.Lamps = append(t.Lamps, tl)
	}
	return t
}

// clipTruth joins equal frames.
func clipTruth(c *clipScript, levels [][]float64) TruthClip {
	t := TruthClip{
		Name: c.name, File: c.file, About: c.comment, Frames: c.frames, Coding: "intra",
		Holds: c.holds, Drift: c.drift, CameraGain: c.gain, Pose: c.pose,
	}
	if c.long {
		t.Coding = "long-gop"
	}
	for f, l := range levels {
		if n := len(t.Levels); n > 0 && equal(t.Levels[n-1].Levels, l) {
			t.Levels[n-1].Last = f
			continue
		}
		t.Levels = append(t.Levels, LevelRange{f, f, l})
	}
	for f := range levels {
		if b := breathing(float64(f)/Rate, c.breathe); b != 1 {
			t.Breathing = append(t.Breathing, BreathRange{f, b})
		}
	}
	return t
}

// pictureWidth is the most that the saved lamp pictures are wide: enough to
// hold measurements to, small enough to keep.
const pictureWidth = 960

// writePictures saves the lamp pictures, made smaller: for each lamp at its
// reference level, scene-linear camera RGB without noise or clipping.
func (s *Studio) writePictures(path string, c *Camera) (TruthPictures, error) {
	k := max(2, (s.Width+pictureWidth-1)/pictureWidth)
	w, h := s.Width/k, s.Height/k
	t := TruthPictures{
		File: filepath.Base(path), Width: w, Height: h,
		Format: fmt.Sprintf("float32 little-endian; for each name in turn: height × width × R, G, B; scene-linear camera RGB (0.18 = grey) of the lamp alone at its reference level, mean of %d × %d pixels, nothing clipped", k, k),
	}
	gains, m := c.matrix()
	buf := make([]byte, 0, len(s.lamps)*w*h*12)
	for i, l := range s.lamps {
		levels := make([]float64, len(s.lamps))
		levels[i] = l.Level
		mix := s.Mix(levels)
		t.Names = append(t.Names, l.Name)
		for y := range h {
			for x := range w {
				var n [3]float64
				for d := range k * k {
					at := 3 * ((k*y+d/k)*s.Width + k*x + d%k)
					for ch := range n {
						n[ch] += float64(mix[at+ch])
					}
				}
				for ch := range n {
					n[ch] *= c.Exposure * gains[ch] / float64(k*k)
				}
				for _, v := range m.Apply(n) {
					buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(float32(v*c.ClipLinear)))
				}
			}
		}
	}
	return t, keep(path, buf)
}

func writeJSON(path string, v any) error {
	b, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return fmt.Errorf("demo: truth: %w", err)
	}
	return keep(path, append(b, '\n'))
}

// keep writes a file that has its name only once it's whole.
func keep(path string, b []byte) error {
	if err := maybe.WriteFile(path, b, 0o644); err != nil {
		return fault.Wrap(err, fault.Storage, "demo-folder", "choose a folder you may write to, with room on the disk", "%s: cannot be written", path)
	}
	return nil
}
