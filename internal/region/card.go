package region

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// A grey card in the picture.
const (
	leastCard  = 0.0006 // of the frame's area: 24×24 pixels of 1280×720
	mostCard   = 0.08   // larger is a wall, a door or a screen
	usualCard  = 0.004  // of the frame's area, from which a card is as large as cards are held
	cardSide   = 7.0    // working pixels of its shorter side
	longest    = 2.2    // its longer side over the shorter
	bestCard   = 0.85   // no confidence is higher: a grey sheet looks the same
	rivalCard  = 0.45   // part of the best one's confidence at which another is its rival
	unsureCard = 0.4    // confidence left when there are rivals
	chartCap   = 0.2    // confidence of a patch of a chart
	leastTold  = 0.02   // confidence below which a patch isn't told at all
)

// cardCandidate is an even, four-sided patch and what speaks for it, each 0..1.
type cardCandidate struct {
	evenPatch
	four, even, neutral, grey, border, size float64
	stops, tint                             float64 // from grey; from the nearest guess of the light's colour
	alike                                   int     // patches of its size beside it
	confidence                              float64
}

// cardRegion finds the grey card: an even patch with four straight borders,
// near neutral for the frame's light, about as bright as a grey is. It refuses
// a wall (large or cut by the frame's edge), a chart's patches (others of their
// size beside them), and says when two patches could be it. Measured on made
// rooms (card_test.go) with other seeds: with the camera balanced 139 of 200
// cards are found and none is taken elsewhere in 400; with the camera half a
// stop off balance nearly all are refused, and 3 of 400 answers are wrong.
func (l *light) cardRegion(faces []Face) Region {
	s := l.surface()
	lights := l.lightGuesses()
	skin, litSkin := l.skinLevel(faces)
	all := s.evenPatches()
	var found []cardCandidate
	for _, e := range all {
		if e.edge || e.area < leastCard || e.area > mostCard || e.short < cardSide || e.long > longest*e.short {
			continue
		}
		k := cardCandidate{evenPatch: e, stops: e.level, alike: alike(e, all)}
		k.four = ramp(e.fourSided, 0.86, 0.95)
		k.even = ramp(e.roughness, 3, 1.6) * ramp(math.Abs(e.drop), 1.2, 0.5)
		k.tint = math.Inf(1)
		farthest := 0.0
		for _, g := range lights {
			d := max(math.Abs(e.tint[0]-g[0]), math.Abs(e.tint[1]-g[1]))
			k.tint, farthest = min(k.tint, d), max(farthest, d)
		}
		// Where the guesses differ, a tinted box under tinted light passes for grey.
		k.neutral = ramp(k.tint, 0.4, 0.12) * (1 - 0.4*ramp(farthest, 0.3, 0.5))
		k.border = ramp(e.bordered, 0.6, 0.9)
		k.grey = greyness(e.level)
		k.size = 0.6 + 0.4*ramp(e.area, leastCard, usualCard)
		if skin && e.level > litSkin+1.2 {
			k.grey *= 0.4 // far brighter than skin in the same light: rather paper
		}
		k.confidence = bestCard * k.four * k.even * k.neutral * k.border * k.grey * k.size
		if k.confidence > leastTold {
			k.grey *= 0.4 + 0.6*ramp(l.brightest(e)-e.level, 0, 0.6)
			k.confidence = bestCard * k.four * k.even * k.neutral * k.border * k.grey * k.size
		}
		if k.alike >= 2 {
			k.confidence = min(k.confidence, chartCap)
		}
		for _, f := range faces {
			if f.Confidence > 0.3 && l.touchesFace(e, f) {
				k.confidence = min(k.confidence, 0.1)
			}
		}
		if k.confidence > leastTold {
			found = append(found, k)
		}
	}
	if len(found) == 0 {
		return doubt(Card, 0, "no even, neutral, four-sided patch of a card's size stands clear of the frame's edge")
	}
	slices.SortStableFunc(found, func(a, b cardCandidate) int { return cmp.Compare(b.confidence, a.confidence) })
	k := found[0]
	reason := k.words()
	if len(found) > 1 && found[1].confidence > rivalCard*k.confidence && k.confidence > unsureCard {
		x, y := found[1].middle(l.w, l.h)
		k.confidence = unsureCard
		reason += fmt.Sprintf("; but another patch (at %.0f, %.0f %%) could be it as well", 100*x, 100*y)
	}
	return l.cardMask(k.evenPatch).region(Card, k.confidence, reason)
}

// words tell what was seen and what speaks against it most.
func (k *cardCandidate) words() string {
	text := fmt.Sprintf("an even four-sided patch, %.1f %% of the frame, %+.1f stops from grey; grey paper would look the same", 100*k.area, k.stops)
	if k.alike >= 2 {
		return text + fmt.Sprintf("; %d patches of its size lie beside it, so it is rather one patch of a chart", k.alike)
	}
	against, worst := "", 0.8
	for _, a := range []struct {
		v    float64
		text string
	}{
		{k.four, "its outline isn't quite four-sided"},
		{k.even, "it isn't quite even"},
		{k.neutral, k.tintWords()},
		{k.size, "it is small for a card"},
		{k.border, "its border fades out in places"},
		{k.grey, "it is rather bright or dark for a grey among what else is seen"},
	} {
		if a.v < worst {
			against, worst = a.text, a.v
		}
	}
	if against != "" {
		text += "; " + against
	}
	return text
}

