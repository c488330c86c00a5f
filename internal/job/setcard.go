package job

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"math"
	"path/filepath"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// cardRequest is how a set card is made.
type cardRequest struct {
	Set, Grade string
	Plan       string // the room's plan; empty: no drawing, and the camera's settings are left to be written in
}

// card writes the set card.
func (h *handoff) card(ctx context.Context, store Sets, g *grade.Grade, path *grade.Path) error {
	page, notes, err := setCardPage(ctx, store, cardRequest{h.request.Set, h.request.Grade, h.request.Plan}, g, path)
	if err != nil {
		return err
	}
	h.out.Notes = append(h.out.Notes, notes...)
	return h.keep("set-card.html", "the set card: one page to print", page, nil)
}

// setCardPage is the set card: one A4 page to print and hang up where the set is.
func setCardPage(ctx context.Context, store Sets, r cardRequest, g *grade.Grade, path *grade.Path) (page []byte, notes []string, err error) {
	set, kept, err := OpenSet(ctx, store, r.Set)
	if err != nil {
		return nil, nil, err
	}
	v := &viewer{path, path.Curve, "graded by " + filepath.Base(r.Grade)}
	if g.Decode.Curve != kept.Settings.Clip.Curve {
		if v, err = newViewer(kept.Settings.Clip.Curve, kept.Settings.Clip.Gamut); err != nil {
			return nil, nil, err
		}
		notes = append(notes, fmt.Sprintf("the grade is for %s, the set's clip is %s: the card's pictures are not graded", g.Decode.Curve, kept.Settings.Clip.Curve))
	}
	var plan *Planned
	if r.Plan != "" {
		if plan, err = PlanFile(PlanRequest{File: r.Plan}); err != nil {
			return nil, nil, err
		}
	}
	clip := kept.Settings.Clip
	c := setCard{
		Name: kept.Name, Learned: kept.Learned.Format("2006-01-02"), Clip: clip.File, Grade: filepath.Base(r.Grade), Shown: v.how,
		Camera: cardCamera(clip, plan),
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
	im := v.show(set.PictureOf(set.Mix), 0)
	w, h := picture.Fit(im.W, im.H, cardPicture, cardPicture)
	thumb, err := pngOf(im.Shrink(w, h))
	if err != nil {
		return nil, nil, err
	}
	c.Picture = pngData(thumb)
	top := math.NaN()
	if set.Clip > 0 {
		top = float64(unit.StopsOf(set.Clip / colour.Grey))
	}
	rows := cardRows(set, v, plan)
	for _, row := range rows {
		c.Wanted = c.Wanted || row.Planned
	}
	// Our own drawings; their texts are escaped there.
	c.Ladder = template.HTML(drawCardLadder(rows, top, noiseFloor(set)))
	planH, zoom := cardFit(len(rows), len(set.Lamps), float64(h)/float64(w))
	c.Zoom = template.CSS(fmt.Sprintf("%.3f", zoom))
	if plan != nil {
		c.Plan = template.HTML(drawAboveSmall(plan, cardPlanW, planH))
		c.PlanTitle = plan.Title
		if c.PlanTitle == "" {
			c.PlanTitle = filepath.Base(r.Plan)
		}
		if plan.Exposure.Curve != "" && plan.Exposure.Curve != clip.Curve {
			notes = append(notes, fmt.Sprintf("the plan's camera records with %s, the set's with %s: is it the set's plan?", plan.Exposure.Curve, clip.Curve))
		}
	}
	if c.Exposure, err = exposureCard(clip.Curve); err != nil {
		return nil, nil, err
	}
	var out bytes.Buffer
	if err := cardPage.Execute(&out, c); err != nil {
		return nil, nil, fmt.Errorf("set card: %w", err)
	}
	return out.Bytes(), notes, nil
}

// Of the card.
const (
	cardPicture = 720   // pixels, the longer side
	cardPlanW   = 112.0 // mm, as wide as the picture
)

// cardFit is how high the drawing of the room may be for the card to stay one
// page, mm, by the style's line heights: what an A4 page leaves beside the rest.
// Where that is too little, as with many lamps or regions, the whole card is
// printed smaller, by zoom.
func cardFit(regions, lamps int, aspect float64) (planH, zoom float64) {
	const page, line, leastPlan, mostPlan = 277.0, 4.6, 70.0, 95.0 // the exposure card beside the plan is 70 high
	rest := 10 + math.Max(cardPlanW*aspect+5, line*float64(lamps+1)+line*8+14) + (lyingHead + lyingRow*float64(regions) + lyingFoot) + 17 + 9 + 24
	planH = math.Max(leastPlan, math.Min(mostPlan, page-rest))
	return planH, math.Min(1, page/(rest+planH))
}

// cardCamera is what the camera is to be set to. What nobody said is left to be
// written in by hand.
func cardCamera(clip book.SetClip, plan *Planned) (out [][2]string) {
	put := func(what, value string) { out = append(out, [2]string{what, value}) }
	put("records", fmt.Sprintf("%s, %d × %d, %.5g /s", clip.Curve, clip.Width, clip.Height, clip.Rate))
	if plan == nil {
		for _, what := range []string{"lens, focus", "aperture", "shutter", "sensitivity, ND", "white balance"} {
			put(what, "")
		}
	} else {
		p, e := plan.scene.Plan.Camera, plan.Exposure
		put("lens, focus", fmt.Sprintf("%.3g mm at %.2f m", plan.Lens.Focal, plan.Lens.Focus))
		put("aperture", fmt.Sprintf("f/%.3g", e.F))
		put("shutter", fmt.Sprintf("%.0f° (1/%.4g s)", e.Angle, 1/e.Time))
		nd := "no ND"
		if e.ND > 0 {
			nd = fmt.Sprintf("ND %.1f stop (%.1f)", e.ND, e.NDDensity)
		}
		put("sensitivity, ND", fmt.Sprintf("%.0f, %s", e.Sensitivity, nd))
		if p.Balance > 0 {
			put("white balance", fmt.Sprintf("%.0f K", float64(p.Balance)))
		} else {
			put("white balance", "")
		}
	}
	put("on manual", "exposure, white balance, focus; stabiliser off")
	return out
}

// cardRows are the regions with what each is to read: a plan's target, or what
// it read when the set was learned, give or take what a check calls for acting on.
func cardRows(set *lamps.Set, v *viewer, plan *Planned) (rows []cardRow) {
	wanted := map[string]lamps.Target{}
	if plan != nil {
		for _, text := range plan.scene.Plan.Targets {
			if t, err := ParseTargets([]string{text}); err == nil && len(t) == 1 && t[0].Over == "" && !t[0].Neutral {
				wanted[t[0].Region] = t[0]
			}
		}
	}
	for _, r := range set.Regions {
		stops := float64(set.Read(set.Mix, r).Stops)
		if math.IsInf(stops, 0) || math.IsNaN(stops) {
			continue
		}
		row := cardRow{Region: r.Name, Reads: stops, Want: stops, Within: float64(set.Habit.Act)}
		if t, ok := wanted[r.Name]; ok {
			row.Want, row.Within, row.Planned = float64(t.Want), float64(t.Tolerance), true
		}
		row.Percent = float64(v.curve.NarrowPercent(colour.Grey * math.Exp2(row.Want)))
		row.Screen = 100 * v.path.Ladder([]float64{row.Want})[0].Signal
		rows = append(rows, row)
	}
	return rows
}

type setCard struct {
	Name, Learned, Clip, Grade, Shown, PlanTitle string
	Camera                                       [][2]string
	Cautions                                     []string
	Lamps                                        []cardLamp
	Wanted                                       bool // some region's target is the plan's
	Picture                                      template.URL
	Ladder, Plan                                 template.HTML
	Zoom                                         template.CSS // of the printed page
	Exposure                                     *ExposureCard
}

type cardLamp struct{ Name, Level, Dimmer string }

var cardPage = template.Must(template.New("card").Funcs(template.FuncMap{
	"stops": func(v *float64) string {
		if v == nil {
			return "–"
		}
		return minus(fmt.Sprintf("%+.1f", *v))
	},
}).Parse(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Set card: {{.Name}}</title>
<style>
@page { size: A4 portrait; margin: 10mm }
* { box-sizing: border-box }
body { font: 9.5pt/1.3 sans-serif; color: #111; background: #fff; margin: 1rem auto; width: 190mm; max-width: 100% }
h1 { font-size: 17pt; margin: 0; line-height: 1.1 } h2 { font-size: 10pt; margin: 0 0 1mm; border-bottom: .3mm solid #111 }
header { display: flex; justify-content: space-between; align-items: baseline; flex-wrap: wrap; gap: 0 4mm; margin-bottom: 2mm }
.row { display: flex; flex-wrap: wrap; gap: 4mm; margin-bottom: 2.5mm } .row > * { flex: 1 1 50mm; min-width: 0 } .row > .broad { flex: 0 1 112mm }
table { border-collapse: collapse; width: 100% } th, td { text-align: left; padding: .2mm 1.5mm .2mm 0; font-weight: normal; vertical-align: baseline }
thead th { color: #555; font-size: 8.5pt } td { font-variant-numeric: tabular-nums } .n { text-align: right }
.write td:first-child { white-space: nowrap } .write td:last-child:empty { border-bottom: .2mm solid #888; width: 60% }
img, svg { display: block; width: 100%; height: auto } p { margin: .6mm 0 }
.cautions { border: .5mm solid #111; padding: 1mm 2.5mm } small { color: #444; font-size: 8.5pt }
@media print { body { margin: 0; zoom: {{.Zoom}} } .row, .cautions { break-inside: avoid } }
</style></head><body>
<header><h1>Set {{.Name}}</h1><span>learned {{.Learned}} from {{.Clip}} · grade {{.Grade}}</span></header>
<div class="row"><div class="broad"><img src="{{.Picture}}" alt="The set as it is meant to look"><p><small>The mix, {{.Shown}}</small></p></div>
<div><h2>Lamps</h2><table><thead><tr><th>lamp</th><th class="n">light</th><th class="n">dimmer</th></tr></thead><tbody>
{{range .Lamps}}<tr><td>{{.Name}}</td><td class="n">{{.Level}}</td><td class="n">{{if .Dimmer}}{{.Dimmer}}{{else}}not measured{{end}}</td></tr>{{end}}</tbody></table>
<h2 style="margin-top:2.5mm">Camera</h2><table class="write">{{range .Camera}}<tr><td>{{index . 0}}</td><td>{{index . 1}}</td></tr>{{end}}</table></div></div>
<h2>Target ladder</h2>{{.Ladder}}
<p><small>Stops from grey. Dot: what the region read when the set was learned. Brackets and figures: what it is to read{{if .Wanted}} (the plan’s target where it has one){{end}}; waveform: the camera’s, in per cent of the narrow range, through {{.Exposure.Curve}}; screen: the finished signal.</small></p>
<div class="row">{{if .Plan}}<div class="broad"><h2>{{.PlanTitle}}</h2>{{.Plan}}</div>{{end}}
<div><h2>Exposure card, {{.Exposure.Curve}}</h2><table><thead><tr><th></th><th class="n">stops</th><th class="n">code</th><th class="n">waveform</th></tr></thead><tbody>
{{range .Exposure.Rows}}<tr><td>{{.Name}}</td><td class="n">{{stops .Stops}}</td><td class="n">{{printf "%.0f" .Code}}</td><td class="n">{{printf "%.0f %%" .Percent}}</td></tr>{{end}}</tbody></table>
<p><small>Zebra: skin {{printf "%.0f" (index .Exposure.ZebraSkin 0)}} to {{printf "%.0f" (index .Exposure.ZebraSkin 1)}} %, clip {{printf "%.0f" .Exposure.ZebraClip}} %. Code of 10 bits. Skin’s reflectances are common practice.</small></p></div></div>
<div class="cautions">{{range .Cautions}}<p>{{.}}</p>{{end}}</div>
</body></html>
`))
