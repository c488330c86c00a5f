package media

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/picture"
	"pgregory.net/rapid"
)

// A clip with a variable rate, made by ffmpeg alone: frames 3, 4 and 11 are
// taken out of an even 25, and from frame 15 on time runs at half speed.
func unevenClip(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=96x64:d=1.2:r=25", "-f", "lavfi", "-i", "sine=d=1.8:r=48000",
		"-vf", "select='not(eq(n,3)+eq(n,4)+eq(n,11))',setpts='PTS+if(gte(N,15),(N-15)/25/TB,0)'", "-fps_mode", "passthrough",
		"-pix_fmt", "yuv420p", "-c:v", "libx264", "-c:a", "aac", path)
	return path
}

func TestVariableRateKeepsEveryTime(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, name := range []string{"uneven.mov", "uneven.mkv"} {
		t.Run(name, func(t *testing.T) {
			in, out := rerender(t, unevenClip(t, name), "out.mp4", nil)
			if !in.Video.VariableRate || !out.Video.VariableRate || in.Video.Frames != 27 {
				t.Fatalf("variable %t then %t, %d frames", in.Video.VariableRate, out.Video.VariableRate, in.Video.Frames)
			}
			if i := slices.IndexFunc(in.Notes, func(n Note) bool { return n.Code == "variable-rate" }); i < 0 {
				t.Error("nothing was said of the variable rate")
			}
			// 0, 1, 2, then 5: the frames that were taken out left their time.
			if got := in.FrameTime(3) - in.FrameTime(2); math.Abs(got-3*0.04) > 0.001 {
				t.Errorf("frame 3 comes %.4f s after frame 2, want 0.12", got)
			}
			sameFrames(t, in, out)
			sameSound(t, in, out)
		})
	}
}

// Frame n is frame n, wherever decoding begins: every start is compared with a
// decode from the beginning, in codecs with frames out of order, open groups
// of pictures and leading pictures.
func TestStartIsExact(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, c := range []struct {
		name string
		args []string
	}{
		{"closed.mp4", []string{"-c:v", "libx264", "-g", "8", "-bf", "3"}},
		{"open.mov", []string{"-c:v", "libx264", "-x264-params", "keyint=8:open-gop=1:bframes=3:b-adapt=0"}},
		{"hevc.mp4", []string{"-c:v", "libx265", "-x265-params", "log-level=error:keyint=8:open-gop=1:bframes=3"}},
		{"broadcast.ts", []string{"-c:v", "libx264", "-g", "8", "-bf", "3", "-output_ts_offset", "7"}},
		{"matroska.mkv", []string{"-c:v", "libx264", "-g", "8", "-bf", "3"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.name)
			ffmpeg(t, slices.Concat([]string{"-f", "lavfi", "-i", "testsrc2=s=96x64:d=1:r=30000/1001", "-pix_fmt", "yuv420p"}, c.args, []string{path})...)
			info := probe(t, path)
			all := readAll(t, path, ReadOptions{Info: info})
			if len(all) != info.Video.Frames {
				t.Fatalf("%d frames, probe counted %d", len(all), info.Video.Frames)
			}
			for _, start := range []int{1, 8, 15, len(all) - 1} {
				got := readAll(t, path, ReadOptions{Info: info, Start: start, Count: 3})
				if want := min(3, len(all)-start); len(got) != want {
					t.Fatalf("from %d: %d frames, want %d", start, len(got), want)
				}
				for i, f := range got {
					sameCodes(t, fmt.Sprintf("frame %d read from %d", start+i, start), f, all[start+i])
					if f.Index != i || math.Abs(f.Time-all[start+i].Time) > 1e-9 {
						t.Errorf("frame %d read from %d: index %d, time %g, want %g", start+i, start, f.Index, f.Time, all[start+i].Time)
					}
				}
			}
		})
	}
}

func TestStartInUnevenClip(t *testing.T) {
	t.Parallel()
	path := unevenClip(t, "uneven.mov")
	all := readAll(t, path, ReadOptions{})
	for start := 1; start < len(all); start += 5 {
		got := readAll(t, path, ReadOptions{Start: start, Count: 1})
		sameCodes(t, fmt.Sprintf("frame %d", start), got[0], all[start])
		if got[0].Time != all[start].Time {
			t.Errorf("frame %d at %g, want %g", start, got[0].Time, all[start].Time)
		}
	}
}

