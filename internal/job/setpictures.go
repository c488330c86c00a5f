package job

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/draw"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Names of the pictures in their folder.
const (
	fileLamps   = "lamps.png"
	fileShare   = "share.png"
	fileLadder  = "stop-ladder.svg"
	fileLadderP = "stop-ladder.png"
	fileHolds   = "holds.png"
)

// lampPanel is how wide a lamp's picture is on the sheet.
const lampPanel = 480

// viewer shows scene light through our conversion alone, or through a grade.
type viewer struct {
	path  *grade.Path
	curve *colour.Curve
	how   string // in words
}

// gradedViewer shows scene light through a grade file, all but its vignette,
// which belongs to the frame and not to the light; with no file, through the
// conversion alone. The grade must be of the clip's curve.
func gradedViewer(curveID, gamutID, file string) (*viewer, error) {
	if file == "" {
		return newViewer(curveID, gamutID)
	}
	g, err := grade.Load(file)
	if err != nil {
		return nil, err
	}
	if g.Decode.Curve != curveID {
		return nil, fault.New(fault.Usage, "grade-curve", "Give the grade of this camera's clips.", "%s: is a grade for %s; the set's clip is %s", file, g.Decode.Curve, curveID)
	}
	path, err := grade.Build(g, viewedClip, LUTsIn(filepath.Dir(file)))
	if err != nil {
		return nil, err
	}
	return &viewer{path, path.Curve, "graded by " + filepath.Base(file)}, nil
}

// viewedClip stands for the clip: light comes as signal, not as codes.
var viewedClip = grade.Clip{Format: picture.Format{Width: 64, Height: 64, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}}

func newViewer(curveID, gamutID string) (*viewer, error) {
	g := grade.Starting(curveID)
	g.Decode.Gamut = gamutID
	for _, s := range grade.Stages() {
		if s != grade.StageDecode && s != grade.StageConvert && s != grade.StageEncode {
			g.SetOff(s, true)
		}
	}
	path, err := grade.Build(g, viewedClip, nil)
	if err != nil {
		return nil, err
	}
	return &viewer{path, path.Curve, "converted, not graded"}, nil
}

// show makes a picture of scene light to look at, brighter by so many stops.
func (v *viewer) show(light *picture.Image, lift float64) *picture.Image {
	w, h := picture.Fit(light.W, light.H, lampPanel, lampPanel)
	small := light.Shrink(w, h)
	out := picture.NewImage(w, h, picture.SpaceDisplay)
	k := math.Exp2(lift)
	parallel(h, func(y int) {
		for x := range w {
			p := small.At(x, y)
			for c := range p {
				p[c] = v.curve.Encode(max(k*p[c], 0))
			}
			out.Set(x, y, clampSignal(v.path.Exact(p)))
		}
	})
	return out
}

// writeSetPictures writes the set's pictures into a folder and notes their names.
func writeSetPictures(folder string, v *viewer, set *lamps.Set, kept book.Set, out *LearnedSet) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return storageFault(folder, err)
	}
	keep := func(what, name string, data []byte, err error) error {
		if err != nil {
			return err
		}
		out.Files[what] = filepath.Join(folder, name)
		return writeFile(filepath.Join(folder, name), true, data)
	}
	sheet := lampSheet(set, kept, v)
	data, err := sheet.PNG()
	if err := keep("each lamp alone", fileLamps, data, err); err != nil {
		return err
	}
	data, err = sharePicture(set, kept.Name)
	if err := keep("who lights what", fileShare, data, err); err != nil {
		return err
	}
	l := stopLadder(set, kept, v)
	w, h := l.Size()
	svg := draw.NewSVG(w, h)
	l.Draw(svg)
	if err := keep("stop ladder", fileLadder, svg.Bytes(), nil); err != nil {
		return err
	}
	raster, err := draw.NewRaster(int(w), int(h))
	if err != nil {
		return err
	}
	l.Draw(raster)
	data, err = raster.PNG()
	return keep("stop ladder as pixels", fileLadderP, data, err)
}

