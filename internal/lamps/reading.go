package lamps

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Reading is what a region reads in a mix.
type Reading struct {
	Region string
	Stops  unit.Stop // from grey (18 %), luminance of the region's mean
	Error  unit.Stop // standard error from the noise in the lamp pictures
	RGB    [3]float64
	Spread unit.Stop // standard deviation of the pixels' stops
	// Clipped is the share of pixels at or above the recording's clip, when the
	// set knows it.
	Clipped float64
}

// LampReading is what one lamp does to a region.
type LampReading struct {
	Alone unit.Stop // the region's reading with this lamp alone at its level in the mix
	Full  unit.Stop // the same at level 1
	Adds  unit.Stop // how much the region gains by it in the mix
	Share float64   // of the region's light in the mix
	Error unit.Stop // standard error of Alone
	// Clips is the share of the region's pixels that it clips alone at its
	// highest level; 0 when the set doesn't know the recording's clip.
	Clips float64
}

// LampColour is a lamp's colour against the key's.
type LampColour struct {
	// Gap is how many mired it is redder than the key, read where both shine.
	// NaN for a lamp of a colour, such as a red or a cyan one.
	Gap, GapError unit.Mired
	// CCT and Duv are told when the set knows the camera's white balance.
	CCT unit.Kelvin
	Duv float64
	// Tint holds stops of red and blue against green, the key being 0.
	Tint [2]unit.Stop
}

// Ratios are the set's figures as the trade counts them.
type Ratios struct {
	KeyToFill       float64   // (key + fill) : fill, on the lit side of the face
	KeyToBackground unit.Stop // lit side of the face over the background
	LitToShade      unit.Stop // lit side over shaded side
}

// rgb is the camera's RGB, BT.709's when it isn't known.
func (s *Set) rgb() *colour.Gamut {
	if s.Primaries != nil {
		return s.Primaries
	}
	return colour.MustGamut("bt709")
}

// luminance of camera RGB.
func (s *Set) luminance(rgb [3]float64) float64 { return s.luma().of(rgb) }

// luma are the weights of camera RGB in luminance: for loops over pixels, since
// to find them takes a matrix.
func (s *Set) luma() (l lumaWeights) {
	l[0], l[1], l[2] = s.rgb().LuminanceWeights()
	return l
}

type lumaWeights [3]float64

func (l lumaWeights) of(rgb [3]float64) float64 { return l[0]*rgb[0] + l[1]*rgb[1] + l[2]*rgb[2] }

// Region returns the region of that name.
func (s *Set) Region(name string) (Region, error) {
	var names []string
	for _, r := range s.Regions {
		if r.Name == name {
			return r, nil
		}
		names = append(names, r.Name)
	}
	hint := "the set's regions are " + sentenceList(names)
	if near, ok := fault.Nearest(name, names); ok {
		hint = "did you mean " + near + "? " + hint
	}
	return Region{}, fault.New(fault.Usage, "region-unknown", hint, "no region is called %q", name)
}

// part is the mean of every picture over a region, lamps at level 1, the
// ambient last.
func (s *Set) regionMeans(r Region) (means [][3]float64, pixels []int) {
	pixels = r.Pixels(s.W, s.H)
	means = make([][3]float64, s.columns())
	for k := range means {
		pix := s.image(k).Pix
		var r, g, b float64
		for _, p := range pixels {
			q := pix[3*p : 3*p+3 : 3*p+3]
			r, g, b = r+float64(q[0]), g+float64(q[1]), b+float64(q[2])
		}
		n := max(float64(len(pixels)), 1)
		means[k] = [3]float64{r / n, g / n, b / n}
	}
	return means, pixels
}

// combined is Σ weight·mean.
func combined(means, weights [][3]float64) (rgb [3]float64) {
	for k, m := range means {
		for c := range 3 {
			rgb[c] += weights[k][c] * m[c]
		}
	}
	return rgb
}

// Read measures a region in a mix.
func (s *Set) Read(mix []float64, r Region) Reading {
	means, pixels := s.regionMeans(r)
	w := s.Weights(mix)
	out := Reading{Region: r.Name, RGB: combined(means, w)}
	light := s.luminance(out.RGB)
	out.Stops = unit.StopsOf(max(light, 0) / colour.Grey)
	out.Error = s.regionError(means, w, pixels, light)
	luma := s.luma()
	var sum, square, clipped, n float64
	for _, p := range pixels {
		var rgb [3]float64
		for k := range means {
			pix := s.image(k).Pix[3*p:]
			for c := range 3 {
				rgb[c] += w[k][c] * float64(pix[c])
			}
		}
		if s.Clip > 0 && max(rgb[0], rgb[1], rgb[2]) >= s.Clip {
			clipped++
		}
		if l := luma.of(rgb); l > 0 {
			v := math.Log2(l)
			sum, square, n = sum+v, square+v*v, n+1
		}
	}
	if n > 1 {
		out.Spread = unit.Stop(math.Sqrt(max(square/n-sq(sum/n), 0)))
	}
	out.Clipped = clipped / float64(len(pixels))
	return out
}

