package job

import (
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/light"
	"lampwise/internal/unit"
)

// NewPlanRequest asks for a new plan file.
type NewPlanRequest struct {
	File      string
	Overwrite bool
	Example   bool                                // the commented example instead of answers
	Ask       func(question, usual string) string // puts a question; nil: all as usual
}

// NewPlanned says what was written: docs/json.md, plan new.
type NewPlanned struct {
	File string `json:"file"`
}

// NewPlan writes a plan to start from.
func NewPlan(r NewPlanRequest) (*NewPlanned, error) {
	if !r.Overwrite {
		if err := absent(r.File); err != nil {
			return nil, err
		}
	}
	text := light.Example
	if !r.Example {
		var err error
		if text, err = askPlan(r.Ask); err != nil {
			return nil, err
		}
	}
	if err := writeFile(r.File, r.Overwrite, []byte(text)); err != nil {
		return nil, err
	}
	return &NewPlanned{r.File}, nil
}

func askPlan(ask func(question, usual string) string) (string, error) {
	a := light.Usual
	if ask == nil {
		return light.New(a)
	}
	var wrong error
	number := func(question string, usual float64) float64 {
		text := ask(question, strconv.FormatFloat(usual, 'g', -1, 64))
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil && wrong == nil {
			wrong = fault.New(fault.Usage, "answer", "Answer with a number, or press Enter for the usual one.", "%q is no number (%s)", text, question)
		}
		return v
	}
	a.Width = unit.Metre(number("Room's width (m)", float64(a.Width)))
	a.Depth = unit.Metre(number("Room's depth (m)", float64(a.Depth)))
	a.Height = unit.Metre(number("Room's height (m)", float64(a.Height)))
	a.Walls = number("How much light the walls give back (white paint 0.8, plaster 0.5, black cloth 0.03)", a.Walls)
	a.Standing = strings.HasPrefix(strings.ToLower(ask("Does the subject sit or stand", "sit")), "st")
	a.Focal = unit.Millimetre(number("Focal length (mm)", float64(a.Focal)))
	a.N = number("f-number", a.N)
	a.Sensitivity = number("Base sensitivity of the camera's log mode (ISO)", a.Sensitivity)
	a.Rate = unit.Hertz(number("Pictures a second", float64(a.Rate)))
	a.Mains = unit.Hertz(number("Mains frequency (Hz)", float64(a.Mains)))
	a.Key = ask("Kind of the key (lampwise plan kinds lists them)", a.Key)
	a.Fill = ask("Kind of the fill, or none", a.Fill)
	if a.Fill == "none" {
		a.Fill = ""
	}
	if wrong != nil {
		return "", wrong
	}
	return light.New(a)
}

// PlanKind is a generic lamp.
type PlanKind struct {
	Name    string `json:"name"`
	Says    string `json:"says"`
	Assumes string `json:"assumes"`
}

// PlanKinds lists the generic lamps.
func PlanKinds() []PlanKind {
	var out []PlanKind
	for _, k := range light.Kinds() {
		out = append(out, PlanKind{k.Name, k.Says, k.Assumes})
	}
	return out
}