// lampSheet shows each lamp alone at its level in the mix, the ambient light,
// and the mix.
func lampSheet(set *lamps.Set, kept book.Set, v *viewer) *Sheet {
	s := &Sheet{Title: "set " + kept.Name + ": each lamp alone, at its level in the mix (" + v.how + ")"}
	panels := []Panel{{Caption: "the mix", Image: v.show(set.PictureOf(set.Mix), 0)}}
	w, h := picture.Fit(set.W, set.H, lampPanel, lampPanel)
	views, part := lampViews(set, w, h)
	for i, light := range views {
		name := "ambient"
		if i < len(set.Lamps) {
			name = fmt.Sprintf("%s at %.0f %%", set.Lamps[i].Name, 100*set.Mix[i])
		}
		lift := liftFor(light)
		if lift > 0 {
			name += fmt.Sprintf(", shown %.0f stops brighter", lift)
		}
		if part[i] >= 0.05 {
			name += fmt.Sprintf("; smoothed where unsure (%.0f %%)", 100*part[i])
		}
		panels = append(panels, Panel{Caption: name, Image: v.show(light, lift)})
	}
	const across = 3
	for len(panels) > 0 {
		n := min(across, len(panels))
		s.Rows, panels = append(s.Rows, panels[:n]), panels[n:]
	}
	return s
}

// liftFor is by how many whole stops a picture is shown brighter, so that its
// brightest parts (the brightest fiftieth) come up to grey.
func liftFor(light *picture.Image) float64 {
	const bins, lowest = 160, -12.0 // tenths of a stop from grey
	var count [bins]int
	total := 0
	for p := 0; p < len(light.Pix); p += 3 {
		total++
		s := math.Log2(math.Max(float64(max(light.Pix[p], light.Pix[p+1], light.Pix[p+2])), 1e-9) / colour.Grey)
		count[min(max(int(10*(s-lowest)), 0), bins-1)]++
	}
	above := 0
	for b := bins - 1; b >= 0; b-- {
		if above += count[b]; above >= total/50 {
			return math.Min(6, math.Max(0, math.Floor(-(lowest+float64(b)/10))))
		}
	}
	return 0
}

// holdSheet shows a recording's holds with their times.
func writeHoldSheet(folder string, f *film) (string, error) {
	if folder == "" {
		return "", nil
	}
	v, err := newViewer(f.decoding.Curve.ID, f.gamut.ID)
	if err != nil {
		return "", err
	}
	s := &Sheet{Title: "the holds of " + filepath.Base(f.info.Path)}
	var row []Panel
	for i, h := range f.recording.Holds {
		im := v.show(h.Mean.Image, 0)
		w, hh := picture.Fit(im.W, im.H, lampPanel*2/3, lampPanel*2/3)
		row = append(row, Panel{Caption: fmt.Sprintf("%d: %.1f to %.1f s", i+1, float64(h.Start), float64(h.End)), Image: im.Shrink(w, hh)})
		if len(row) == 4 {
			s.Rows, row = append(s.Rows, row), nil
		}
	}
	if row != nil {
		s.Rows = append(s.Rows, row)
	}
	data, err := s.PNG()
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return "", storageFault(folder, err)
	}
	path := filepath.Join(folder, fileHolds)
	return path, writeFile(path, true, data)
}

// stopLadder draws the readings of the mix, and each lamp's alone.
func stopLadder(set *lamps.Set, kept book.Set, v *viewer) *draw.Ladder {
	l := &draw.Ladder{Title: "set " + kept.Name + ": what each region reads, in stops from grey", Clip: math.NaN(), Floor: noiseFloor(set)}
	if set.Clip > 0 {
		l.Clip = float64(unit.StopsOf(set.Clip / colour.Grey))
	}
	reports := reportLamps(set, kept.Settings.Regions)
	for _, g := range set.Regions {
		c := draw.Column{Name: g.Name, Mix: float64(set.Read(set.Mix, g).Stops)}
		for i, x := range reports {
			if v := x.Stops[g.Name].Alone; v != nil { // what is too faint isn't marked
				c.Marks = append(c.Marks, draw.Mark{Lamp: i, Name: x.Name, Stops: *v})
			}
		}
		dark := make([]float64, len(set.Mix))
		c.Marks = append(c.Marks, draw.Mark{Lamp: -1, Name: "ambient", Stops: float64(set.Read(dark, g).Stops)})
		l.Columns = append(l.Columns, c)
	}
	var stops []float64
	for s := -9.0; s <= 8; s++ {
		stops = append(stops, s)
	}
	for _, r := range v.path.Ladder(stops) {
		l.Rungs = append(l.Rungs, draw.Rung{Scene: r.SceneStops, Screen: r.ScreenStops, Signal: r.Signal})
	}
	return l
}

// noiseFloor is where one frame's noise at a working pixel equals the light.
func noiseFloor(set *lamps.Set) float64 {
	lo, hi := -16.0, 0.0
	for range 40 {
		mid := (lo + hi) / 2
		x := colour.Grey * math.Exp2(mid)
		if set.Noise.Variance(1, x) > x*x {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
