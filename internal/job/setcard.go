package job

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"path/filepath"

	"lampwise/internal/draw"
	"lampwise/internal/grade"
)

// card writes the set card.
func (h *handoff) card(ctx context.Context, store Sets, g *grade.Grade, path *grade.Path) error {
	page, notes, err := setCardPage(ctx, store, h.request.Set, h.request.Grade, g, path)
	if err != nil {
		return err
	}
	h.out.Notes = append(h.out.Notes, notes...)
	return h.keep("set-card.html", "the set card: one page to print", page, nil)
}

// setCardPage is the set card: one page to print and hang up where the set is.
func setCardPage(ctx context.Context, store Sets, name, gradeFile string, g *grade.Grade, path *grade.Path) (page []byte, notes []string, err error) {
	set, kept, err := OpenSet(ctx, store, name)
	if err != nil {
		return nil, nil, err
	}
	v := &viewer{path, path.Curve, "graded by " + filepath.Base(gradeFile)}
	if g.Decode.Curve != kept.Settings.Clip.Curve {
		if v, err = newViewer(kept.Settings.Clip.Curve, kept.Settings.Clip.Gamut); err != nil {
			return nil, nil, err
		}
		notes = append(notes, fmt.Sprintf("the grade is for %s, the set's clip is %s: the card's pictures are not graded", g.Decode.Curve, kept.Settings.Clip.Curve))
	}
	c := setCard{
		Name: kept.Name, Learned: kept.Learned.Format("2006-01-02"), Clip: kept.Settings.Clip.File, Grade: filepath.Base(gradeFile), Shown: v.how,
		Camera: []string{
			"records with " + kept.Settings.Clip.Curve, fmt.Sprintf("%d × %d, %.5g frames/s", kept.Settings.Clip.Width, kept.Settings.Clip.Height, kept.Settings.Clip.Rate),
			"exposure, white balance and focus on manual, stabiliser off, sensitivity at the base",
		},
		// Common practice, no source; the same words as a plan's.
		Cautions: []string{usual, deferral},
	}
	for i, l := range set.Lamps {
		row := cardLamp{Name: l.Name, Level: fmt.Sprintf("%.0f %%", 100*set.Mix[i])}
		if l.Dimmer != nil && l.Measured {
			row.Dimmer = fmt.Sprintf("%.0f %%", 100*l.Dimmer.Setting(set.Mix[i]))
		}
		c.Lamps = append(c.Lamps, row)
	}
	for _, r := range set.Regions {
		if stops := float64(set.Read(set.Mix, r).Stops); !math.IsInf(stops, 0) && !math.IsNaN(stops) {
			c.Regions = append(c.Regions, cardReading{r.Name, fmt.Sprintf("%+.1f", stops)})
		}
	}
	picture, err := (&Sheet{Rows: [][]Panel{{{Caption: "the mix", Image: v.show(set.PictureOf(set.Mix), 0)}}}}).PNG()
	if err != nil {
		return nil, nil, err
	}
	c.Picture = inlinePNG(picture)
	l := stopLadder(set, kept, v)
	width, height := l.Size()
	svg := draw.NewSVG(width, height)
	l.Draw(svg)
	c.Ladder = template.HTML(svg.Bytes()) // our own drawing; its texts are escaped there
	var out bytes.Buffer
	if err := cardPage.Execute(&out, c); err != nil {
		return nil, nil, fmt.Errorf("set card: %w", err)
	}
	return out.Bytes(), notes, nil
}

func inlinePNG(data []byte) template.URL {
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(data))
}

type setCard struct {
	Name, Learned, Clip, Grade, Shown string
	Camera, Cautions                  []string
	Lamps                             []cardLamp
	Regions                           []cardReading
	Picture                           template.URL
	Ladder                            template.HTML
}

type cardLamp struct{ Name, Level, Dimmer string }

type cardReading struct{ Name, Stops string }

var cardPage = template.Must(template.New("card").Parse(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Set card: {{.Name}}</title>
<style>
@page { size: A4; margin: 12mm }
body { font: 11pt/1.35 sans-serif; color: #111; background: #fff; margin: 1rem auto; max-width: 190mm }
h1 { font-size: 18pt; margin: 0 } h2 { font-size: 12pt; margin: .8em 0 .3em; border-bottom: 1px solid #888 }
.two { display: flex; flex-wrap: wrap; gap: 1rem } .two > * { flex: 1 1 16rem; min-width: 0 }
table { border-collapse: collapse; width: 100% } th, td { text-align: left; padding: .1em .6em .1em 0 } td + td { font-variant-numeric: tabular-nums }
img { width: 100%; height: auto } .ladder svg { width: 100%; height: auto; max-height: 105mm }
.cautions { border: 2px solid #111; padding: .3em .8em } p, ul { margin: .3em 0 }
</style></head><body>
<h1>Set {{.Name}}</h1>
<p>Learned {{.Learned}} from {{.Clip}}. Grade: {{.Grade}}.</p>
<div class="two"><div><h2>The mix ({{.Shown}})</h2><img src="{{.Picture}}" alt="The set as it is meant to look"></div>
<div><h2>Levels</h2><table><tr><th>lamp</th><th>light</th><th>dimmer</th></tr>
{{range .Lamps}}<tr><td>{{.Name}}</td><td>{{.Level}}</td><td>{{if .Dimmer}}{{.Dimmer}}{{else}}not measured{{end}}</td></tr>{{end}}</table>
<h2>What it reads</h2><table><tr><th>region</th><th>stops from grey</th></tr>
{{range .Regions}}<tr><td>{{.Name}}</td><td>{{.Stops}}</td></tr>{{else}}<tr><td colspan="2">no region is named in this set</td></tr>{{end}}</table>
<h2>Camera</h2><ul>{{range .Camera}}<li>{{.}}</li>{{end}}</ul></div></div>
<h2>Stop ladder</h2><div class="ladder">{{.Ladder}}</div>
<h2>Cautions</h2><div class="cautions">{{range .Cautions}}<p>{{.}}</p>{{end}}</div>
</body></html>
`))
