package media

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"strconv"

	"lampwise/internal/fault"
)

// Listen decodes a clip's first sound track, mixed to one channel, at a rate
// in samples a second, and hands it over piece by piece. The first sample is the
// container's start. A clip without sound hands over nothing.
func Listen(ctx context.Context, info *Info, rate int, take func(samples []float32)) error {
	ffmpeg, err := findTool(ctx, "ffmpeg")
	if err != nil {
		return err
	}
	var track *Audio
	for i := range info.Audio {
		if info.Audio[i].copied() {
			track = &info.Audio[i]
			break
		}
	}
	if track == nil {
		return nil
	}
	a := append([]string{"-hide_banner", "-nostdin", "-v", "error"}, inputGuards()...)
	a = append(a, "-i", fileURL(info.Path), "-map", "0:"+strconv.Itoa(track.Index), "-vn", "-sn", "-dn",
		"-af", "aresample=async=1:first_pts=0", "-ac", "1", "-ar", strconv.Itoa(rate), "-c:a", "pcm_f32le", "-f", "f32le", "pipe:1")
	err = streamTool(ctx, ffmpeg.path, a, func(r io.Reader) error {
		raw, samples := make([]byte, 4*rate), make([]float32, rate) // a second
		for {
			n, err := io.ReadFull(r, raw)
			for i := range n / 4 {
				v := math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))
				if v-v != 0 { // NaN or infinite
					v = 0
				}
				samples[i] = v
			}
			take(samples[:n/4])
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				return nil
			}
			if err != nil {
				return err
			}
		}
	})
	var failed *failedError
	if errors.As(err, &failed) {
		return fault.Wrap(err, fault.Input, "sound-unreadable", "check that the clip was copied whole", "%s: the sound cannot be read: %s", info.Path, failed.reason())
	}
	return err
}
