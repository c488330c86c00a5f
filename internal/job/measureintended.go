package job

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
)

// Intended is something that is so on purpose and is then not called a fault.
type Intended struct {
	Word string
	Size *float64 // how much of it is meant, in the problem's unit; nil: any
}

// intention says which problems a word covers, and what a size counts in.
type intention struct {
	word      string
	kinds     []string
	unit      string  // of a size; empty: none can be said
	tolerance float64 // by which what is found may differ from the size said
	meaning   string
}

// intentions are the words that --intended knows.
var intentions = []intention{
	{"over", []string{"exposure-over"}, "stop", 0.34, "exposed over, to keep noise down"},
	{"under", []string{"exposure-under"}, "stop", 0.34, "exposed under, to keep highlights"},
	{"warm", []string{"white-warm"}, "mired", 20, "white balance kept warm"},
	{"cold", []string{"white-cold"}, "mired", 20, "white balance kept cold"},
	{"green", []string{"white-green"}, "", 0, "light kept green"},
	{"magenta", []string{"white-magenta"}, "", 0, "light kept magenta"},
	{"blown", []string{"clipped"}, "", 0, "a lamp or window may be blown"},
	{"black", []string{"crushed"}, "", 0, "parts may be black"},
	{"changing", []string{"exposure-jump", "exposure-drift", "white-jump", "white-drift", "light-uneven"}, "", 0, "lamps are switched or dimmed while filming"},
	{"moving", []string{"handling-drift", "handling-shake"}, "", 0, "the camera is moved"},
	{"soft", []string{"focus"}, "", 0, "the face need not be sharp"},
	{"still", []string{"freeze"}, "", 0, "a still is part of it"},
	{"flicker", []string{"flicker-bands", "flicker-whole"}, "", 0, "a lamp that pulses is part of the scene"},
	{"noisy", []string{"noise"}, "", 0, "noise is accepted"},
}

// IntendedWords lists the words with their meaning.
func IntendedWords() [][2]string {
	var out [][2]string
	for _, i := range intentions {
		w := i.word
		if i.unit != "" {
			w += "[=" + i.unit + "]"
		}
		out = append(out, [2]string{w, i.meaning})
	}
	return out
}

func intentionOf(word string) *intention {
	for i := range intentions {
		if intentions[i].word == word {
			return &intentions[i]
		}
	}
	return nil
}

// ParseIntended reads words such as "warm" or "over=1".
func ParseIntended(texts []string) ([]Intended, error) {
	var out []Intended
	for _, text := range texts {
		word, size, sized := strings.Cut(strings.TrimSpace(text), "=")
		i := intentionOf(word)
		if i == nil {
			var known []string
			for _, k := range intentions {
				known = append(known, k.word)
			}
			hint := "Known are " + strings.Join(known, ", ") + "; none forgets them all."
			if near, ok := fault.Nearest(word, known); ok {
				hint = "Did you mean “" + near + "”? " + hint
			}
			return nil, fault.New(fault.Usage, "intended", hint, "%q is nothing that can be intended", word)
		}
		x := Intended{Word: word}
		if sized {
			v, err := strconv.ParseFloat(size, 64)
			if err != nil || i.unit == "" || !(v > 0 && v < 1000) {
				hint := "Write " + word + " alone."
				if i.unit != "" {
					hint = fmt.Sprintf("For example %s=1, in %s.", word, i.unit)
				}
				return nil, fault.New(fault.Usage, "intended", hint, "%q says no size that can be intended", text)
			}
			x.Size = &v
		}
		out = append(out, x)
	}
	return out, nil
}

// String writes it as ParseIntended reads it.
func (i Intended) String() string {
	if i.Size == nil {
		return i.Word
	}
	return i.Word + "=" + strconv.FormatFloat(*i.Size, 'g', -1, 64)
}

// keepIntended writes what is intended into the set, a word in the place of
// the same word before.
func keepIntended(ctx context.Context, store Sets, set *book.Set, intended []Intended) error {
	s := &set.Settings
	for _, i := range intended {
		s.Intended = slices.DeleteFunc(s.Intended, func(old string) bool {
			word, _, _ := strings.Cut(old, "=")
			return word == i.Word
		})
		s.Intended = append(s.Intended, i.String())
	}
	set.Changed = time.Now()
	return store.ChangeSet(ctx, *set)
}

// ForgetIntended removes all that is intended from a set.
func ForgetIntended(ctx context.Context, store Sets, name string) error {
	set, err := store.Set(ctx, name)
	if err != nil {
		return err
	}
	set.Settings.Intended, set.Changed = nil, time.Now()
	return store.ChangeSet(ctx, set)
}

// IntendedFound is a problem that was declared to be so on purpose.
type IntendedFound struct {
	Declared string  `json:"declared"`
	What     string  `json:"what"`
	Size     float64 `json:"size"`
	Unit     string  `json:"unit"`
	From     float64 `json:"from"`
	To       float64 `json:"to"`
}

// sift takes what is intended out of the problems.
func sift(problems []gauge.Problem, intended []Intended) (left []gauge.Problem, meant []IntendedFound) {
	left, meant = []gauge.Problem{}, []IntendedFound{}
	for _, p := range problems {
		by := -1
		for k, i := range intended {
			n := intentionOf(i.Word)
			if slices.Contains(n.kinds, p.Kind) && (i.Size == nil || math.Abs(math.Abs(p.Size)-*i.Size) <= n.tolerance+p.Error) {
				by = k
			}
		}
		if by < 0 {
			left = append(left, p)
			continue
		}
		meant = append(meant, IntendedFound{intended[by].String(), p.What, p.Size, p.Unit, p.From, p.To})
	}
	return left, meant
}
