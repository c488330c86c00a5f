package job

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// takeApart separates the holds and makes the set of them.
func (f *film) takeApart(r LearnRequest, order *lamps.Order, out *LearnedSet) (*lamps.Set, error) {
	if err := standAt(order, r.Dimmers); err != nil {
		return nil, err
	}
	opt := lamps.LearnOptions{Dimmers: map[string]*lamps.Dimmer{}, Filaments: map[string]*lamps.Filament{}}
	for lamp, t := range r.Tables {
		if err := knownLamp(order.Lamps, lamp); err != nil {
			return nil, err
		}
		opt.Dimmers[lamp] = t.Dimmer
	}
	for lamp, k := range r.Filaments {
		if err := knownLamp(order.Lamps, lamp); err != nil {
			return nil, err
		}
		opt.Filaments[lamp] = &lamps.Filament{Full: k, Primaries: f.gamut, White: r.White}
	}
	rec := f.recording
	learned, err := lamps.Learn(rec.Holds, order, rec.Noise, opt)
	if err != nil {
		return nil, inClip(err, r.Clip)
	}
	if err := learned.Constancy.Err(rec.Holds); err != nil {
		return nil, inClip(err, r.Clip)
	}
	out.Notes = append(out.Notes, f.notes...)
	out.Notes = append(out.Notes, learned.Notes...)
	if rec.Flicker > flickerWorthTelling {
		out.Notes = append(out.Notes, fmt.Sprintf("the light flickers by %.1f %%: set the shutter to the mains (1/50 or 1/60 s, common practice) or the lamp to full", 100*rec.Flicker))
	}
	out.Additivity = finite(float64(learned.Additivity))
	set := lamps.NewSet(learned.Separation)
	set.Primaries, set.White, set.Clip = f.gamut, r.White, f.clipLight
	for i := range set.Lamps {
		l := &set.Lamps[i]
		l.Filament = opt.Filaments[l.Name]
		l.Dimmer, l.Measured = opt.Dimmers[l.Name], opt.Dimmers[l.Name] != nil
		if d := learned.Dimmers[l.Name]; d != nil {
			l.Dimmer, l.Measured = anchored(d, order, i), true
		}
		set.Mix[i] = topLevel(learned.Design, i)
	}
	regions, notes, err := f.regions(r, set)
	set.Regions = regions
	out.Notes = append(out.Notes, notes...)
	return set, err
}

const flickerWorthTelling = 0.01

// standAt puts the dimmers' readings during the clip in the place of "on".
func standAt(o *lamps.Order, readings []DimmerReading) error {
	for _, d := range readings {
		if err := knownLamp(o.Lamps, d.Lamp); err != nil {
			return err
		}
		for i, name := range o.Lamps {
			if name != d.Lamp {
				continue
			}
			for h := range o.Holds {
				if o.Holds[h].Setting[i] == 1 {
					o.Holds[h].Setting[i] = d.Setting
				}
			}
		}
	}
	return nil
}

func knownLamp(names []string, name string) error {
	for _, n := range names {
		if n == name {
			return nil
		}
	}
	hint := "The lamps are " + strings.Join(names, ", ") + "."
	if near, ok := fault.Nearest(name, names); ok {
		hint = "Did you mean “" + near + "”? " + hint
	}
	return fault.New(fault.Usage, "lamp-unknown", hint, "no lamp is called %q", name)
}

// anchored holds a measured dimmer curve to where its lamp stood when it was
// on: the levels were measured against that, taken as linear.
func anchored(d *lamps.Dimmer, o *lamps.Order, lamp int) *lamps.Dimmer {
	top := 0.0
	for _, h := range o.Holds {
		top = max(top, h.Setting[lamp])
	}
	if top >= 1 {
		return d
	}
	points := []lamps.DimmerPoint{{Setting: top, Level: top}}
	for _, p := range d.Points {
		if p.Setting < top {
			points = append(points, p)
		}
	}
	if a, err := lamps.NewDimmer(points); err == nil {
		return a
	}
	return d
}

// topLevel is the highest level a lamp had in the clip: its level in the
// reference mix.
func topLevel(d *lamps.Design, lamp int) float64 {
	top := 0.0
	for _, h := range d.Level {
		top = max(top, h[lamp])
	}
	return top
}

// settings are what is kept of the set besides its pictures.
func (f *film) settings(r LearnRequest, order *lamps.Order, set *lamps.Set, out *LearnedSet) book.Set {
	v := f.info.Video
	s := book.SetSettings{
		Schema: setSchema,
		Clip: book.SetClip{
			File: filepath.Base(r.Clip), Curve: f.decoding.Curve.ID, Gamut: f.gamut.ID, Range: string(r.Override.Range), Matrix: string(r.Override.Matrix),
			Signal:   string(f.info.FormatWith(r.Override).Range),
			ClipCode: f.clipCode, ClipLight: f.clipLight, Width: v.Width, Height: v.Height, Rate: v.Rate.Float(), Duration: f.info.Duration,
		},
		Order: order.String(), Guessed: out.Guess != nil, Additivity: out.Additivity, Correlated: f.recording.Correlation, Notes: out.Notes,
	}
	if r.White != (colour.XY{}) {
		s.Clip.White = &[2]float64{r.White.X, r.White.Y}
	}
	for i, h := range f.recording.Holds {
		s.Holds = append(s.Holds, book.SetHold{Start: float64(h.Start), End: float64(h.End), On: onLamps(order, i)})
	}
	for i := range set.Lamps {
		s.Lamps = append(s.Lamps, keepLamp(&set.Lamps[i], set.Mix[i]))
	}
	for _, g := range set.Regions {
		s.Regions = append(s.Regions, keepRegion(g, saidRegion(r.Regions, g.Name), wobbleOf(set, f.recording.Holds, g)))
	}
	noise := math.Sqrt(f.recording.Noise.Variance(1, colour.Grey)) / colour.Grey / math.Ln2
	out.Clip = RecordingReport{NoiseStops: finite(noise), Correlated: f.recording.Correlation, Flicker: f.recording.Flicker}
	if f.clipCode > 0 {
		out.Clip.ClipCode = &f.clipCode
	}
	return book.Set{Settings: s}
}

func saidRegion(said []lamps.Region, name string) bool {
	for _, r := range said {
		if r.Name == name {
			return true
		}
	}
	return false
}

// onLamps lists what is on in a hold, as an order writes it.
func onLamps(o *lamps.Order, hold int) []string {
	on := []string{}
	for i, v := range o.Holds[hold].Setting {
		top := 0.0
		for _, h := range o.Holds {
			top = max(top, h.Setting[i])
		}
		switch {
		case v <= 0:
		case v == top:
			on = append(on, o.Lamps[i])
		default:
			on = append(on, fmt.Sprintf("%s=%.4g%%", o.Lamps[i], 100*v))
		}
	}
	return on
}

// finite is a number for JSON, nil where there is none.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
