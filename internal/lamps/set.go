package lamps

import (
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Lamp is what is known of one lamp of a set besides its picture.
type Lamp struct {
	Name string
	// Dimmer maps what its dimmer reads to its level; nil is linear.
	Dimmer *Dimmer
	// Measured says that Dimmer was measured, so that a reading may be advised.
	Measured bool
	// Filament, when not nil, makes the lamp's colour follow its level.
	Filament *Filament
	// Lowest and Highest bound its level in light; Highest 0 is read as 1.
	Lowest, Highest float64
	// Distance from the lamp to the subject, when known.
	Distance unit.Metre
	// Step is the dimmer's step as a fraction (0.01 = 1 %), 0 when it moves freely.
	Step float64
}

func (l *Lamp) highest() float64 {
	if l.Highest <= 0 {
		return 1
	}
	return l.Highest
}

// Set is one arrangement of lamps, camera and subject that is meant to stay
// the same: the lamp pictures and the reference mix.
type Set struct {
	*Separation
	Lamps   []Lamp    // in the separation's order
	Mix     []float64 // reference level of each lamp, in light
	Regions []Region
	// Primaries of the camera's RGB; nil is read as BT.709's.
	Primaries *colour.Gamut
	// White is the chromaticity the camera was balanced to; zero when unknown.
	White colour.XY
	// Clip is the recording's measured clip, scene-linear; 0 when unknown.
	Clip float64
	// Habit is what the set's lamps and camera do from day to day by themselves.
	Habit Habit
}

// NewSet makes a set with every lamp linear and free, the reference mix being
// all lamps at level 1.
func NewSet(s *Separation) *Set {
	set := &Set{Separation: s, Habit: StartingHabit}
	for _, n := range s.Design.Lamps {
		set.Lamps = append(set.Lamps, Lamp{Name: n})
		set.Mix = append(set.Mix, 1)
	}
	return set
}

// colour is the lamp's channel gains at a level, 1,1,1 without a filament: its
// light in channel c is level·colour[c] times its picture.
func (s *Set) colour(i int, level float64) [3]float64 {
	if s.Lamps[i].Filament == nil {
		return [3]float64{1, 1, 1}
	}
	return s.Lamps[i].Filament.Colour(level)
}

// Weights gives the factor of each lamp's picture in each channel for a mix,
// and the ambient's (1) last.
func (s *Set) Weights(mix []float64) [][3]float64 {
	out := make([][3]float64, 0, len(mix)+1)
	for i, level := range mix {
		k := s.colour(i, level)
		for c := range k {
			k[c] *= level
		}
		out = append(out, k)
	}
	return append(out, [3]float64{1, 1, 1})
}

// PictureOf computes the picture of a mix: the sum of the lamp pictures. It may
// be negative in places; a display clamps.
func (s *Set) PictureOf(mix []float64) *picture.Image { return s.sum(s.Weights(mix)) }

// sum adds the pictures with a factor for each and each channel.
func (s *Set) sum(factors [][3]float64) *picture.Image {
	out := picture.NewImage(s.W, s.H, picture.SpaceSceneLinear)
	inRows(s.H, func(from, to int) {
		dst := out.Pix[3*from*s.W : 3*to*s.W]
		for k, f := range factors {
			src := s.image(k).Pix[3*from*s.W : 3*to*s.W]
			f0, f1, f2 := float32(f[0]), float32(f[1]), float32(f[2])
			for i := 0; i+2 < len(src); i += 3 {
				dst[i] += f0 * src[i]
				dst[i+1] += f1 * src[i+1]
				dst[i+2] += f2 * src[i+2]
			}
		}
	})
	return out
}

// Habit is how far a set's parts move from day to day by themselves, and from
// when on it is worth saying so.
type Habit struct {
	// Lamp, Colour and Ambient are deviations, in stops, of a lamp's level, of
	// its colour (channel against channel), and of the ambient light.
	Lamp, Colour, Ambient unit.Stop
	// Mention and Act are the changes of a lamp's level from which it is told,
	// and from which something should be done.
	Mention, Act unit.Stop
	// MentionMired is the change of a lamp's colour from which it is told.
	MentionMired unit.Mired
	// Movement is the camera's movement from which it is told, as a fraction of
	// the picture's width at the corner that moves most.
	Movement float64
}

// StartingHabit holds before a set has been checked often enough to know
// better. Lamps that warm up, mains that sag and irises that don't repeat make
// 0.05 to 0.15 stop from day to day (common practice, no source).
var StartingHabit = Habit{
	Lamp: 0.025, Colour: 0.01, Ambient: 0.3,
	Mention: 0.1, Act: 0.2, MentionMired: 15, Movement: 0.002,
}

// LearnHabit adjusts the thresholds to what repeated checks of a set found:
// changes holds, for each earlier occasion, the lamps' changes of level by name.
// The deviation is the median absolute one from each lamp's own median: a real
// drift among them counts little, and a lamp that was changed and stays so is no
// lamp that wanders. A change is mentioned from 2.5 deviations on and never below
// the starting threshold. Fewer than minHistory occasions leave h as it is.
func (h Habit) LearnHabit(changes []map[string]unit.Stop) Habit {
	if len(changes) < minHistory {
		return h
	}
	lamps := map[string][]float64{}
	for _, occasion := range changes {
		for name, s := range occasion {
			if math.Abs(float64(s)) < 1 { // a stop off is no habit
				lamps[name] = append(lamps[name], float64(s))
			}
		}
	}
	var sizes []float64
	for _, v := range lamps {
		n := float64(len(v))
		if len(v) < minHistory {
			continue
		}
		usual := median(slices.Clone(v))
		for _, s := range v {
			// Few lie closer to their own middle than to the true one.
			sizes = append(sizes, math.Abs(s-usual)*math.Sqrt(n/(n-1)))
		}
	}
	if len(sizes) == 0 {
		return h
	}
	h.Lamp = unit.Stop(min(max(1.4826*median(sizes), 0.01), 0.15))
	h.Mention = max(StartingHabit.Mention, unit.Stop(2.5)*h.Lamp)
	h.Act = max(StartingHabit.Act, 2*h.Mention)
	return h
}

// minHistory is how many occasions make a habit.
const minHistory = 5