// regionError is the standard error, in stops, of a weighted sum of a region's
// means: by the holds' noise, and where the figure or its shadows moved between
// the holds by what the holds there differ from the sum of their lamps. What
// moved did so over the whole region at once, so its error doesn't fall with
// the region's size.
func (s *Set) regionError(means, weights [][3]float64, pixels []int, light float64) unit.Stop {
	k := s.columns()
	cov := make([]float64, k*k)
	b := make([]float64, k)
	lr, lg, lb := s.rgb().LuminanceWeights()
	share := [3]float64{lr, lg, lb}
	v := 0.0
	for c := range 3 {
		for j := range k {
			b[j] = means[j][c]
		}
		s.Covariance(c, b, float64(len(pixels)), cov)
		for i := range k {
			for j := range k {
				v += share[c] * share[c] * weights[i][c] * weights[j][c] * cov[i*k+j]
			}
		}
	}
	return unit.Stop(math.Sqrt(max(v, 0)*s.restless(pixels)) / max(light, 1e-9) / math.Ln2)
}

// restless is by what factor the holds' disagreement raises the variance of a
// region's mean over that of its noise: 1 where nothing moved.
func (s *Set) restless(pixels []int) float64 {
	side := binSide(s.W)
	w, h := s.W/side, s.H/side
	if len(s.Misfit) != w*h {
		return 1
	}
	excess, n := 0.0, 0.0
	for _, p := range pixels {
		if x, y := p%s.W/side, p/s.W/side; x < w && y < h {
			excess += s.Misfit[y*w+x] - 1
			n++
		}
	}
	if n == 0 {
		return 1
	}
	// Misfit is for a bin's noise; the region's is smaller by their areas.
	return 1 + excess/n*max(n/float64(side*side), 1)
}

// ReadLamp measures what lamp i does to a region in a mix.
func (s *Set) ReadLamp(mix []float64, i int, r Region) LampReading {
	means, pixels := s.regionMeans(r)
	w := s.Weights(mix)
	all := s.luminance(combined(means, w))
	only := make([][3]float64, len(w))
	only[i] = w[i]
	alone := s.luminance(combined(means, only))
	out := LampReading{
		Alone: unit.StopsOf(max(alone, 0) / colour.Grey),
		Full:  unit.StopsOf(max(s.luminance(means[i]), 0) / colour.Grey),
		Error: s.regionError(means, only, pixels, alone),
	}
	if all > 0 {
		out.Share = alone / all
		out.Adds = unit.StopsOf(all / max(all-alone, 1e-9*all))
	}
	if s.Clip > 0 {
		top := s.Lamps[i].highest()
		k := s.colour(i, top)
		n := 0
		for _, p := range pixels {
			q := s.Picture[i].Pix[3*p : 3*p+3]
			if max(float64(q[0])*k[0], float64(q[1])*k[1], float64(q[2])*k[2])*top >= s.Clip || s.Blind != nil && s.Blind[p]>>i&1 == 1 {
				n++
			}
		}
		out.Clips = float64(n) / float64(len(pixels))
	}
	return out
}

// colourSignal is how far above its error a pixel's light must be, in both
// lamps, to tell their colours.
const colourSignal = 12

// Colour compares lamp i's colour with lamp key's where both shine: a
// surface's own colour divides out. ok is false where they never meet.
func (s *Set) Colour(i, key int) (out LampColour, ok bool) {
	ratio, errors, ok := s.colourRatio(i, key)
	out.Gap = unit.Mired(math.NaN())
	if !ok {
		return out, false
	}
	for j, c := range []int{0, 2} {
		out.Tint[j] = unit.Stop(math.Log2(ratio[c] / ratio[1]))
	}
	// The key is taken to be what the camera was balanced to, unless known better.
	white := s.rgb().W
	if s.White != (colour.XY{}) {
		white = s.White
	}
	keyXYZ, lampXYZ := s.toXYZ([3]float64{1, 1, 1}, white), s.toXYZ(ratio, white)
	keyCCT, _, err := colour.CCT(keyXYZ.XY())
	if err != nil {
		return out, true
	}
	k, duv, err := colour.CCT(lampXYZ.XY())
	if err != nil || k < reddest {
		return out, true
	}
	out.Gap = k.Mired() - keyCCT.Mired()
	out.GapError = unit.Mired(miredPerStop * math.Hypot(errors[0], errors[2]))
	if s.White != (colour.XY{}) {
		out.CCT, out.Duv = k, duv
	}
	return out, true
}

