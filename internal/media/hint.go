package media

import (
	"crypto/sha256"
	"encoding/hex"
	"regexp"
	"sort"
	"strings"
)

// Hint is a tag of the clip that looks as if it names the recording curve. It
// proves nothing: once the user has said which curve a clip has, the store
// remembers it under Info.HintKey for all clips with the same hints.
type Hint struct {
	Where string `json:"where"` // "file", or "stream 0"
	Key   string `json:"key"`
	Value string `json:"value"`
}

// What the trade calls a recording curve in a tag's name: a word of these
// anywhere in it. Common practice, no source.
var hintKey = regexp.MustCompile(`(?i)(gamma|transfer|eotf|oetf|\bcurve|tone.?curve|colou?r.?(space|mode|profile|science)|` +
	`picture.?(profile|style|mode|control)|gamut|photo.?style|\blut\b|look|(^|[^a-z])log([^a-z]|$))`)

// A value with a word that is "log" with a few letters or figures before or
// after it, or one of the standard's curve names.
var hintValue = regexp.MustCompile(`(?i)(^|[^a-z0-9])([a-z]{0,3}[-_]?log[-_ ]?([a-z]{1,2})?[0-9]{0,3}|gamma|hlg|pq|st[-_ ]?2084|hybrid[-_ ]log.gamma|cine[a-z]*|flat)([^a-z0-9]|$)`)

// Words that have "log" in them and mean something else.
var notHint = regexp.MustCompile(`(?i)^(blog|dialog|catalog|analog|syslog|prolog|logo|login|logs|changelog)$`)

// findHints goes through the tags of one place.
func findHints(where string, tags map[string]string) []Hint {
	var out []Hint
	for key, value := range tags {
		if value == "" || len(value) > 200 || isPlumbing(key) {
			continue
		}
		if hintKey.MatchString(key) || valueHints(value) {
			out = append(out, Hint{Where: where, Key: key, Value: value})
		}
	}
	sort.Slice(out, func(a, b int) bool { return out[a].Key < out[b].Key })
	return out
}

func valueHints(value string) bool {
	for _, m := range hintValue.FindAllStringSubmatch(value, -1) {
		if !notHint.MatchString(strings.TrimSpace(m[2])) {
			return true
		}
	}
	return false
}

// isPlumbing is true for tags that every file has and that say nothing of the picture.
func isPlumbing(key string) bool {
	switch strings.ToLower(key) {
	case "major_brand", "minor_version", "compatible_brands", "handler_name", "vendor_id", "creation_time",
		"language", "timecode", "duration", "title", "location", "location-eng":
		return true
	}
	return false
}

// hintFingerprint is the same for the same hints in any order, case or spacing,
// and empty without hints. It is a name, not a secret.
func hintFingerprint(hints []Hint) string {
	if len(hints) == 0 {
		return ""
	}
	lines := make([]string, 0, len(hints))
	for _, h := range hints {
		lines = append(lines, normal(h.Key)+"="+normal(h.Value))
	}
	sort.Strings(lines)
	lines = compact(lines)
	sum := sha256.Sum256([]byte(strings.Join(lines, "\n")))
	return "hint-" + hex.EncodeToString(sum[:8])
}

func normal(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }

func compact(sorted []string) []string {
	out := sorted[:0]
	for i, s := range sorted {
		if i == 0 || s != sorted[i-1] {
			out = append(out, s)
		}
	}
	return out
}
