package demo

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// Options says what example to make.
type Options struct {
	Dir   string // folder for the files; made if it isn't there
	Size  int    // height of the frames in pixels: 2160, 1080 (0 means that), or smaller, even, ≥ 90
	Seed  uint64 // of the noise and the small movements; 0 means 1
	Curve string // the camera's curve; empty: log-420
	Gamut string // of the camera; empty: r7300-g8550
	// Seconds scales the clips' lengths; 0 means 1. Fine scales the work of
	// tracing a pixel; 0 means 1. Both are for tests and trials.
	Seconds, Fine float64
	Overwrite     bool // replace an example made before
	// Week films the days of a week, too, into a folder of their own: the last
	// of them with the camera moved.
	Week bool
}

// Made says where the example's files are.
type Made struct {
	Dir      string
	Switch   string    // the switch clip
	Episodes [2]string // the two episode clips
	Days     []string  // of the week
	Truth    string    // truth.json
	Pictures string    // the lamp pictures as numbers
	Order    string    // the switch clip's order, as a user would type it
	Curve    string
	Gamut    string
	Known    *Truth
}

// Make traces the room and films the three clips. progress, if not nil, is
// told how far the work is, in units of its own. What the user can cause
// (size, folder, ffmpeg) is a fault; nothing unfinished keeps a final name.
func Make(ctx context.Context, o Options, progress func(done, total int, what string)) (*Made, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if progress == nil {
		progress = func(int, int, string) {}
	}
	if err := os.MkdirAll(o.Dir, 0o755); err != nil {
		return nil, fault.Wrap(err, fault.Storage, "demo-folder", "choose a folder you may write to", "%s: the folder cannot be made", o.Dir)
	}
	camera, err := NewCamera(o.Curve, o.Gamut, exampleFormat(frameWidth(o.Size), o.Size))
	if err != nil {
		return nil, err
	}
	lamps := exampleLamps()
	clips := scripts(lamps, o.Seconds, float64(o.Size)/1080)
	if o.Week {
		clips = append(clips, weekScripts(lamps, o.Seconds, float64(o.Size)/1080)...)
		if err := os.MkdirAll(filepath.Join(o.Dir, weekFolder), 0o755); err != nil {
			return nil, fault.Wrap(err, fault.Storage, "demo-folder", "choose a folder you may write to", "%s: the folder cannot be made", o.Dir)
		}
	}
	frames := 0
	for i := range clips {
		frames += clips[i].frames
	}
	total := 2 * frames // tracing takes about as long as filming
	studio, err := NewStudio(ctx, StudioOptions{Height: o.Size, Seed: 1, Fine: o.Fine}, func(done, of int) {
		progress(frames*done/of, total, "tracing the light of each lamp")
	})
	if err != nil {
		return nil, err
	}
	truth := studio.truth(camera, o.Seed)
	made := &Made{
		Dir: o.Dir, Truth: filepath.Join(o.Dir, "truth.json"), Pictures: filepath.Join(o.Dir, "lamp-pictures.f32"),
		Order: orderText(), Curve: camera.Curve.ID, Gamut: camera.Gamut.ID, Known: truth,
	}
	done := frames
	for i := range clips {
		c := &clips[i]
		path := filepath.Join(o.Dir, c.file)
		levels := c.play(lamps)
		err := o.film(ctx, studio, camera, c, levels, path, func(n int) {
			progress(done+n, total, "filming "+c.file)
		})
		if err != nil {
			return nil, err
		}
		done += c.frames
		truth.Clips = append(truth.Clips, clipTruth(c, levels))
		switch i {
		case 0:
			made.Switch = path
		case 1, 2:
			made.Episodes[i-1] = path
		default:
			made.Days = append(made.Days, path)
		}
	}
	if truth.Pictures, err = studio.writePictures(made.Pictures, camera); err != nil {
		return nil, err
	}
	if err := writeJSON(made.Truth, truth); err != nil {
		return nil, err
	}
	return made, nil
}