// reddest is the colour temperature below which a lamp is called red and not
// warm: a candle has about 1850 K, and no filament that lights a set is redder.
const reddest unit.Kelvin = 1500

// toXYZ turns camera RGB, in which the balance's white is 1, 1, 1, into XYZ
// under that white.
func (s *Set) toXYZ(rgb [3]float64, white colour.XY) colour.XYZ {
	g := s.rgb()
	xyz := g.ToXYZ().Apply(rgb)
	return colour.XYZ(colour.Adapt(g.W, white, colour.CAT16).Apply(xyz))
}

// colourRatio is the typical ratio of two lamps' channels over the bins where
// both are well above their noise, each bin weighing by its accuracy, with
// standard errors in stops.
func (s *Set) colourRatio(i, key int) (ratio, errors [3]float64, ok bool) {
	if i == key {
		return [3]float64{1, 1, 1}, errors, true
	}
	b := newBins(binSide(s.W), s.W, s.H, nil)
	k := s.columns()
	pics := make([][]float64, k)
	for j := range k {
		pics[j] = b.means(s.image(j))
	}
	cov := make([]float64, k*k)
	v := make([]float64, k)
	logs := [3][]weighted{}
	for p, area := range b.count {
		if area == 0 {
			continue
		}
		var x [3]float64
		w := 0.0
		good := true
		for c := range 3 {
			for j := range k {
				v[j] = pics[j][3*p+c]
			}
			s.Covariance(c, v, area, cov)
			own, ref := v[i], v[key]
			so, sr := math.Sqrt(cov[i*k+i]), math.Sqrt(cov[key*k+key])
			if own < colourSignal*so || ref < colourSignal*sr {
				good = false
				break
			}
			x[c] = math.Log(own / ref)
			w += sq(so/own) + sq(sr/ref)
		}
		if !good {
			continue
		}
		for c := range 3 {
			// Against green in the same bin, so that the lamps' levels cancel.
			logs[c] = append(logs[c], weighted{x[c] - x[1], 1 / w})
		}
	}
	if len(logs[1]) < 20 {
		return ratio, errors, false
	}
	for c := range 3 {
		total := 0.0
		for _, l := range logs[c] {
			total += l.weight
		}
		ratio[c] = math.Exp(weightedMedian(logs[c]))
		errors[c] = math.Sqrt(math.Pi/2/total) / math.Ln2 // of a median
	}
	return ratio, errors, true
}

// Ratios reads the set's ratios; a figure whose regions or lamps aren't there
// is NaN.
func (s *Set) Ratios(mix []float64) Ratios {
	nan := math.NaN()
	out := Ratios{nan, unit.Stop(nan), unit.Stop(nan)}
	lit, err := s.Region(FaceLit)
	if err != nil {
		return out
	}
	face := s.Read(mix, lit).Stops
	if b, err := s.Region(Background); err == nil {
		out.KeyToBackground = face - s.Read(mix, b).Stops
	}
	if d, err := s.Region(FaceShade); err == nil {
		out.LitToShade = face - s.Read(mix, d).Stops
	}
	key, fill := -1, -1
	for i, l := range s.Lamps {
		switch l.Name {
		case "key":
			key = i
		case "fill":
			fill = i
		}
	}
	if key >= 0 && fill >= 0 {
		k := math.Exp2(float64(s.ReadLamp(mix, key, lit).Alone))
		f := math.Exp2(float64(s.ReadLamp(mix, fill, lit).Alone))
		out.KeyToFill = (k + f) / f
	}
	return out
}

// ShareMap says, for each pixel, which picture gives most of its light in a
// mix (the lamps' indices, the ambient after them), and how much of it.
func (s *Set) ShareMap(mix []float64) (most []uint8, share []float32) {
	luma := s.luma()
	w := s.Weights(mix)
	most, share = make([]uint8, s.W*s.H), make([]float32, s.W*s.H)
	inRows(s.H, func(from, to int) {
		for p := from * s.W; p < to*s.W; p++ {
			best, total := 0.0, 0.0
			for k := range w {
				pix := s.image(k).Pix[3*p : 3*p+3]
				l := max(0, luma.of([3]float64{w[k][0] * float64(pix[0]), w[k][1] * float64(pix[1]), w[k][2] * float64(pix[2])}))
				total += l
				if l > best {
					best, most[p] = l, uint8(k)
				}
			}
			if total > 0 {
				share[p] = float32(best / total)
			}
		}
	})
	return most, share
}
