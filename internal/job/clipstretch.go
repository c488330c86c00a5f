package job

import (
	"fmt"
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/unit"
)

// clipStretch is the part of a clip that is taken.
type clipStretch struct {
	first, count int
	cut          bool   // less than the whole clip
	timecode     string // of the first frame; empty: the clip has none
	notes        []string
}

// length is how long the stretch is shown, in s.
func (s clipStretch) length(info *media.Info) float64 {
	if info.Video.VariableRate && s.first+s.count < info.Video.Frames {
		return info.FrameTime(s.first+s.count) - info.FrameTime(s.first)
	}
	return info.FrameTime(s.first+s.count-1) - info.FrameTime(s.first) + 1/info.Video.Rate.Float()
}

// stretchOf finds the frames between two places of a clip. A place is a
// timecode (by the clip's own track; from 00:00:00:00 where it has none) or a
// time in s from the clip's start, which is taken to the nearest frame. to is
// the first frame that is left out.
func stretchOf(info *media.Info, from, to string) (clipStretch, error) {
	frames := info.Video.Frames
	s := clipStretch{count: frames}
	rate, start, has, err := clockOf(info)
	if err != nil && (isTimecode(from) || isTimecode(to)) {
		return s, err
	}
	end := frames
	if from != "" {
		if s.first, err = frameAt(info, from, rate, start); err != nil {
			return s, err
		}
	}
	if to != "" {
		if end, err = frameAt(info, to, rate, start); err != nil {
			return s, err
		}
	}
	if s.first < 0 || s.first >= frames || end > frames || end <= s.first {
		where := fmt.Sprintf("The clip is %.3f s long, frames 0 to %d", info.Duration, frames-1)
		if has {
			where += fmt.Sprintf(", timecode %s to %s", rate.Text(start), rate.Text(start+int64(frames)-1))
		}
		what := fmt.Sprintf("from %q to %q", from, to)
		if to == "" {
			what = fmt.Sprintf("at %q", from)
		} else if from == "" {
			what = fmt.Sprintf("before %q", to)
		}
		return s, fault.New(fault.Usage, "stretch", where+".", "%s: there is no picture %s", info.Path, what)
	}
	s.count = end - s.first
	s.cut = s.count < frames
	if has {
		s.timecode = rate.Text(start + int64(s.first))
	} else if isTimecode(from) || isTimecode(to) {
		s.notes = append(s.notes, "the clip has no timecode: it was counted from 00:00:00:00 at its first frame")
	}
	return s, nil
}

func isTimecode(s string) bool {
	is, _ := unit.IsTimecode(s)
	return is
}

// clockOf is how the clip's frames are counted and the number of the first.
func clockOf(info *media.Info) (rate unit.TimecodeRate, start int64, has bool, err error) {
	v := info.Video
	is, drop := unit.IsTimecode(info.Timecode)
	if v.VariableRate {
		return rate, 0, false, fault.New(fault.Usage, "timecode-rate", "Give a time in seconds, for example 1:02.5.", "%s: its frame rate varies, so that frames cannot be named by timecode", info.Path)
	}
	if rate, err = unit.TimecodeRateOf(v.Rate.Num, v.Rate.Den, is && drop); err != nil {
		return rate, 0, false, err
	}
	if is {
		if start, err = rate.Frame(info.Timecode); err == nil {
			return rate, start, true, nil
		}
		return rate, 0, false, nil // a track that cannot be: counted from the start, which is noted
	}
	return rate, 0, false, nil
}

func frameAt(info *media.Info, text string, rate unit.TimecodeRate, start int64) (int, error) {
	if isTimecode(text) {
		n, err := rate.Frame(text)
		if err != nil {
			return 0, err
		}
		if n < start { // after midnight
			n += rate.Day()
		}
		if n-start > math.MaxInt32 {
			return -1, nil
		}
		return int(n - start), nil
	}
	at, err := ParseTime(text)
	if err != nil {
		return 0, err
	}
	first := info.FrameTime(0)
	best, frames := 0, info.Video.Frames
	for best < frames && info.FrameTime(best)-first < at {
		best++
	}
	if best > 0 && best < frames && at-(info.FrameTime(best-1)-first) < info.FrameTime(best)-first-at {
		best--
	}
	if best == frames && at > info.FrameTime(frames-1)-first+1/info.Video.Rate.Float()+0.5/info.Video.Rate.Float() {
		return frames + 1, nil
	}
	return best, nil
}
