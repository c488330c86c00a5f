package media

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"

	"lampwise/internal/fault"
)

// Finding is one thing this program needs of the machine, and whether it is there.
type Finding struct {
	Name     string `json:"name"`
	OK       bool   `json:"ok"`
	Required bool   `json:"required"`          // nothing works without it
	Found    string `json:"found,omitempty"`   // version, place, size
	Problem  string `json:"problem,omitempty"` // what is wrong, in one line
	Hint     string `json:"hint,omitempty"`    // what to do, for this system
}

// Encoders and their pixel formats that the Writer asks for.
var neededEncoders = []struct {
	name, purpose string
	formats       []string
	required      bool
}{
	{"libx264", "H.264 and the intermediate", []string{"yuv420p", "yuv420p10le", "yuv422p10le"}, true},
	{"libx265", "HEVC", []string{"yuv420p", "yuv420p10le"}, false},
}

// Space below this is told as a problem: a minute of UHD intermediate takes
// about this much (measured: 70 MB a second of 25 noisy frames).
const lowSpace = 4 << 30

// Doctor looks for what this program needs: ffmpeg and ffprobe, new enough and
// with the encoders, and room in the folders (the present one and the one for
// temporary files when none are named).
func Doctor(ctx context.Context, folders ...string) []Finding {
	out := append(doctorTools(ctx, runtime.GOOS), doctorSound(runtime.GOOS)...)
	return append(out, doctorSpace(folders)...)
}

func doctorTools(ctx context.Context, system string) []Finding {
	var out []Finding
	var ffmpeg tool
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		t, err := findTool(ctx, name)
		f := Finding{Name: name, Required: true, OK: err == nil, Found: t.version.Text}
		if err != nil {
			f.Problem, f.Hint = err.Error(), installHint(system)
		} else {
			f.Found += " (" + t.path + ")"
			if name == "ffmpeg" {
				ffmpeg = t
			}
		}
		out = append(out, f)
	}
	for _, e := range neededEncoders {
		f := Finding{Name: e.name, Required: e.required}
		if ffmpeg.path == "" {
			f.Problem = "cannot be looked for without ffmpeg"
		} else if missing, err := encoderLacks(ctx, ffmpeg, e.name, e.formats); err != nil {
			f.Problem, f.Hint = err.Error(), encoderHint(system)
		} else if len(missing) > 0 {
			f.Problem = fmt.Sprintf("it does not write %s", strings.Join(missing, ", "))
			f.Hint = encoderHint(system)
		} else {
			f.OK, f.Found = true, e.purpose+": "+strings.Join(e.formats, ", ")
		}
		out = append(out, f)
	}
	return out
}

var encoderFormats = regexp.MustCompile(`(?m)^\s*Supported pixel formats:(.*)$`)

// encoderLacks asks ffmpeg which of the pixel formats an encoder cannot take.
func encoderLacks(ctx context.Context, ffmpeg tool, name string, formats []string) ([]string, error) {
	text, err := runTool(ctx, ffmpeg.path, []string{"-hide_banner", "-v", "error", "-h", "encoder=" + name}, 1<<20)
	if f, ok := fault.As(err); ok {
		return nil, f
	}
	m := encoderFormats.FindSubmatch(text)
	if err != nil || m == nil || !strings.Contains(string(text), "Encoder "+name) {
		return nil, fmt.Errorf("this ffmpeg was built without it")
	}
	have := strings.Fields(string(m[1]))
	var missing []string
	for _, f := range formats {
		if !slices.Contains(have, f) {
			missing = append(missing, f)
		}
	}
	return missing, nil
}

func encoderHint(system string) string {
	if system == "linux" {
		return "Debian's and Ubuntu's own ffmpeg package has it: remove other builds from the PATH and `sudo apt-get install ffmpeg`"
	}
	return "choose an ffmpeg build that includes libx264 and libx265 (often called a full or GPL build)"
}

func doctorSpace(folders []string) []Finding {
	if len(folders) == 0 {
		folders = []string{".", os.TempDir()}
	}
	var out []Finding
	for _, dir := range folders {
		if abs, err := filepath.Abs(dir); err == nil {
			dir = abs
		}
		f := Finding{Name: "room in " + dir}
		free, err := FreeSpace(dir)
		switch {
		case err != nil:
			f.Problem, f.Hint = fmt.Sprintf("cannot be asked for: %v", err), "check that the folder exists"
		case free < lowSpace:
			f.Problem, f.Hint = fmt.Sprintf("only %s free", bytesText(free)), "make room, or write to another disk: a minute of UHD can take 4 GB"
		default:
			f.OK, f.Found = true, bytesText(free)+" free"
		}
		out = append(out, f)
	}
	return out
}

// bytesText is a size in decimal units to two figures.
func bytesText(n int64) string {
	switch {
	case n >= 1e12:
		return fmt.Sprintf("%.1f TB", float64(n)/1e12)
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	}
	return fmt.Sprintf("%.0f MB", float64(n)/1e6)
}
