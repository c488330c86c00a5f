package job

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"math"
	"path/filepath"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
)

// EpisodeBook is a set's record: every episode with what was found of its clips.
type EpisodeBook struct {
	Set      string         `json:"set"`
	Episodes []ShownEpisode `json:"episodes"` // the oldest first
}

// ShowEpisodes tells the record of a set.
func ShowEpisodes(ctx context.Context, store Episodes, set string) (*EpisodeBook, error) {
	if _, err := store.Set(ctx, set); err != nil {
		return nil, err
	}
	all, err := store.Episodes(ctx, set)
	if err != nil {
		return nil, err
	}
	out := &EpisodeBook{Set: set, Episodes: []ShownEpisode{}}
	for _, e := range all {
		shown, err := ShownOf(e)
		if err != nil {
			return nil, err
		}
		out.Episodes = append(out.Episodes, *shown)
	}
	return out, nil
}

// RetryEpisodeClips lets clips that were set aside wait again, so that they are
// worked on anew; without numbers all of the episode's. Accepted, they are taken as
// near as they come to the reference. It says how many.
func RetryEpisodeClips(ctx context.Context, store Episodes, set, name string, numbers []int, accepted bool) (int, error) {
	e, err := FindEpisode(ctx, store, set, name)
	if err != nil {
		return 0, err
	}
	if len(numbers) == 0 {
		for _, c := range e.Clips {
			if c.State == book.ClipAside {
				numbers = append(numbers, c.Number)
			}
		}
	}
	for _, n := range numbers {
		if err := store.RetryEpisodeClip(ctx, e.Set, e.Name, n, accepted); err != nil {
			return 0, err
		}
	}
	return len(numbers), nil
}

// EpisodeClip finds one clip of an episode.
func EpisodeClip(ctx context.Context, store Episodes, set, name string, number int) (book.EpisodeClip, error) {
	e, err := FindEpisode(ctx, store, set, name)
	if err != nil {
		return book.EpisodeClip{}, err
	}
	if number < 1 || number > len(e.Clips) {
		return book.EpisodeClip{}, fault.New(fault.Usage, "episode-clip", "lampwise episodes show lists them.", "episode %s has no clip %d", e.Name, number)
	}
	return e.Clips[number-1], nil
}

// FinishedStill is the middle frame of a finished file as PNG, at most maxWidth
// wide: the display signal as it is in the file.
func (l *Live) FinishedStill(ctx context.Context, file string, maxWidth int) ([]byte, error) {
	info, err := l.Info(ctx, file)
	if err != nil {
		return nil, err
	}
	frame, err := l.Frame(ctx, file, info.Video.Frames/2, maxWidth, OverrideOf("auto", "auto"))
	if err != nil {
		return nil, err
	}
	data, err := stillPNG(frame.W, frame.H, frame.At)
	if err != nil {
		return nil, fmt.Errorf("still of %s: %w", filepath.Base(file), err)
	}
	return data, nil
}

// stillPNG is a picture of display signal as PNG.
func stillPNG(w, h int, pixel func(x, y int) [3]float64) ([]byte, error) {
	im := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := pixel(x, y)
			at := im.PixOffset(x, y)
			for ch := range 3 {
				im.Pix[at+ch] = uint8(math.Round(255 * math.Max(0, math.Min(1, v[ch]))))
			}
			im.Pix[at+3] = 255
		}
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, im); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// SetCard is the set card as one page of HTML, its pictures through a grade, the
// room drawn and the camera's settings taken from a plan where one is named.
func SetCard(ctx context.Context, store Sets, set, gradeFile, plan string) ([]byte, error) {
	g, err := grade.Load(gradeFile)
	if err != nil {
		return nil, err
	}
	path, err := grade.Build(g, grade.Clip{}, LUTsIn(filepath.Dir(gradeFile)))
	if err != nil {
		return nil, err
	}
	page, _, err := setCardPage(ctx, store, cardRequest{set, gradeFile, plan}, g, path)
	return page, err
}
