package job

import (
	"context"
	"math"
	"os/exec"
	"path/filepath"
	"testing"

	"lampwise/internal/grade"
	"lampwise/internal/media"
)

// A stretch of a clip whose frame rate varies is cut at the frames nearest to
// the times, every frame keeps its own time from there, and verify finds the
// exact picture of those frames.
func TestDeliverAStretchOfAVaryingRate(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	dir := t.TempDir()
	clip, g, out := filepath.Join(dir, "phone.mov"), filepath.Join(dir, "g.toml"), filepath.Join(dir, "cut.mp4")
	// A second at 25 frames/s, then frames that come later and later.
	if text, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=96x54:r=25:d=2", "-f", "lavfi", "-i", "anoisesrc=r=48000:seed=1:d=4",
		"-vf", "lutyuv=y=val*0.5+60,format=yuv422p10le,settb=1/1000,setpts='if(lt(N,25),N*40,1000+(N-25)*40+(N-25)*(N-25)*2)'", "-fps_mode", "vfr", "-enc_time_base", "1/1000",
		"-c:v", "libx264", "-preset", "ultrafast", "-crf", "10", "-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-c:a", "pcm_s16le", clip).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if err := writeLook(filepath.Join(dir, grade.LookFile)); err != nil {
		t.Fatal(err)
	}
	if err := grade.Starting("log-420").Save(g); err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	source, err := media.Probe(ctx, clip)
	if err != nil {
		t.Fatal(err)
	}
	if !source.Video.VariableRate {
		t.Fatal("the clip's rate doesn't vary: nothing is tested")
	}
	done, err := Deliver(ctx, DeliverRequest{Clip: clip, Grade: g, Outputs: []Delivery{{Out: out, Sound: media.SoundNone, Speed: media.SpeedFastest}}, From: "0.6", To: "1.9"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	// The frame at 0.6 s is number 15; frame 25+k comes at 1 + 0.04 k + 0.002 k²,
	// which is nearest to 1.9 s for k = 13 (1.858; 14 comes at 1.952).
	if done.First != 15 || done.Frames != 25+13-15 {
		t.Fatalf("frames from %d, %d of them", done.First, done.Frames)
	}
	made, err := media.Probe(ctx, out)
	if err != nil {
		t.Fatal(err)
	}
	for i := range int(done.Frames) {
		want := source.FrameTime(done.First+i) - source.FrameTime(done.First)
		if got := made.FrameTime(i) - made.FrameTime(0); math.Abs(got-want) > 0.0011 { // a tick of the source's clock
			t.Errorf("frame %d at %.4f s, in the source at %.4f s", i, got, want)
		}
	}
	checked, err := Verify(ctx, VerifyRequest{File: out, Source: clip, Grade: g}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !checked.OK {
		t.Errorf("%+v", checked.Problems)
	}
}