// The even grid is found however timestamps were rounded, and not where a frame is missing.
func TestSteadyRate(t *testing.T) {
	bases := []Rational{{1, 1000}, {1, 12800}, {1, 90000}, {1, 15360}, {1001, 30000}, {1, 1000000}}
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]Rational{{24000, 1001}, {24, 1}, {25, 1}, {30000, 1001}, {50, 1}, {60000, 1001}, {120, 1}}).Draw(t, "rate")
		base := rapid.SampledFrom(bases).Draw(t, "base")
		n := rapid.IntRange(5, 400).Draw(t, "frames")
		offset := rapid.Float64Range(-5, 1e5).Draw(t, "offset")
		round := rapid.SampledFrom([]func(float64) float64{math.Round, math.Floor, math.Ceil}).Draw(t, "rounding")
		if base.Num != 1 && rate != (Rational{30000, 1001}) {
			t.Skip("this base can only hold its own rate")
		}
		if base.Num != 1 { // a tick is a frame: nothing is rounded
			offset, round = math.Round(offset)*base.Float(), math.Round
		}
		ticks := make([]int64, n)
		for i := range ticks {
			ticks[i] = int64(round((offset + float64(i)/rate.Float()) / base.Float()))
		}
		got, steady := steadyRate(ticks, base)
		// Both ends are rounded to a tick: the rate is known no better than that over the clip.
		known := 2*base.Float()/(float64(n-1)/rate.Float()) + 1e-9
		if !steady || math.Abs(got.Float()/rate.Float()-1) > known {
			t.Fatalf("%v steady %t, want %v", got, steady, rate)
		}
		hole := rapid.IntRange(1, n-2).Draw(t, "hole")
		if got, steady := steadyRate(slices.Delete(slices.Clone(ticks), hole, hole+1), base); steady {
			t.Fatalf("with frame %d of %d missing: steady %v", hole, n, got)
		}
	})
}

func TestNUTRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := format(rapid.IntRange(1, 40).Draw(t, "w"), rapid.IntRange(1, 20).Draw(t, "h"),
			rapid.SampledFrom([]int{8, 10, 12, 16}).Draw(t, "bits"), rapid.SampledFrom([]picture.Subsampling{picture.Sub420, picture.Sub422, picture.Sub444}).Draw(t, "sub"))
		nutRoundTrip(t, f, rapid.Uint64().Draw(t, "seed"), rapid.Int64Range(0, 1<<40).Draw(t, "pts"))
	})
}

// A glance believes the headers, says so, and a reader opened on it counts after all.
func TestGlance(t *testing.T) {
	t.Parallel()
	path := unevenClip(t, "uneven.mov")
	i, err := Glance(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if i.Video.Counted || i.Video.Frames != 27 || i.Video.VariableRate || i.Video.Rate.Num == 0 {
		t.Errorf("%+v", i.Video)
	}
	if got := readAll(t, path, ReadOptions{Info: i}); len(got) != 27 || math.Abs(got[3].Time-got[2].Time-0.12) > 0.001 {
		t.Errorf("%d frames, times %g and %g", len(got), got[2].Time, got[3].Time)
	}
	if probe(t, path).Video.Counted != true {
		t.Error("a probe did not count")
	}
}

// Decoding begins at the group's first frame.
func TestEntryIsTheGroupsFirstFrame(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	path := filepath.Join(t.TempDir(), "groups.mov")
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=96x64:d=1.2:r=25", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-g", "8", "-keyint_min", "8", "-sc_threshold", "0", path)
	info, err := Probe(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	for n := range info.Video.Frames {
		if got := info.Entry(n); got != n/8*8 {
			t.Errorf("frame %d is entered at %d, want %d", n, got, n/8*8)
		}
	}
	if info.Entry(-1) != 0 || info.Entry(info.Video.Frames) != 0 {
		t.Error("a frame that isn't there has an entry")
	}
}
