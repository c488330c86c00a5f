package job

import (
	"context"
	"encoding/binary"
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

func (l *Live) set(ctx context.Context, store Sets, name string) (*lamps.Set, error) {
	kept, err := store.Set(ctx, name)
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	old := l.sets[name]
	l.mu.Unlock()
	if old != nil && old.changed.Equal(kept.Changed) {
		return old.set, nil
	}
	set, kept, err := OpenSet(ctx, store, name)
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sets[name] = &liveSet{set, kept.Changed}
	return set, nil
}

// LampPictures are a set's pictures for the page: half floats, R G B 1 of each
// pixel, picture after picture, the ambient's last; scene-linear, at level 1.
type LampPictures struct {
	W, H, Count int
	Data        []byte
}

// Pictures gives a set's lamp pictures at most maxWidth wide.
func (l *Live) Pictures(ctx context.Context, store Sets, name string, maxWidth int) (*LampPictures, error) {
	set, err := l.set(ctx, store, name)
	if err != nil {
		return nil, err
	}
	w, h := picture.Fit(set.W, set.H, maxWidth, maxWidth)
	out := &LampPictures{W: w, H: h, Count: len(set.Picture) + 1}
	one := halfOf(1)
	for _, im := range append(append([]*picture.Image{}, set.Picture...), set.Ambient) {
		small := im.Shrink(w, h)
		for p := 0; p < len(small.Pix); p += 3 {
			for ch := range 3 {
				out.Data = binary.LittleEndian.AppendUint16(out.Data, halfOf(small.Pix[p+ch]))
			}
			out.Data = binary.LittleEndian.AppendUint16(out.Data, one)
		}
	}
	return out, nil
}

// LiveMix is what a mix reads.
type LiveMix struct {
	Weights  [][3]float64  `json:"weights"` // factor of each lamp's picture in each channel; the ambient's last
	Readings []LiveReading `json:"readings"`
	Dimmer   []float64     `json:"dimmer"` // what each lamp's dimmer reads, 0..1
	Ratios   RatioReport   `json:"ratios"`
	Clip     *float64      `json:"clip_stops"`
	Floor    float64       `json:"floor_stops"` // one frame's noise at a working pixel equals the light
}

// Mix reads a set at other levels, through a grade. levels are in light, in
// the lamps' order; nil means the reference mix.
func (l *Live) Mix(ctx context.Context, store Sets, name string, levels []float64, r LiveRequest) (*LiveMix, error) {
	set, err := l.set(ctx, store, name)
	if err != nil {
		return nil, err
	}
	if levels == nil {
		levels = set.Mix
	}
	if len(levels) != len(set.Lamps) {
		return nil, fault.New(fault.Input, "levels", "Load the page again.", "%d levels for %d lamps", len(levels), len(set.Lamps))
	}
	for _, v := range levels {
		if !(v >= 0 && v <= 1) {
			return nil, fault.New(fault.Input, "levels", "A level is 0 to 1.", "a level of %v", v)
		}
	}
	path, err := l.path(ctx, r)
	if err != nil {
		return nil, err
	}
	if path.Curve == nil {
		return nil, fault.New(fault.Input, "no-curve", "Turn decode on.", "a mix of lamps can't be read through a grade without a camera curve")
	}
	out := &LiveMix{Weights: set.Weights(levels), Readings: []LiveReading{}, Floor: noiseFloor(set), Ratios: mixRatios(set, levels)}
	for _, g := range set.Regions {
		read := set.Read(levels, g)
		x := liveReading(path, LiveRegion{Name: g.Name, X: g.X, Y: g.Y, W: g.W, H: g.H}, read.RGB)
		x.Scene = math.Max(float64(read.Stops), -24)
		out.Readings = append(out.Readings, x)
	}
	for i := range set.Lamps {
		out.Dimmer = append(out.Dimmer, set.Lamps[i].Dimmer.Setting(levels[i]))
	}
	if set.Clip > 0 {
		s := float64(unit.StopsOf(set.Clip / 0.18))
		out.Clip = &s
	}
	return out, nil
}

// ShareMap says for each pixel, at most maxWidth wide, which lamp gives most of
// its light (the ambient after the lamps): a byte of its number, a byte of its share.
func (l *Live) ShareMap(ctx context.Context, store Sets, name string, levels []float64) (*LampPictures, error) {
	set, err := l.set(ctx, store, name)
	if err != nil {
		return nil, err
	}
	if len(levels) != len(set.Lamps) {
		levels = set.Mix
	}
	most, share := set.ShareMap(levels)
	out := &LampPictures{W: set.W, H: set.H, Count: 1}
	for p := range most {
		out.Data = append(out.Data, most[p], uint8(math.Round(255*math.Max(0, math.Min(1, float64(share[p]))))))
	}
	return out, nil
}

func mixRatios(set *lamps.Set, levels []float64) RatioReport {
	r := set.Ratios(levels)
	return RatioReport{finite(r.KeyToFill), finite(float64(r.KeyToBackground)), finite(float64(r.LitToShade))}
}

// LiveCall plans the calls of an order, or of a set's, and gives their beeps
// as a WAV file's bytes. The order is remembered, so that learn knows it.
func LiveCall(ctx context.Context, store Sets, set, order string, hold float64) (*Called, []byte, error) {
	c, err := PlanCall(ctx, store, CallRequest{Set: set, Order: order, Hold: hold})
	if err != nil {
		return nil, nil, err
	}
	return c, callSound(c.Plan), nil
}
