package media

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// SoundHash is the SHA-256 of one sound stream's packets, as they are stored.
type SoundHash struct {
	Number int    `json:"number"` // among the file's sound streams, from 0
	Codec  string `json:"codec"`
	SHA256 string `json:"sha256"` // hexadecimal
}

// AudioHash hashes every sound stream of a file, undecoded, in the order of
// the streams. The hashes of a clip and of a file whose sound was copied bit for
// bit are the same. (AAC is hashed without the transport headers that some
// containers put before each packet.) No sound gives an empty list.
func AudioHash(ctx context.Context, path string) ([]SoundHash, error) {
	info, err := Probe(ctx, path)
	if err != nil {
		return nil, err
	}
	return audioHash(ctx, info)
}

// AudioHashOf is AudioHash for a clip that was probed already.
func AudioHashOf(ctx context.Context, info *Info) ([]SoundHash, error) { return audioHash(ctx, info) }

func audioHash(ctx context.Context, info *Info) ([]SoundHash, error) {
	out := []SoundHash{}
	ffmpeg, err := findTool(ctx, "ffmpeg")
	if err != nil {
		return nil, err
	}
	a := append([]string{"-hide_banner", "-nostdin", "-v", "error", "-copyts"}, inputGuards()...)
	a = append(a, "-i", fileURL(info.Path))
	var sound []Audio
	for _, s := range info.Audio {
		if !s.copied() {
			continue
		}
		a = append(a, "-map", "0:"+strconv.Itoa(s.Index))
		if s.Codec == "aac" {
			a = append(a, "-bsf:a:"+strconv.Itoa(len(sound)), "aac_adtstoasc")
		}
		sound = append(sound, s)
	}
	if len(sound) == 0 {
		return out, nil
	}
	a = append(a, "-c:a", "copy", "-f", "streamhash", "-hash", "sha256", "pipe:1")
	text, err := runTool(ctx, ffmpeg.path, a, 1<<16)
	var failed *failedError
	if errors.As(err, &failed) {
		return nil, fault.Wrap(err, fault.Input, "sound-unreadable", "check that the clip was copied whole", "%s: the sound cannot be read: %s", info.Path, failed.reason())
	}
	if err != nil {
		return nil, err
	}
	// One line a stream: "0,a,SHA256=…".
	for line := range bytes.Lines(text) {
		_, hash, ok := strings.Cut(strings.TrimSpace(string(line)), "SHA256=")
		if !ok || len(hash) != 64 || len(out) == len(sound) {
			return nil, fmt.Errorf("%s: ffmpeg's answer %q is no hash", info.Path, line)
		}
		s := sound[len(out)]
		out = append(out, SoundHash{Number: len(out), Codec: s.Codec, SHA256: hash})
	}
	if len(out) != len(sound) {
		return nil, fmt.Errorf("%s: %d of %d sound streams were hashed", info.Path, len(out), len(sound))
	}
	return out, nil
}

// FrameTimes gives the presentation time of every frame in s from the
// container's start, from its packets; nothing is decoded.
func FrameTimes(ctx context.Context, path string) ([]float64, error) {
	info, err := Probe(ctx, path)
	if err != nil {
		return nil, err
	}
	out := make([]float64, info.Video.Frames)
	for n := range out {
		out[n] = info.FrameTime(n)
	}
	return out, nil
}

// CountFrames counts a clip's frames by its packets; nothing is decoded.
func CountFrames(ctx context.Context, path string) (int, error) {
	info, err := Probe(ctx, path)
	if err != nil {
		return 0, err
	}
	return info.Video.Frames, nil
}

// SoundStart is how long after the first frame a file's first sound begins, in
// s; negative where it begins before. A file without sound gives 0.
func SoundStart(i *Info) float64 {
	if len(i.Audio) == 0 {
		return 0
	}
	return i.Audio[0].Start - (i.Start + i.FrameTime(0))
}
