package media

import (
	"context"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
)

// Loudness is a sound stream's, by ffmpeg's meter after EBU R 128.
//
// Source: EBU R 128, by ffmpeg’s meter
type Loudness struct {
	Number     int      `json:"number"`          // among the file's sound streams, from 0
	Integrated *float64 `json:"integrated_lufs"` // nil: too quiet or too short to tell
	Range      *float64 `json:"range_lu"`        // loudness range
	TruePeak   *float64 `json:"true_peak_dbtp"`  // nil: silence
}

// silence is what the meter prints where its gate lets nothing through (EBU
// Tech 3341: blocks below −70 LUFS don't count).
const silence = -70.0

var loudnessValue = regexp.MustCompile(`(?m)^\s*(I|LRA|Peak):\s+(-?(?:inf|nan|[0-9.]+)) (LUFS|LU|dBFS)`)

// MeasureLoudness measures a sound stream; number counts the file's sound streams from 0.
func MeasureLoudness(ctx context.Context, info *Info, number int) (*Loudness, error) {
	if number < 0 || number >= len(info.Audio) {
		return nil, fmt.Errorf("loudness: %s has no sound stream %d", info.Path, number)
	}
	ffmpeg, err := findTool(ctx, "ffmpeg")
	if err != nil {
		return nil, err
	}
	a := append([]string{"-hide_banner", "-nostdin", "-nostats", "-v", "info"}, inputGuards()...)
	a = append(a, "-i", fileURL(info.Path), "-map", "0:"+strconv.Itoa(info.Audio[number].Index), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-")
	c, err := startChild(ctx, ffmpeg.path, a, false, true)
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(io.Discard, c.stdout); err != nil {
		c.stop()
		return nil, err
	}
	if err := c.wait(); err != nil {
		return nil, err
	}
	out := &Loudness{Number: number}
	for _, line := range c.stderr.lines() {
		m := loudnessValue.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		v, err := strconv.ParseFloat(m[2], 64)
		if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
			continue
		}
		switch m[1] {
		case "I":
			if v > silence {
				out.Integrated = &v
			}
		case "LRA":
			out.Range = &v
		case "Peak":
			out.TruePeak = &v
		}
	}
	if out.Integrated == nil {
		out.Range = nil
	}
	return out, nil
}
