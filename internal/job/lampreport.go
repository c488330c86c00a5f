package job

import (
	"math"
	"slices"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/lamps"
)

// LampReport is what a lamp does: docs/json.md, learn.
type LampReport struct {
	Name    string               `json:"name"`
	Level   float64              `json:"level"`          // in the reference mix
	Dimmer  float64              `json:"dimmer"`         // what its dimmer reads there, 0..1
	Known   bool                 `json:"dimmer_known"`   // its curve was measured or typed
	Stops   map[string]LampStops `json:"stops"`          // by region
	Share   map[string]float64   `json:"share"`          // of the region's light in the mix
	Clips   map[string]float64   `json:"clips"`          // share of the region it clips alone at its highest level
	CCT     *float64             `json:"cct"`            // K; null without the camera's white balance
	Duv     *float64             `json:"duv"`            //
	Mired   *float64             `json:"mired_to_key"`   // redder is positive; null for a coloured lamp
	MiredSE *float64             `json:"mired_se"`       //
	Tint    *[2]float64          `json:"tint_to_key"`    // stops of red and blue against green
	SE      *float64             `json:"se"`             // stops, in the region it gives most to
	Points  []DimmerReport       `json:"dimmer_points"`  // measured or typed
	Blind   float64              `json:"clipped_pixels"` // share of pixels where its light is unknown since its holds clip
}

// LampStops is what a lamp does to one region, in stops.
type LampStops struct {
	Alone *float64 `json:"alone"`  // from grey, the lamp alone at its level in the mix; null: none of its light
	InMix *float64 `json:"in_mix"` // how much the region gains by it in the mix
	SE    *float64 `json:"se"`     // of alone
}

// DimmerReport is a point of a dimmer curve.
type DimmerReport struct {
	Dimmer float64 `json:"dimmer"`
	Level  float64 `json:"level"`
	SE     float64 `json:"se"`
}

// RegionReading is what a region reads in the reference mix.
type RegionReading struct {
	Region  string   `json:"region"`
	Stops   *float64 `json:"stops"` // from grey
	SE      *float64 `json:"se"`
	Spread  float64  `json:"spread_stops"`
	Clipped float64  `json:"clipped"`
}

// RatioReport are the set's figures as the trade counts them; null where a
// region or lamp isn't there.
type RatioReport struct {
	KeyToFill       *float64 `json:"key_to_fill"`             // (key + fill) : fill on the lit side
	KeyToBackground *float64 `json:"key_to_background_stops"` // lit side over background
	LitToShade      *float64 `json:"lit_to_shade_stops"`
}

// describe fills in what the set says of its lamps.
func describe(set *lamps.Set, kept book.Set, out *LearnedSet) {
	out.Order, out.Holds, out.Regions = kept.Settings.Order, kept.Settings.Holds, slices.Clone(kept.Settings.Regions)
	for i := range out.Regions {
		out.Regions[i].Mask = nil // the box tells where; the mask is long
	}
	out.Lamps, out.Readings, out.Ratios = reportLamps(set, kept.Settings.Regions), readRegions(set, set.Mix), reportRatios(set)
}

func reportRatios(set *lamps.Set) RatioReport {
	r := set.Ratios(set.Mix)
	return RatioReport{finite(r.KeyToFill), finite(float64(r.KeyToBackground)), finite(float64(r.LitToShade))}
}

func readRegions(set *lamps.Set, mix []float64) []RegionReading {
	out := []RegionReading{}
	for _, g := range set.Regions {
		r := set.Read(mix, g)
		out = append(out, RegionReading{g.Name, finite(float64(r.Stops)), finite(float64(r.Error)), float64(r.Spread), r.Clipped})
	}
	return out
}

// keyLamp is the lamp called key, or else the one that gives most to the lit
// side of the face, or to the whole picture.
func keyLamp(set *lamps.Set) int {
	for i, l := range set.Lamps {
		if l.Name == "key" {
			return i
		}
	}
	at := lamps.Region{X: 0, Y: 0, W: 1, H: 1}
	if g, err := set.Region(lamps.FaceLit); err == nil {
		at = g
	}
	best, key := -1.0, 0
	for i, s := range set.Shares(set.Mix, at) {
		if s > best {
			best, key = s, i
		}
	}
	return key
}

func reportLamps(set *lamps.Set, regions []book.SetRegion) []LampReport {
	key := keyLamp(set)
	shares := wobbleShares(set)
	var out []LampReport
	for i := range set.Lamps {
		l := &set.Lamps[i]
		r := LampReport{
			Name: l.Name, Level: set.Mix[i], Dimmer: l.Dimmer.Setting(set.Mix[i]), Known: l.Measured, Blind: set.BlindPixels(i),
			Stops: map[string]LampStops{}, Share: map[string]float64{}, Clips: map[string]float64{}, Points: []DimmerReport{},
		}
		most := -1.0
		for _, g := range set.Regions {
			x := set.ReadLamp(set.Mix, i, g)
			light := colour.Grey * math.Exp2(float64(x.Alone))
			se := math.Hypot(float64(x.Error), wobbleIn(regions, g.Name)*shares[i]*set.Mix[i]/light/math.Ln2)
			s := LampStops{Alone: finite(float64(x.Alone)), InMix: finite(float64(x.Adds)), SE: finite(se)}
			if x.Alone < faintest || se > faintSE {
				s = LampStops{}
			}
			r.Stops[g.Name], r.Share[g.Name], r.Clips[g.Name] = s, x.Share, x.Clips
			if x.Share > most {
				most, r.SE = x.Share, s.SE
			}
		}
		if c, ok := set.Colour(i, key); ok {
			r.Tint = &[2]float64{float64(c.Tint[0]), float64(c.Tint[1])}
			if r.Mired = finite(float64(c.Gap)); r.Mired != nil {
				r.MiredSE = finite(float64(c.GapError))
			}
			if c.CCT > 0 {
				r.CCT, r.Duv = finite(float64(c.CCT)), finite(c.Duv)
			}
		}
		if l.Dimmer != nil {
			for _, p := range l.Dimmer.Points {
				r.Points = append(r.Points, DimmerReport{p.Setting, p.Level, p.Error})
			}
		}
		out = append(out, r)
	}
	return out
}

// wobbleIn is what is known of a region's wobble.
func wobbleIn(regions []book.SetRegion, name string) float64 {
	for _, r := range regions {
		if r.Name == name {
			return r.Wobble
		}
	}
	return 0
}

// faintSE is the standard error, in stops, from which a lamp's light is not
// told apart from the figure's movement and the noise: two of them are its light.
const faintSE = 0.5 / math.Ln2

// faintest is the reading below which a lamp is said to give nothing to a
// region: no camera's noise lets 14 stops under grey be told.
const faintest = -14
