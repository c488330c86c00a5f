package media

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
)

// Times is what a scan of all of a stream's packets found.
type Times struct {
	Ticks    []int64 // presentation times, ascending; empty when packets carry none
	Keys     []int64 // those of them at which decoding can begin, ascending
	Packets  int     // packets that are shown (those an edit list cuts away are left out)
	Hidden   int     // packets an edit list cuts away
	Unstated int     // packets without a time
	Repeated int     // packets with the time of another one
}

// maxPackets bounds a scan: 30 hours at 60 frames/s.
const maxPackets = 6_500_000

// scanTimes reads the timestamps of one stream's packets. The file is read
// from end to end, nothing is decoded.
func scanTimes(ctx context.Context, probe tool, path string, stream int) (*Times, error) {
	args := append(probeArgs(),
		"-select_streams", strconv.Itoa(stream), "-show_entries", "packet=pts,flags", "-of", "compact=p=0", "-i", fileURL(path))
	t := &Times{}
	err := streamTool(ctx, probe.path, args, func(r io.Reader) error {
		s := bufio.NewScanner(r)
		s.Buffer(make([]byte, 1<<16), 1<<16)
		for s.Scan() {
			if err := t.packet(s.Bytes()); err != nil {
				return err
			}
		}
		return s.Err()
	})
	if err != nil {
		return nil, err
	}
	if !slices.IsSorted(t.Ticks) {
		slices.Sort(t.Ticks)
	}
	slices.Sort(t.Keys)
	for i := 1; i < len(t.Ticks); i++ {
		if t.Ticks[i] == t.Ticks[i-1] {
			t.Repeated++
		}
	}
	if t.Unstated > 0 || t.Repeated > 0 {
		t.Ticks = nil // a part of the times is worth nothing
	}
	return t, nil
}

// packet reads one line "pts=512|flags=K__".
func (t *Times) packet(line []byte) error {
	if t.Packets >= maxPackets {
		return fmt.Errorf("more than %d frames", maxPackets)
	}
	var pts []byte
	enters := false
	for field := range bytes.SplitSeq(bytes.TrimSpace(line), []byte("|")) {
		key, value, _ := bytes.Cut(field, []byte("="))
		switch string(key) {
		case "pts":
			pts = value
		case "flags":
			if bytes.IndexByte(value, 'D') >= 0 { // decoded and thrown away
				t.Hidden++
				return nil
			}
			enters = bytes.IndexByte(value, 'K') >= 0
		}
	}
	if pts == nil { // an empty line, or one of side data
		return nil
	}
	t.Packets++
	if string(pts) == "N/A" {
		t.Unstated++
		return nil
	}
	v, err := strconv.ParseInt(string(pts), 10, 64)
	if err != nil {
		return fmt.Errorf("packet %d: %q is no timestamp", t.Packets, pts)
	}
	t.Ticks = append(t.Ticks, v)
	if enters {
		t.Keys = append(t.Keys, v)
	}
	return nil
}

// Rates that timestamps are compared with when the file names none that fits.
var ordinaryRates = []Rational{
	{24000, 1001},
	{24, 1},
	{25, 1},
	{30000, 1001},
	{30, 1},
	{48000, 1001},
	{48, 1},
	{50, 1},
	{60000, 1001},
	{60, 1},
	{100, 1},
	{120000, 1001},
	{120, 1},
	{240000, 1001},
	{240, 1},
	{12, 1},
	{15, 1},
	{15000, 1001},
	{10, 1},
}

// steadyRate finds the rate all timestamps keep, if there is one: every frame
// within one tick of its place on an even grid (start and place are both
// rounded when written), and within a quarter of a frame where ticks are
// coarse. Otherwise it gives the mean rate and false.
func steadyRate(ticks []int64, base Rational, named ...Rational) (Rational, bool) {
	if len(ticks) == 0 || base.Num <= 0 || base.Den <= 0 {
		return firstRate(named), true
	}
	if len(ticks) == 1 {
		return firstRate(named), true
	}
	span := float64(ticks[len(ticks)-1]-ticks[0]) * base.Float()
	mean := float64(len(ticks)-1) / span
	candidates := make([]Rational, 0, len(named)+len(ordinaryRates))
	for _, r := range append(append(candidates, named...), ordinaryRates...) {
		// Within 5 % of the mean only; the grid test below decides.
		if r.Num > 0 && r.Den > 0 && math.Abs(r.Float()/mean-1) < 0.05 && keepsGrid(ticks, base, r) {
			return r, true
		}
	}
	// An even step in ticks is steady whatever its rate.
	if step := ticks[1] - ticks[0]; step > 0 {
		even := reduce(Rational{base.Den, base.Num * step})
		if keepsGrid(ticks, base, even) {
			return even, true
		}
	}
	// The mean to a thousandth of a frame a second.
	return reduce(Rational{int64(math.Round(mean * 1000)), 1000}), false
}

func keepsGrid(ticks []int64, base, rate Rational) bool {
	step := float64(rate.Den) / float64(rate.Num) / base.Float() // ticks a frame
	allow := math.Min(1, step/4) + 1e-6
	for i, t := range ticks {
		if math.Abs(float64(t-ticks[0])-float64(i)*step) > allow {
			return false
		}
	}
	return true
}

func firstRate(named []Rational) Rational {
	for _, r := range named {
		if r.Num > 0 && r.Den > 0 {
			return r
		}
	}
	return Rational{25, 1}
}

func reduce(r Rational) Rational {
	a, b := r.Num, r.Den
	for b != 0 {
		a, b = b, a%b
	}
	if a == 0 {
		return r
	}
	return Rational{r.Num / a, r.Den / a}
}
