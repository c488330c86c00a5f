package job

import (
	"fmt"
	"path/filepath"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// Delivery is one finished file and how it is written.
type Delivery struct {
	Preset        string // by whose name it was made; empty: by hand
	Out           string
	Codec         media.Codec
	Quality       float64
	BitRate       int64
	Speed         media.Speed
	Sound         media.Sound
	Bits          int                 // 0: the grade's
	Sub           picture.Subsampling // empty: the grade's
	Width, Height int                 // made to fit within, never enlarged; 0: the clip's size
	Filter        picture.Filter      // empty: lanczos
}

func (d Delivery) filter() picture.Filter {
	if d.Filter == "" {
		return picture.FilterLanczos
	}
	return d.Filter
}

// Preset is a delivery by a plain description.
type Preset struct {
	Name string `json:"name"`
	What string `json:"what"`
	Kind string `json:"kind"` // the file's ending
	make func(out string) Delivery
}

// Presets are all there are. What a site asks of a file changes; these are the
// kinds, not the rules of any site.
var Presets = []Preset{
	{"web-1080p", "H.264, 8-bit 4:2:0, within 1920 × 1080, sound AAC", ".mp4", func(out string) Delivery {
		return Delivery{Codec: media.CodecH264, Bits: 8, Sub: picture.Sub420, Width: 1920, Height: 1080, Sound: media.SoundAAC, Out: out}
	}},
	{"web-uhd", "H.264, 8-bit 4:2:0, within 3840 × 2160, sound AAC", ".mp4", func(out string) Delivery {
		return Delivery{Codec: media.CodecH264, Bits: 8, Sub: picture.Sub420, Width: 3840, Height: 2160, Sound: media.SoundAAC, Out: out}
	}},
	{"web-10bit", "HEVC, 10-bit 4:2:0, within 3840 × 2160, sound AAC", ".mp4", func(out string) Delivery {
		return Delivery{Codec: media.CodecHEVC, Bits: 10, Sub: picture.Sub420, Width: 3840, Height: 2160, Sound: media.SoundAAC, Out: out}
	}},
	{"master", "every frame alone, 10-bit 4:2:2, the clip's size, sound copied", ".mov", func(out string) Delivery {
		return Delivery{Codec: media.CodecIntermediate, Bits: 10, Sub: picture.Sub422, Out: out}
	}},
}

// kind is the ending of a preset's files.
func (d Delivery) kind() string {
	for _, p := range Presets {
		if p.Name == d.Preset {
			return p.Kind
		}
	}
	return filepath.Ext(d.Out)
}

// PresetDelivery makes a delivery by a preset's name.
func PresetDelivery(name, out string) (Delivery, error) {
	var names []string
	for _, p := range Presets {
		if p.Name == name {
			d := p.make(out)
			d.Preset = name
			return d, nil
		}
		names = append(names, p.Name)
	}
	hint := "Choose " + strings.Join(names, ", ") + "."
	if near, ok := fault.Nearest(name, names); ok {
		hint = "Did you mean “" + near + "”? " + hint
	}
	return Delivery{}, fault.New(fault.Usage, "preset", hint, "no preset is called %q", name)
}

// madeNote is what a finished file says, beside how it was encoded, of which
// part of the clip it is and in what size, so that verify can compare.
type madeNote struct {
	first, count  int
	width, height int
	filter        picture.Filter
}

const madeFormat = " first=%d count=%d size=%dx%d filter=%s"

func (n madeNote) String() string {
	return fmt.Sprintf(madeFormat, n.first, n.count, n.width, n.height, n.filter)
}

func parseMade(comment string) (n madeNote, ok bool) {
	at := strings.Index(comment, " first=")
	if at < 0 {
		return n, false
	}
	got, err := fmt.Sscanf(comment[at:], madeFormat, &n.first, &n.count, &n.width, &n.height, &n.filter)
	return n, err == nil && got == 5 && n.first >= 0 && n.count > 0 && n.width > 0 && n.height > 0
}
