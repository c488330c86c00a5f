package media

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"

	"lampwise/internal/fault"
)

// Oldest ffmpeg this package speaks to: the oldest it was tested with. It
// names its options (-fps_mode came with 5.1).
const (
	oldestMajor = 5
	oldestMinor = 1
)

// Version is a program's version; 0.0 where it names itself by a build only.
type Version struct {
	Major, Minor int
	Text         string // as printed
}

// atLeast is true for newer ones and for builds without a number.
func (v Version) atLeast(major, minor int) bool {
	if v.Major == 0 {
		return true
	}
	return v.Major > major || v.Major == major && v.Minor >= minor
}

// tool is a program found on this machine.
type tool struct {
	path    string
	version Version
}

var toolCache struct {
	sync.Mutex
	byName map[string]cachedTool
}

type cachedTool struct {
	tool
	size    int64
	changed time.Time
}

// findTool looks for ffmpeg or ffprobe on the PATH and asks for its version.
// A program that is absent, does not run or is too old is a fault of class Missing.
func findTool(ctx context.Context, name string) (tool, error) {
	path, err := exec.LookPath(name)
	if err != nil {
		return tool{}, fault.Wrap(err, fault.Missing, "ffmpeg-missing", installHint(runtime.GOOS),
			"%s was not found on this machine", name)
	}
	stat, err := os.Stat(path)
	if err != nil {
		return tool{}, fault.Wrap(err, fault.Missing, "ffmpeg-missing", installHint(runtime.GOOS), "%s cannot be run: %v", name, err)
	}
	toolCache.Lock()
	c, ok := toolCache.byName[path]
	toolCache.Unlock()
	if ok && c.size == stat.Size() && c.changed.Equal(stat.ModTime()) {
		return c.tool, nil
	}
	out, err := runTool(ctx, path, []string{"-hide_banner", "-version"}, 1<<16)
	if err != nil {
		var f *fault.Fault
		if errors.As(err, &f) && f.Class == fault.Cancelled {
			return tool{}, err
		}
		return tool{}, fault.Wrap(err, fault.Missing, "ffmpeg-broken", installHint(runtime.GOOS),
			"%s is there (%s) but does not run: %v", name, path, err)
	}
	t := tool{path: path, version: parseVersion(string(out))}
	if t.version.Text == "" {
		return tool{}, fault.New(fault.Missing, "ffmpeg-broken", installHint(runtime.GOOS),
			"%s (%s) does not answer as ffmpeg's tools do", name, path)
	}
	if !t.version.atLeast(oldestMajor, oldestMinor) {
		return t, fault.New(fault.Missing, "ffmpeg-old", installHint(runtime.GOOS),
			"%s %s is too old: %d.%d or newer is needed", name, t.version.Text, oldestMajor, oldestMinor)
	}
	toolCache.Lock()
	if toolCache.byName == nil {
		toolCache.byName = map[string]cachedTool{}
	}
	toolCache.byName[path] = cachedTool{t, stat.Size(), stat.ModTime()}
	toolCache.Unlock()
	return t, nil
}

var versionPattern = regexp.MustCompile(`(?m)^ff\w+ version (\S+)`)

// parseVersion reads the first line of -version: "ffmpeg version 5.1.9-0+deb12u1 …",
// "ffmpeg version n7.1 …", "ffmpeg version N-111-gabc …".
func parseVersion(out string) Version {
	m := versionPattern.FindStringSubmatch(out)
	if m == nil {
		return Version{}
	}
	v := Version{Text: m[1]}
	fields := strings.FieldsFunc(strings.TrimPrefix(m[1], "n"), func(r rune) bool { return r < '0' || r > '9' })
	if len(fields) == 0 || !strings.HasPrefix(strings.TrimPrefix(m[1], "n"), fields[0]) {
		return v
	}
	major, err := strconv.Atoi(fields[0])
	if err != nil || major > 100 { // a date
		return v
	}
	v.Major = major
	if len(fields) > 1 {
		v.Minor, _ = strconv.Atoi(fields[1])
	}
	return v
}

// installHint says in each system's words how ffmpeg is had.
func installHint(system string) string {
	switch system {
	case "linux":
		return "install it: on Debian and Ubuntu `sudo apt-get install ffmpeg`, elsewhere the package named ffmpeg"
	case "darwin":
		return "install ffmpeg with your package manager (its package is called ffmpeg) or put the ffmpeg and ffprobe programs into a folder on the PATH"
	case "windows":
		return "fetch an ffmpeg build for Windows (linked from ffmpeg.org), unpack it and add its bin folder to the PATH"
	}
	return "install ffmpeg (with ffprobe) and see that both are on the PATH"
}
