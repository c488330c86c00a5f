package demo

import (
	"fmt"
	"math"
	"strings"
)

// script.go says what happens in each clip: who is switched when, and how the
// day differs from the reference.

// Hold is a stretch of a clip with one switching of the lamps.
type Hold struct {
	Name  string    `json:"name"`
	Start float64   `json:"start_s"` // when the switches were moved
	End   float64   `json:"end_s"`
	First int       `json:"first_frame"` // the first frame of the hold in which the light is steady
	Last  int       `json:"last_frame"`
	On    []float64 `json:"on"` // what each lamp is switched to, 1 = its reference level; lamps in the truth's order
}

// clipScript is one clip before it's filmed.
type clipScript struct {
	name    string
	file    string
	holds   []Hold
	frames  int
	long    bool      // long-GOP coding; else every frame is its own
	drift   []float64 // each lamp's stops against the reference
	gain    float64   // the camera's stops against the reference
	pose    Pose
	beeps   bool
	breathe float64 // when the focus is touched, s
	comment string
}

// Rate is the frame rate of the example's clips.
const Rate = 25

// switchOrder is the switch clip's: each lamp off in turn, the whole set on in
// between, the ambient alone last.
var switchOrder = []string{"all", "-key", "all", "-fill", "all", "-rim", "all", "-tube", "all", "-tail", "all", "dark"}

// scripts gives the three clips. seconds scales their lengths; 1 = as shipped.
func scripts(lamps []Lamp, seconds, pixels float64) []clipScript {
	n := len(lamps)
	on := func(name string) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = 1
			if !lamps[i].Ambient && (name == "dark" || strings.TrimPrefix(name, "-") == lamps[i].Name) {
				v[i] = 0
			}
		}
		return v
	}
	sw := clipScript{name: "switch", file: "switch.mov", pose: Still, beeps: true, breathe: 0.4, drift: make([]float64, n)}
	t := 0.0
	for i, name := range switchOrder {
		d := 1.32
		if name != "all" {
			d = 1.24
		}
		d += 0.12 * math.Sin(float64(i)*2.1) // a hand at the switch is no clock
		sw.holds = append(sw.holds, Hold{Name: name, Start: t, End: t + d*seconds, On: on(name)})
		t += d * seconds
	}
	sw.frames = int(t * Rate)
	day := func(name, comment string) clipScript {
		length := 6.4 * seconds
		return clipScript{
			name: name, file: name + ".mov", pose: Still, drift: make([]float64, n), breathe: 0.8, comment: comment,
			holds: []Hold{{Name: "all", End: length, On: on("all")}}, frames: int(length * Rate),
		}
	}
	one := day("episode-1", "two lamps drifted: the key is 0.30 stop up, the tube 0.25 stop down")
	one.long = true
	two := day("episode-2", "the camera was nudged, and the day outside is 0.9 stop brighter")
	two.pose = Pose{DX: 6.4 * pixels, DY: -3.1 * pixels, Degrees: 0.21, Scale: 1}
	for i, l := range lamps {
		switch l.Name {
		case "key":
			one.drift[i] = 0.30
		case "tube":
			one.drift[i] = -0.25
		case "daylight":
			two.drift[i] = 0.9
		}
	}
	return []clipScript{sw, one, two}
}

// weekFolder is where the days of a week lie in the example's folder.
const weekFolder = "week"

// weekScripts gives five days as they come: a camera that was opened or closed
// a little, a key that ages, more light through the door; and one day on which
// the camera stood elsewhere.
func weekScripts(lamps []Lamp, seconds, pixels float64) []clipScript {
	day := func(name, comment string, gain float64, pose Pose, drift map[string]float64) clipScript {
		length := 2.4 * seconds
		c := clipScript{name: name, file: weekFolder + "/" + name + ".mov", pose: pose, gain: gain, drift: make([]float64, len(lamps)), breathe: 0.8, comment: comment, frames: int(length * Rate)}
		h := Hold{Name: "all", End: length, On: make([]float64, len(lamps))}
		for i, l := range lamps {
			h.On[i] = 1
			c.drift[i] = drift[l.Name]
		}
		c.holds = []Hold{h}
		return c
	}
	return []clipScript{
		day("1-monday", "as it was", 0, Still, nil),
		day("2-tuesday", "the camera is 0.30 stop up", 0.30, Still, nil),
		day("3-wednesday", "the camera is 0.25 stop down, the key 0.05 stop", -0.25, Still, map[string]float64{"key": -0.05}),
		day("4-thursday", "the camera is 0.10 stop up, the day outside 0.1 stop brighter, the key 0.04 stop down", 0.10, Still, map[string]float64{"daylight": 0.1, "key": -0.04}),
		day("5-friday", "the camera is 0.15 stop up and nudged", 0.15, Pose{DX: 0.5 * pixels, DY: -0.5 * pixels, Scale: 1}, nil),
		day("6-moved", "the camera stands elsewhere", 0, Pose{DX: 90 * pixels, DY: 30 * pixels, Degrees: 2, Scale: 1.05}, nil),
	}
}

