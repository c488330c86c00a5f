package job

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/unit"
)

// Sets is where sets are kept.
type Sets interface {
	Aliases
	KeepSet(ctx context.Context, set book.Set, pictures []byte, forgetChecks bool) (book.Set, error)
	ChangeSet(ctx context.Context, set book.Set) error
	Set(ctx context.Context, name string) (book.Set, error)
	Sets(ctx context.Context) ([]book.Set, error)
	ForgetSet(ctx context.Context, name string) error
	Pictures(ctx context.Context, set book.Set) ([]byte, error)
	KeepSetCheck(ctx context.Context, name string, c book.SetCheck) error
	SetChecks(ctx context.Context, name string, limit int) ([]book.SetCheck, error)
}

// LearnRequest takes a switch clip apart.
type LearnRequest struct {
	Clip, Set string
	Order     string // empty: guessed from the light
	Curve     string // empty: as said before of clips like it
	Gamut     string // empty: the curve's first
	Override  media.Override
	Regions   []lamps.Region
	Dimmers   []DimmerReading         // where the dimmers stood while the clip was filmed
	Tables    map[string]*DimmerTable // typed dimmer curves, by lamp
	Filaments map[string]unit.Kelvin  // lamps that redden when dimmed, at full
	White     colour.XY               // what the camera was balanced to; zero: not known
	Pictures  string                  // folder for the pictures; empty: none are written
	Overwrite bool
	Threads   int
}

// DimmerReading is what a lamp's dimmer read, 0..1.
type DimmerReading struct {
	Lamp    string
	Setting float64
}

// LearnedSet is what came of it: docs/json.md, learn.
type LearnedSet struct {
	Set        string            `json:"set"`
	Curve      string            `json:"curve"`
	Order      string            `json:"order"`
	Guess      *GuessedOrder     `json:"guess"`
	Holds      []book.SetHold    `json:"holds"`
	Dropped    []DroppedStretch  `json:"dropped"`
	Lamps      []LampReport      `json:"lamps"`
	Readings   []RegionReading   `json:"readings"`
	Ratios     RatioReport       `json:"ratios"`
	Additivity *float64          `json:"additivity"` // stops
	Clip       RecordingReport   `json:"recording"`
	Regions    []book.SetRegion  `json:"regions"`
	Files      map[string]string `json:"files"`
	Notes      []string          `json:"notes"`
	Timing     LearnTiming       `json:"timing"`
}

// GuessedOrder is an order that was read from the light alone.
type GuessedOrder struct {
	Pattern    string  `json:"pattern"`
	Confidence float64 `json:"confidence"`
}

// DroppedStretch is a stretch of the clip that is no hold.
type DroppedStretch struct {
	Start float64 `json:"start"`
	End   float64 `json:"end"`
	Why   string  `json:"why"`
}

// RecordingReport is what was found of the recording.
type RecordingReport struct {
	ClipCode   *float64 `json:"clip_code"` // of 10 bits; null: nothing was blown
	NoiseStops *float64 `json:"noise_stops"`
	Correlated float64  `json:"frames_sharing_noise"`
	Flicker    float64  `json:"flicker"`
}

// LearnTiming is how long it took.
type LearnTiming struct {
	Frames  int64   `json:"frames"`
	Decode  float64 `json:"decode_s"` // decoding, light and holds, at the same time
	Numbers float64 `json:"numbers_s"`
}

// MismatchFault is an order that doesn't go with the clip, with the pictures
// that show it.
func mismatchFault(err error, sheet string) error {
	f, ok := fault.As(err)
	if !ok || sheet == "" {
		return err
	}
	g := *f
	g.Hint = strings.TrimSuffix(g.Hint, ".") + ". The holds' pictures, with their times, are in " + sheet
	return &g
}

