package gauge

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/picture"
)

// Clipping counts how much of the picture is clipped and crushed, in which
// channel, where and when. Since where the recording clips may be known only
// after the last frame, it keeps histograms of both ends.
type Clipping struct {
	cam    Camera
	finder ClipFinder
	format picture.Format
	w, h   int
	frames int
	across []int
	down   []int
	group  int      // samples a side of a block for black
	high   []uint32 // [cell][channel][bin]; channels R, G, B, the largest of them
	low    []uint32 // [cell][channel][bin]; channels R, G, B, luma's block mean
	times  []clipTime
	span   int // frames a time takes by now
	open   int
}

type clipTime struct {
	from, to float64
	frames   int
	high     []uint32 // the largest channel
	low      []uint32 // luma's block mean
}

const (
	endBin     = 1.0 / 512 // width of a bin in E′: 1.7 codes of 10 bits
	highFrom   = 0.4
	highBins   = 384 // to 1.15
	lowFrom    = -0.1
	lowBins    = 180 // to 0.25
	lowTo      = lowFrom + lowBins*endBin
	darkBlock  = 4 // pixels
	channels   = 4
	clipTimes  = 256
	blackSlack = 1.0 / 876 // one code of 10 bits

	// ClippedLimit and CrushedLimit are the parts of the picture, in per cent,
	// from which these are told: 0.05 % is 1000 pixels of 1080p.
	ClippedLimit = 0.05
	CrushedLimit = 0.2
)

// NewClipping makes a counter. The camera's curve tells where black is,
// its ClipCode where the recording clips; without that it is looked for.
func NewClipping(cam Camera) *Clipping {
	return &Clipping{cam: cam, span: 1}
}

// Add counts a frame.
func (c *Clipping) Add(v *View) {
	if c.w != v.W || c.h != v.H {
		c.format, c.w, c.h = v.Format, v.W, v.H
		c.across, c.down = cellsOf(v.W, v.H)
		c.high, c.low = make([]uint32, cells*channels*highBins), make([]uint32, cells*channels*lowBins)
		c.times, c.group = nil, max(1, (darkBlock+v.Step-1)/v.Step)
	}
	c.finder.AddView(v)
	c.frames++
	t := c.time(v.Time)
	e := v.E()
	for y := range v.H {
		row := y * v.W
		for x := range v.W {
			i := row + x
			cell := c.down[y] + c.across[x]
			r, g, b := e[0][i], e[1][i], e[2][i]
			top := max(r, g, b)
			if top >= highFrom {
				at := cell * channels * highBins
				if r >= highFrom {
					c.high[at+bin(r, highFrom, highBins)]++
				}
				if g >= highFrom {
					c.high[at+highBins+bin(g, highFrom, highBins)]++
				}
				if b >= highFrom {
					c.high[at+2*highBins+bin(b, highFrom, highBins)]++
				}
				k := bin(top, highFrom, highBins)
				c.high[at+3*highBins+k]++
				t.high[k]++
			}
			if min(r, g, b) < lowTo {
				at := cell * channels * lowBins
				for ch, s := range [3]float32{r, g, b} {
					if s < lowTo {
						c.low[at+ch*lowBins+bin(s, lowFrom, lowBins)]++
					}
				}
			}
		}
	}
	c.dark(v, t)
}

// dark counts luma near black, as the mean of blocks of at least 4×4 pixels:
// noise alone would put single pixels of a merely dark place below black.
func (c *Clipping) dark(v *View, t *clipTime) {
	m := codeToE(v.Format)
	k := c.group
	for y := 0; y < v.H; y += k {
		for x := 0; x < v.W; x += k {
			sum, n := float32(0), uint32(0)
			for yy := y; yy < min(y+k, v.H); yy++ {
				for _, s := range v.Mean[yy*v.W+x : yy*v.W+min(x+k, v.W)] {
					sum += s
					n++
				}
			}
			luma := m.luma(sum / float32(n))
			if luma >= lowTo {
				continue
			}
			b := bin(luma, lowFrom, lowBins)
			c.low[(c.down[y]+c.across[x])*channels*lowBins+3*lowBins+b] += n
			t.low[b] += n
		}
	}
}