// exampleFormat is how the example's clips are stored: 10-bit 4:2:2, narrow range.
func exampleFormat(w, h int) picture.Format {
	return picture.Format{
		Width: w, Height: h, Bits: 10, Sub: picture.Sub422,
		Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft,
	}
}

// check fills in what was left out and refuses what can't be made.
func (o *Options) check() error {
	if o.Size == 0 {
		o.Size = 1080
	}
	if o.Size < 90 || o.Size > 2160 || o.Size%2 != 0 {
		return fault.New(fault.Usage, "demo-size", "choose 1080 or 2160, or an even number from 90", "an example %d pixels high cannot be made", o.Size)
	}
	if o.Seed == 0 {
		o.Seed = 1
	}
	if o.Curve == "" {
		o.Curve = "log-420"
	}
	if o.Gamut == "" {
		o.Gamut = "r7300-g8550"
	}
	if o.Seconds == 0 {
		o.Seconds = 1
	}
	if !(o.Seconds > 0 && o.Seconds <= 60) || !(o.Fine >= 0 && o.Fine <= 64) {
		return errors.New("demo: Seconds or Fine out of range")
	}
	if o.Dir == "" {
		return fault.New(fault.Usage, "demo-folder", "name a folder for the example", "no folder was named for the example")
	}
	return nil
}

// film records one clip. Frames are made and encoded at the same time.
func (o *Options) film(ctx context.Context, s *Studio, c *Camera, script *clipScript, levels [][]float64, path string, tick func(int)) (err error) {
	sound := path + ".wav"
	if err := writeSound(sound, script, o.Seed); err != nil {
		return fault.Wrap(err, fault.Storage, "demo-folder", "choose a folder you may write to, with room on the disk", "%s: cannot be written", sound)
	}
	defer os.Remove(sound)
	options := media.WriteOptions{
		Format: c.Format, Rate: media.Rational{Num: Rate, Den: 1}, Codec: media.CodecIntermediate, Quality: 14,
		Speed: media.SpeedFastest, Timecode: "10:00:00:00", Overwrite: o.Overwrite,
		Source: &media.Info{Path: sound, Audio: []media.Audio{{Index: 0, Codec: "pcm_s16le", Rate: soundRate, Channels: 1}}},
		Tags:   map[string]string{"title": "generated example: " + script.name},
	}
	if script.long {
		options.Codec = media.CodecH264
	}
	w, err := media.NewWriter(ctx, path, options)
	if err != nil {
		return err
	}
	defer w.Abort()

	film := NewFilm(s, c, mix64(o.Seed)^uint64(len(script.name))<<32^uint64(script.frames))
	free, full := make(chan *picture.Frame, 3), make(chan *picture.Frame, 3)
	for range 3 {
		free <- picture.NewFrame(c.Format)
	}
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	failed := make(chan error, 1)
	go func() {
		defer close(failed)
		for f := range full {
			if err := w.Write(f); err != nil {
				failed <- err
				cancel()
				return
			}
			free <- f
		}
	}()
	for i := range script.frames {
		var f *picture.Frame
		select {
		case f = <-free:
		case <-inner.Done():
		}
		if f == nil {
			break
		}
		t := float64(i) / Rate
		pose := script.pose
		pose.Scale *= breathing(t, script.breathe)
		err = film.Frame(inner, i, Shot{Levels: levels[i], Pose: pose, Gain: exp2(script.gain), Body: Moving(t, o.Seed)}, f)
		if err != nil {
			break
		}
		f.Time = t
		full <- f
		tick(i + 1)
	}
	close(full)
	if e := <-failed; e != nil {
		return e
	}
	if ctx.Err() != nil {
		return fault.Wrap(ctx.Err(), fault.Cancelled, "cancelled", "", "%s: stopped; nothing was left behind", path)
	}
	if err != nil {
		return fmt.Errorf("demo: %s: %w", script.name, err)
	}
	return w.Close()
}
