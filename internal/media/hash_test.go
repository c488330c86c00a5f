package media

import (
	"context"
	"crypto/md5"
	"encoding/binary"
	"encoding/hex"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

// sameAsFrameHash compares a frame with the MD5 of ffmpeg's framemd5 muxer, in
// the file's own pixel format: an outside judge of the whole way in.
func sameAsFrameHash(t *testing.T, path string, frame *picture.Frame, number int) {
	t.Helper()
	out, err := runTool(context.Background(), mustTool(t, "ffmpeg"), []string{"-v", "error", "-noautorotate", "-i", path, "-map", "0:v:0", "-f", "framemd5", "-"}, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	lines := slices.DeleteFunc(splitLines(out), func(l string) bool { return strings.HasPrefix(l, "#") })
	fields := strings.Split(lines[number], ",")
	want := strings.TrimSpace(fields[len(fields)-1])
	h := md5.New()
	for _, p := range [][]uint16{frame.Y, frame.Cb, frame.Cr} {
		b := make([]byte, 0, 2*len(p))
		for _, v := range p {
			if frame.Bits == 8 {
				b = append(b, byte(v))
			} else {
				b = binary.LittleEndian.AppendUint16(b, v)
			}
		}
		h.Write(b)
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != want {
		t.Errorf("frame %d: MD5 %s, ffmpeg says %s", number, got, want)
	}
}

func TestFramesAgainstFFmpegsHash(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for name, args := range map[string][]string{
		"a.mov": {"-pix_fmt", "yuv422p10le", "-c:v", "libx264"},
		"b.mp4": {"-pix_fmt", "yuv420p10le", "-c:v", "libx265", "-x265-params", "log-level=error"},
		"c.mkv": {"-pix_fmt", "yuvj422p", "-c:v", "mjpeg"},
		"d.mp4": {"-pix_fmt", "yuv420p", "-c:v", "libx264", "-color_range", "pc"},
	} {
		path := filepath.Join(t.TempDir(), name)
		ffmpeg(t, slices.Concat([]string{"-f", "lavfi", "-i", "testsrc2=s=98x66:d=0.4:r=25"}, args, []string{path})...)
		frames := readAll(t, path, ReadOptions{})
		sameAsFrameHash(t, path, frames[len(frames)-1], len(frames)-1)
	}
}

// The hash is of the stored packets: another picture does not change it, another sound does.
func TestAudioHash(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	sound := func(name, frequency string) []SoundHash {
		path := filepath.Join(dir, name)
		ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=32x32:d=0.3:r=25", "-f", "lavfi", "-i", "sine=d=0.3:r=48000:f="+frequency,
			"-f", "lavfi", "-i", "sine=d=0.3:r=48000:f=200", "-map", "0", "-map", "1", "-map", "2", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-c:a", "pcm_s16le", path)
		h, err := AudioHash(context.Background(), path)
		if err != nil || len(h) != 2 {
			t.Fatal(h, err)
		}
		return h
	}
	a, b := sound("a.mov", "440"), sound("b.mov", "441")
	if a[0].SHA256 == b[0].SHA256 || a[1] != b[1] {
		t.Errorf("%v\n%v", a, b)
	}
	mute := filepath.Join(dir, "mute.mov")
	ffmpeg(t, "-i", filepath.Join(dir, "a.mov"), "-an", "-c", "copy", mute)
	if h, err := AudioHash(context.Background(), mute); err != nil || len(h) != 0 || h == nil {
		t.Errorf("a clip without sound: %v, %v", h, err)
	}
}