func (k *cardCandidate) tintWords() string {
	if k.tint > 0.15 {
		return fmt.Sprintf("its colour is %.2f stops off the frame's light", k.tint)
	}
	return "what is neutral in this frame isn't clear: the camera's white and the frame's mean colour differ"
}

// greyness is how plausible a level (stops from grey) is for a grey card in a
// usable exposure: full within a stop and a half below and one above.
func greyness(stops float64) float64 {
	if stops > 0 {
		return ramp(stops, 2.6, 1)
	}
	return ramp(-stops, 3.5, 1.5)
}

// ramp goes from 0 at from to 1 at to, evenly between.
func ramp(v, from, to float64) float64 { return min(max((v-from)/(to-from), 0), 1) }

// lightGuesses are guesses of what colour a neutral thing has here, as log2 of
// R/G and B/G: the camera's own white, the frame's mean and the mean of its
// brighter half (Buchsbaum 1980; Finlayson & Trezzi 2004 with p = 6).
func (l *light) lightGuesses() [][2]float64 {
	out := [][2]float64{{0, 0}}
	for _, norm := range []float64{1, 6} {
		var sum [3]float64
		for p := range l.lum {
			if l.clipped(p) {
				continue
			}
			for c, v := range l.rgb.Pix[3*p:][:3] {
				sum[c] += math.Pow(max(float64(v), 0), norm)
			}
		}
		if sum[0] > 0 && sum[1] > 0 && sum[2] > 0 {
			r, b := math.Log2(sum[0]/sum[1])/norm, math.Log2(sum[2]/sum[1])/norm
			// Lamps differ from yellow to blue: red up and blue down, or the other
			// way. A guess far off that line, or far out on it, is a coloured room.
			if math.Abs(r+b) < 0.25 && math.Abs(r-b) < 2 {
				out = append(out, [2]float64{r, b})
			}
		}
	}
	return out
}

// skinLevel is the lit skin's level in stops from grey, when a face is sure.
func (l *light) skinLevel(faces []Face) (known bool, stops float64) {
	for _, f := range faces {
		if !f.Sure() {
			continue
		}
		var v []float64
		for _, p := range f.pixels(faceSkin, l.w, l.h) {
			v = append(v, l.stopsAt(p))
		}
		if len(v) >= leastPixels {
			return true, quantile(v, 0.8)
		}
	}
	return false, 0
}

// brightest is the level, in stops from grey, that three hundredths of the
// unclipped frame outside a patch exceed: beside a grey card something lighter
// than grey is nearly always seen, beside white paper rarely.
func (l *light) brightest(e evenPatch) float64 {
	own := e.mask(l.w, l.h).In
	var v []float64
	for p := 0; p < len(l.lum); p += 5 { // a fifth of them tells it as well
		if !own[p] && !l.clipped(p) {
			v = append(v, l.lum[p])
		}
	}
	return math.Log2(max(quantile(v, 0.97), 1e-9) / sceneGrey)
}

func (l *light) touchesFace(e evenPatch, f Face) bool {
	for _, p := range e.pixels {
		if faceAll.holds(f.local(l.place(p))) {
			return true
		}
	}
	return false
}

// alike counts the other even patches of about the same sides close to e, of
// whatever colour: a chart's patches have some, a card seldom has two.
func alike(e evenPatch, all []evenPatch) int {
	near := func(a, b float64) bool { return a < 1.3*b && b < 1.3*a }
	n := 0
	for _, o := range all {
		if o.patch == e.patch || !near(o.short, e.short) || !near(o.long, e.long) || o.fourSided < 0.8 {
			continue
		}
		ex, ey := float64(e.x0+e.x1)/2, float64(e.y0+e.y1)/2
		ox, oy := float64(o.x0+o.x1)/2, float64(o.y0+o.y1)/2
		if math.Hypot(ox-ex, oy-ey) < 2.7*e.longSide() {
			n++
		}
	}
	return n
}

func (e *evenPatch) longSide() float64 { return float64(max(e.x1-e.x0, e.y1-e.y0)) }

func (e *evenPatch) middle(w, h int) (x, y float64) {
	return float64(e.x0+e.x1) / 2 / float64(w), float64(e.y0+e.y1) / 2 / float64(h)
}

// cardMask is the patch without its rim, where border and card mix.
func (l *light) cardMask(e evenPatch) *Mask {
	m := e.mask(l.w, l.h)
	out := make([]bool, len(m.In))
	for i := range m.In {
		out[i] = !m.In[i]
	}
	inner := NewMask(l.w, l.h)
	copy(inner.In, m.In)
	for _, p := range grown(out, l.w, l.h, 1) {
		inner.In[p] = false
	}
	if inner.Count() == 0 {
		return m
	}
	return inner
}
