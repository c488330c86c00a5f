package job

import (
	"fmt"
	"time"
)

// Step is how far a job is.
type Step struct {
	What        string  // what is being done: "render"
	Done, Total int64   // in units of the job, mostly frames; Total 0 = unknown
	Unit        string  // "frames"
	Rate        float64 // units a second so far
	Left        time.Duration
}

// Detail says rate and time left in words.
func (s Step) Detail() string {
	switch {
	case s.Rate <= 0:
		return ""
	case s.Total <= 0:
		return fmt.Sprintf("%.1f %s/s", s.Rate, s.Unit)
	}
	return fmt.Sprintf("%d of %d %s, %.1f/s, %s left", s.Done, s.Total, s.Unit, s.Rate, Span(s.Left))
}

// Progress is called now and then while a job runs, from one goroutine at a time.
type Progress func(Step)

// Span writes a duration as a person would: 4 s, 3 min 20 s, 1 h 05 min.
func Span(d time.Duration) string {
	switch s := int(d.Round(time.Second).Seconds()); {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s < 3600:
		return fmt.Sprintf("%d min %02d s", s/60, s%60)
	default:
		return fmt.Sprintf("%d h %02d min", s/3600, s%3600/60)
	}
}

// Size writes a number of bytes as a person would: 640 kB, 12.3 MB, 4.1 GB.
func Size(bytes int64) string {
	switch b := float64(bytes); {
	case b < 1e6:
		return fmt.Sprintf("%.0f kB", b/1e3)
	case b < 1e9:
		return fmt.Sprintf("%.1f MB", b/1e6)
	default:
		return fmt.Sprintf("%.1f GB", b/1e9)
	}
}

// pace turns counts into steps, at most a few a second.
type pace struct {
	report  Progress
	step    Step
	started time.Time
	last    time.Time
}

func newPace(report Progress, what, unit string, total int64) *pace {
	if report == nil {
		report = func(Step) {}
	}
	now := time.Now()
	return &pace{report: report, step: Step{What: what, Unit: unit, Total: total}, started: now, last: now}
}

// at tells that done units are done.
func (p *pace) at(done int64) {
	now := time.Now()
	if now.Sub(p.last) < 200*time.Millisecond && done != p.step.Total {
		return
	}
	p.last = now
	p.step.Done = done
	if t := now.Sub(p.started).Seconds(); t > 0.2 {
		p.step.Rate = float64(done) / t
		if p.step.Total > done && p.step.Rate > 0 {
			p.step.Left = time.Duration(float64(p.step.Total-done) / p.step.Rate * float64(time.Second))
		} else {
			p.step.Left = 0
		}
	}
	p.report(p.step)
}

// secondsOf turns seconds into a duration.
func secondsOf(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