// Learn takes a switch clip apart, keeps the set and says what each lamp does.
func Learn(ctx context.Context, store Sets, r LearnRequest, report Progress) (*LearnedSet, error) {
	if err := lamps.CheckLampName(r.Set); err != nil {
		return nil, fault.New(fault.Usage, "set-name", "Letters, digits, “_” and, inside, “-”.", "%q can't be the name of a set", r.Set)
	}
	if old, err := store.Set(ctx, r.Set); err == nil && !r.Overwrite {
		return nil, fault.New(fault.Storage, "set-exists", "Choose another name, or add --overwrite: its history of checks is then forgotten, too.",
			"a set called %q was learned from %s on %s", r.Set, old.Settings.Clip.File, old.Learned.Format(time.DateOnly))
	}
	var order *lamps.Order
	if r.Order != "" {
		var err error
		if order, err = lamps.ParseOrder(r.Order, nil); err != nil {
			return nil, err
		}
		if err := order.Design(nil).Rank().Err(); err != nil {
			return nil, err
		}
	}
	info, err := media.Probe(ctx, r.Clip)
	if err != nil {
		return nil, err
	}
	film, err := readSwitchClip(ctx, store, r, info, report)
	if err != nil {
		return nil, err
	}
	out := &LearnedSet{Set: r.Set, Curve: film.decoding.Curve.ID, Files: map[string]string{}, Notes: []string{}, Dropped: []DroppedStretch{}}
	out.Timing = film.timing
	rec := film.recording
	for _, d := range rec.Dropped {
		out.Dropped = append(out.Dropped, DroppedStretch{float64(d.Start), float64(d.End), d.Why})
	}
	if order == nil {
		g, ok := rec.Guess()
		if !ok {
			sheet, _ := writeHoldSheet(r.Pictures, film)
			return nil, mismatchFault(fault.New(fault.Unsure, "order-unknown", `Say what was switched, for example --order "all, -key, all, -fill, dark"`,
				"%s: has %d holds, and the order in which lamps were switched can't be read from their light", r.Clip, len(rec.Holds)), sheet)
		}
		order, out.Guess = g.Order, &GuessedOrder{Pattern: g.Pattern, Confidence: g.Confidence}
	} else {
		joined, err := matchHolds(rec, order)
		if err != nil {
			sheet, _ := writeHoldSheet(r.Pictures, film)
			return nil, mismatchFault(inClip(err, r.Clip), sheet)
		}
		film.notes = append(film.notes, joined...)
	}
	began := time.Now()
	set, err := film.takeApart(r, order, out)
	if err != nil {
		return nil, err
	}
	kept := film.settings(r, order, set, out)
	kept.Name, kept.Learned, kept.Changed = r.Set, time.Now(), time.Now()
	pictures, err := packSeparation(set.Separation)
	if err != nil {
		return nil, err
	}
	// From here on the numbers are those of the kept pictures, so that a set
	// says the same tomorrow and on another machine.
	if set, err = openedSet(kept, pictures); err != nil {
		return nil, err
	}
	describe(set, kept, out)
	if kept, err = store.KeepSet(ctx, kept, pictures, true); err != nil {
		return nil, err
	}
	out.Timing.Numbers = time.Since(began).Seconds()
	if r.Pictures != "" {
		if err := writeSetPictures(r.Pictures, set, kept, out); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// film is a switch clip once decoded.
type film struct {
	info      *media.Info
	decoding  Decoding
	gamut     *colour.Gamut
	recording *lamps.Recording
	clipCode  float64
	clipLight float64
	notes     []string
	timing    LearnTiming
}

// readSwitchClip decodes the clip once and finds its holds.
func readSwitchClip(ctx context.Context, store Sets, r LearnRequest, info *media.Info, report Progress) (*film, error) {
	curve, err := knownCurve(ctx, store, info, r.Curve)
	if err != nil {
		return nil, err
	}
	if curve == "" {
		return nil, curveUnknown(r.Clip)
	}
	f := &film{info: info}
	if f.decoding, err = decodingOf(curve, r.Override); err != nil {
		return nil, err
	}
	if f.gamut, err = gamutOf(f.decoding.Curve, r.Gamut); err != nil {
		return nil, err
	}
	began := time.Now()
	found, err := recordingClip(ctx, info, r.Override)
	if err != nil {
		return nil, err
	}
	format := info.FormatWith(r.Override)
	if found.Found {
		f.clipCode, f.clipLight = found.Code, f.decoding.clipLight(found.Code, format)
	}
	reader, err := media.OpenReader(ctx, r.Clip, media.ReadOptions{Info: info, Override: r.Override, Threads: r.Threads})
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	l := newLightDecoder(reader.Format(), f.decoding, workingWidth, f.clipCode)
	rate := info.Video.Rate.Float()
	rec, err := lamps.NewRecorder(l.w, l.h, rate)
	if err != nil {
		return nil, inClip(err, r.Clip)
	}
	p := newPace(report, "learn", "frames", int64(info.Video.Frames))
	f.timing.Frames, err = streamLight(ctx, reader, l, func(light *lamps.Light, t float64) error {
		p.at(int64(f.timing.Frames) + 1)
		f.timing.Frames++
		return rec.Add(light, unit.Second(t))
	})
	if err != nil {
		return nil, inClip(err, r.Clip)
	}
	if f.recording, err = rec.Finish(); err != nil {
		return nil, inClip(err, r.Clip)
	}
	f.timing.Decode = time.Since(began).Seconds()
	if info.Video.VariableRate {
		f.notes = append(f.notes, "the clip's frame rate varies; times are the frames' own")
	}
	return f, nil
}

// inClip names the clip in a fault that doesn't.
func inClip(err error, clip string) error {
	f, ok := fault.As(err)
	if !ok || strings.HasPrefix(f.Message, clip) {
		return err
	}
	g := *f
	g.Message = clip + ": " + g.Message
	return &g
}

func curveUnknown(clip string) error {
	return fault.New(fault.Usage, "no-curve", "Add --curve ID. lampwise curves lists them; lampwise curves find looks one up by the figures in the camera's manual.",
		"%s: which curve was it recorded with?", clip)
}

// gamutOf is the camera's primaries: the named ones, or the curve's first.
func gamutOf(c *colour.Curve, id string) (*colour.Gamut, error) {
	if id == "" && len(c.Gamuts) > 0 {
		id = c.Gamuts[0]
	}
	if id == "" {
		id = "bt709"
	}
	return colour.GamutByID(id)
}

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