func bin(e, from float32, n int) int {
	return min(max(int((e-from)*float32(1/endBin)), 0), n-1)
}

// time is the stretch of time the frame at t counts for.
func (c *Clipping) time(at float64) *clipTime {
	if len(c.times) == 0 || c.open == c.span {
		if len(c.times) == clipTimes {
			for i := range clipTimes / 2 {
				a, b := c.times[2*i], c.times[2*i+1]
				for k, n := range b.high {
					a.high[k] += n
				}
				for k, n := range b.low {
					a.low[k] += n
				}
				a.to, a.frames = b.to, a.frames+b.frames
				c.times[i] = a
			}
			c.times = c.times[:clipTimes/2]
			c.span *= 2
		}
		c.times = append(c.times, clipTime{from: at, high: make([]uint32, highBins), low: make([]uint32, lowBins)})
		c.open = 0
	}
	t := &c.times[len(c.times)-1]
	t.to, t.frames = at, t.frames+1
	c.open++
	return t
}

// Clipped is what was found at both ends.
type Clipped struct {
	Frames int `json:"frames"`
	// Clip is the 10-bit code at which the recording clips, nil when it is
	// neither given nor seen; Given says which. Sure as in RecordingClip.
	Clip  *float64 `json:"clip"`
	Given bool     `json:"given"`
	Sure  bool     `json:"sure"`
	// High and Low are the parts at or beyond the clip and at or below black.
	High *EndParts `json:"high"`
	Low  *EndParts `json:"low"`
	// Peak is the brightest 10-bit code of all samples, Least the darkest.
	Peak     float64   `json:"peak"`
	Least    float64   `json:"least"`
	Problems []Problem `json:"problems,omitempty"`
	Notes    []string  `json:"notes,omitempty"`
}

// EndParts are the parts (0..1) of the picture at one end of the range.
type EndParts struct {
	R      float64  `json:"r"`
	G      float64  `json:"g"`
	B      float64  `json:"b"`
	Any    float64  `json:"any"` // High: any channel; Low: luma
	Places []Place  `json:"places,omitempty"`
	Over   []Moment `json:"over,omitempty"` // Any over time
}

// Result says what was found.
func (c *Clipping) Result() Clipped {
	out := Clipped{Frames: c.frames}
	if c.frames == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	top, floor := c.finder.Find(), c.finder.Floor()
	out.Peak, out.Least = c.extreme()
	clip := c.cam.ClipCode
	switch {
	case clip > 0:
		out.Given, out.Sure = true, true
	case top.Found:
		clip, out.Sure = top.Code, top.Sure
	case top.Why != "":
		out.Notes = append(out.Notes, top.Why)
	}
	if clip > 0 {
		out.Clip = &clip
		level := Camera{ClipCode: clip}.clipE(c.format) - clipMargin
		out.High = c.parts(c.high, highBins, highFrom, level, true)
		what := "part of the picture is clipped"
		if !out.Sure {
			what = "part of the picture seems clipped (an even surface without noise would look the same)"
		}
		out.Problems = append(out.Problems, c.problems(out.High, ClippedLimit, 1, "clipped", what,
			"what is clipped is lost: give less exposure, or dim or turn away the lamp that does it; leave it where it is a lamp seen in the picture or a glint")...)
	} else {
		out.Notes = append(out.Notes, "nothing is blown in these frames, so where the recording clips isn't known")
	}
	black, known := c.blackE()
	if floor.Found && floor.Code > out.Least {
		known = true
		black = max(black, c.format.Range.LumaFromCode(floor.Code*c.finder.unit(), c.format.Bits))
	}
	if known {
		out.Low = c.parts(c.low, lowBins, lowFrom, black+blackSlack, false)
		out.Problems = append(out.Problems, c.problems(out.Low, CrushedLimit, c.group, "crushed", "part of the picture is black: no light was recorded there",
			"nothing can be drawn out of it: give more exposure or more fill, or let it be black on purpose")...)
	} else {
		out.Notes = append(out.Notes, "the camera's curve isn't known, so black isn't either")
	}
	return out
}

