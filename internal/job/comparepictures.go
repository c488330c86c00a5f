package job

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/book"
	"lampwise/internal/draw"
	"lampwise/internal/picture"
)

// Names of the pictures of two episodes.
const (
	fileWipe       = "wipe.png"
	fileTwoLadders = "ladder.svg"
	wipeWidth      = 1280
)

// ComparePictures writes two episodes' pictures into a folder: the middle frames
// of their first finished clips, one to the left of a line and one to the right,
// and what each region read of both on one ladder. A finished file that can't be
// read any more is told and leaves its picture out.
func ComparePictures(ctx context.Context, store Episodes, c *ComparedEpisodes, folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return storageFault(folder, err)
	}
	keep := func(what, name string, data []byte) error {
		path := filepath.Join(folder, name)
		c.Files[what] = path
		return writeFile(path, true, data)
	}
	if data := drawTwoLadders(c); data != nil {
		if err := keep("stop ladder", fileTwoLadders, data); err != nil {
			return err
		}
	}
	live := NewLive()
	var frames [2]*ProxyFrame
	var panels []string
	for i, name := range []string{c.A, c.B} {
		e, err := store.Episode(ctx, c.Set, name)
		if err != nil {
			return err
		}
		clip := firstDone(e)
		if clip == nil {
			c.Notes = append(c.Notes, "episode "+name+" has no finished clip to show")
			return nil
		}
		info, err := live.Info(ctx, clip.Out)
		if err == nil {
			frames[i], err = live.Frame(ctx, clip.Out, info.Video.Frames/2, wipeWidth, OverrideOf("auto", "auto"))
		}
		if ctx.Err() != nil {
			return err
		}
		if err != nil {
			c.Notes = append(c.Notes, fmt.Sprintf("the finished file of %s is not shown: %v", name, err))
			return nil
		}
		panels = append(panels, fmt.Sprintf("%s, clip %d", name, clip.Number))
	}
	if frames[0].W != frames[1].W || frames[0].H != frames[1].H {
		c.Notes = append(c.Notes, fmt.Sprintf("the finished files differ in shape (%d × %d and %d × %d as shown): no wipe", frames[0].W, frames[0].H, frames[1].W, frames[1].H))
		return nil
	}
	sheet := &Sheet{Title: "left of the line " + panels[0] + ", right of it " + panels[1], Rows: [][]Panel{{{Caption: "the middle frames, as finished", Image: wiped(frames)}}}}
	data, err := sheet.PNG()
	if err != nil {
		return err
	}
	return keep("wipe", fileWipe, data)
}

func firstDone(e book.Episode) *book.EpisodeClip {
	for i := range e.Clips {
		if e.Clips[i].State == book.ClipDone {
			return &e.Clips[i]
		}
	}
	return nil
}

// wiped is the left half of one frame and the right half of another, with a line
// between them.
func wiped(frames [2]*ProxyFrame) *picture.Image {
	w, h := frames[0].W, frames[0].H
	out := picture.NewImage(w, h, picture.SpaceDisplay)
	parallel(h, func(y int) {
		for x := range w {
			switch f := frames[min(1, 2*x/w)]; {
			case x == w/2 || x == w/2-1:
				out.Set(x, y, [3]float64{1, 1, 1})
			default:
				out.Set(x, y, f.E.At(x, y))
			}
		}
	})
	return out
}

// drawTwoLadders draws what the regions read as recorded on both days: hollow
// the first, filled the second. nil: nothing was read.
func drawTwoLadders(c *ComparedEpisodes) []byte {
	const recorded = " as recorded"
	var rows []ComparedRow
	var marks []float64
	for _, r := range c.Rows {
		if strings.HasSuffix(r.What, recorded) && r.Unit == "stops from grey" && (r.A != nil || r.B != nil) {
			rows = append(rows, r)
			for _, v := range []*float64{r.A, r.B} {
				if v != nil {
					marks = append(marks, *v)
				}
			}
		}
	}
	if len(rows) == 0 {
		return nil
	}
	l := newLyingLadder(len(rows), marks, math.NaN(), math.NaN(), []string{c.A, c.B, "difference"})
	for i, r := range rows {
		text := func(v *float64) string {
			if v == nil {
				return "–"
			}
			return minus(fmt.Sprintf("%+.2f", math.Round(100**v)/100+0)) // no −0.00
		}
		y := l.row(i, strings.TrimSuffix(r.What, recorded), text(r.A), text(r.B), text(r.Difference))
		if r.A != nil {
			l.dot(*r.A, y, false)
		}
		if r.B != nil {
			l.dot(*r.B, y, true)
		}
	}
	l.Words(l.left, l.bottom+3.6, 2.6, draw.Start, draw.Pencil, "stops from grey as recorded; hollow "+c.A+", filled "+c.B)
	return l.Bytes()
}