// levelStep is the smallest change of a lamp's light that is filmed: smaller
// ones wait until they add up, so that the truth is exact frame by frame.
const levelStep = 0.0015

// play works the lamps: their level in every frame, with the time they take to
// come on and go off and to warm up. It also fills in the holds' steady frames.
func (c *clipScript) play(lamps []Lamp) [][]float64 {
	n := len(lamps)
	out := make([][]float64, c.frames)
	level, heat, shown := make([]float64, n), make([]float64, n), make([]float64, n)
	hold := 0
	const dt = 1.0 / Rate
	for f := range out {
		t := float64(f) * dt
		for hold+1 < len(c.holds) && t >= c.holds[hold+1].Start {
			hold++
		}
		out[f] = make([]float64, n)
		for l := range lamps {
			want := c.holds[hold].On[l] * lamps[l].Level * math.Exp2(c.drift[l])
			tau := lamps[l].rise
			if want < level[l] {
				tau = lamps[l].fall
			}
			if f == 0 || tau == 0 {
				level[l] = want
			} else {
				level[l] += (want - level[l]) * (1 - math.Exp(-dt/tau))
			}
			if math.Abs(level[l]-want) < 0.004*lamps[l].Level {
				level[l] = want
			}
			if lamps[l].warmFor > 0 {
				goal := 0.0
				if want > 0 {
					goal = 1
				}
				heat[l] += (goal - heat[l]) * (1 - math.Exp(-dt/lamps[l].warmFor))
			}
			v := level[l] * (1 + lamps[l].warm*(1-heat[l]))
			if f == 0 || math.Abs(v-shown[l]) > levelStep*max(shown[l], v) || want != level[l] || v == 0 {
				shown[l] = v
			}
			out[f][l] = shown[l]
		}
	}
	c.settle(out, lamps)
	return out
}

// settle finds each hold's steady frames: from where no lamp is still on its
// way (warming up apart) to the next switching.
func (c *clipScript) settle(levels [][]float64, lamps []Lamp) {
	for i := range c.holds {
		h := &c.holds[i]
		h.Last = min(int(math.Ceil(h.End*Rate))-1, c.frames-1)
		h.First = min(int(math.Ceil(h.Start*Rate)), h.Last)
		steady := func(f int) bool {
			for l := range lamps {
				want := h.On[l] * lamps[l].Level * math.Exp2(c.drift[l])
				if math.Abs(levels[f][l]-want) > (math.Abs(lamps[l].warm)+0.002)*lamps[l].Level {
					return false
				}
			}
			return true
		}
		for h.First < h.Last && !steady(h.First) {
			h.First++
		}
	}
}

// breathing is the picture's enlargement while the focus is touched: a small
// pull there and back, as lenses do.
func breathing(t, start float64) float64 {
	const length = 1.2
	u := (t - start) / length
	if u <= 0 || u >= 1 {
		return 1
	}
	s := math.Sin(math.Pi * u)
	return 1 + 0.0011*s*s*math.Sin(2*math.Pi*u)
}

// Moving is where the mechanic is at a time: he sways, nods while he talks and
// now and then looks down at the wheel.
func Moving(t float64, seed uint64) Body {
	r := seeded(seed, 0xb0d1)
	wave := func(amp, hz float64) float64 {
		return amp * math.Sin(2*math.Pi*(hz*r.between(0.85, 1.15)*t+r.between(0, 1)))
	}
	var b Body
	b.X = wave(0.0030, 0.21) + wave(0.0012, 0.53)
	b.Y = wave(0.0010, 0.27)
	b.HeadX = wave(0.0018, 0.43) + wave(0.0008, 1.1)
	b.HeadY = wave(0.0014, 0.9) + wave(0.0009, 1.7)
	b.Tilt = wave(0.010, 0.31) + wave(0.004, 0.8)
	b.Lids = lidsAt(t, seed)
	return b
}

// orderText is the switching order as a user would give it.
func orderText() string { return strings.Join(switchOrder, ", ") }

func (h Hold) String() string { return fmt.Sprintf("%s %.2f–%.2f s", h.Name, h.Start, h.End) }