func (c *Clipping) blackE() (float64, bool) {
	if c.cam.Curve == nil {
		return math.Inf(-1), false
	}
	slope, offset := c.cam.Curve.SignalFromE(c.format.Range)
	return (c.cam.Curve.Encode(0) - offset) / slope, true
}

func (c *Clipping) extreme() (peak, least float64) {
	least = -1
	for code, n := range c.finder.count {
		if n > 0 {
			peak = float64(code) / c.finder.unit()
			if least < 0 {
				least = peak
			}
		}
	}
	return peak, max(least, 0)
}

// parts adds up the bins beyond level.
func (c *Clipping) parts(hist []uint32, bins int, from, level float64, above bool) *EndParts {
	edge := min(max(int(math.Ceil((level-from)/endBin)), 0), bins)
	inside := func(k int) bool { return above == (k >= edge) }
	samples := float64(c.frames) * float64(c.w*c.h)
	var part [channels]float64
	by := make([]float64, cells)
	for cell := range cells {
		for ch := range channels {
			n := 0.0
			for k, v := range hist[(cell*channels+ch)*bins:][:bins] {
				if inside(k) {
					n += float64(v)
				}
			}
			part[ch] += n / samples
			if ch == channels-1 {
				by[cell] = n
			}
		}
	}
	out := &EndParts{R: part[0], G: part[1], B: part[2], Any: part[3], Places: places(by)}
	for _, t := range c.times {
		h := t.high
		if !above {
			h = t.low
		}
		n := 0.0
		for k, v := range h {
			if inside(k) {
				n += float64(v)
			}
		}
		share := n / (float64(t.frames) * float64(c.w*c.h))
		out.Over = append(out.Over, Moment{From: t.from, To: t.to, N: t.frames, Mean: share, Least: share, Most: share})
	}
	return out
}

const (
	// Shares of the picture from which an end matters (common practice, no source).
	warnShare  = 0.005
	faultShare = 0.03
	joinGap    = 1.0 // s; stretches no further apart are told as one
	mostTold   = 12
)

// problems are the stretches in which an end takes more than the limit, in per
// cent; group is how many samples a side were counted as one.
// wholePart is the part of a picture that is called the whole of it.
const wholePart = 0.99

func (c *Clipping) problems(p *EndParts, limit float64, group int, kind, what, advice string) []Problem {
	var out []Problem
	last := -1
	for i, m := range p.Over {
		if 100*m.Mean < limit {
			continue
		}
		// Nothing was looked at between neighbours that are far apart.
		neighbours := last == i-1
		last = i
		if n := len(out); n > 0 && (neighbours || m.From-out[n-1].To <= joinGap || n == mostTold) {
			out[n-1].To = m.To
			out[n-1].Size = max(out[n-1].Size, 100*m.Mean)
			continue
		}
		out = append(out, Problem{Kind: kind, Size: 100 * m.Mean, Unit: "% of the picture", From: m.From, To: m.To, Advice: advice, Where: boxes(p.Places)})
	}
	for i := range out {
		q := &out[i]
		if q.Size > 100*wholePart {
			what = strings.Replace(what, "part of the picture", "the whole picture", 1)
		}
		q.What = fmt.Sprintf("%s (red %.2f %%, green %.2f %%, blue %.2f %% over all)", what, 100*p.R, 100*p.G, 100*p.B)
		// The share is counted on samples; the standard error of a share s of n
		// independent ones would be √(s/n), and neighbours are not independent.
		s := q.Size / 100
		q.Error = 100 * 4 * float64(group) * math.Sqrt(s/float64(c.w*c.h))
		switch {
		case s >= faultShare:
			q.Severity = Fault
		case s >= warnShare:
			q.Severity = Warn
		default:
			q.Severity = Note
		}
	}
	return out
}
