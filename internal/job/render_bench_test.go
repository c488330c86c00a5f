package job

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"lampwise/internal/grade"
)

// BenchmarkRender sets a whole render beside ffmpeg's transcode of the same
// clip without a grade, taking turns in one run, with the same encoder, speed,
// quality and sampling, and the same allocator settings. The ratio is the
// figure that holds on any machine: 1 means that grading is free.
//
// LAMPWISE_BENCH_HEIGHT chooses the frame's height (2160 unless set). A smaller
// clip is as much longer, so that starting the processes weighs the same.
func BenchmarkRender(b *testing.B) {
	b.Run("simd", func(b *testing.B) { benchmarkRender(b, false) })
	b.Run("portable", func(b *testing.B) { benchmarkRender(b, true) })
}

func benchmarkRender(b *testing.B, plainArithmetic bool) {
	portable = plainArithmetic
	b.Cleanup(func() { portable = false })
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		b.Skip("ffmpeg is not installed")
	}
	height := 2160
	if s := os.Getenv("LAMPWISE_BENCH_HEIGHT"); s != "" {
		var err error
		if height, err = strconv.Atoi(s); err != nil {
			b.Fatal(err)
		}
	}
	dir := b.TempDir()
	clip := filepath.Join(dir, "clip.mkv")
	seconds := strconv.Itoa(max(2, 2*2160*2160/(height*height)))
	size := strconv.Itoa(height*16/9) + "x" + strconv.Itoa(height)
	tool(b, "-f", "lavfi", "-i", "testsrc2=s="+size+":r=25:d="+seconds, "-vf", "lutyuv=y=val*0.5+60,noise=alls=4:allf=t,format=yuv422p10le",
		"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-profile:v", "high422",
		"-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", clip)
	gradeFile := filepath.Join(dir, "g.toml")
	if err := writeLook(filepath.Join(dir, grade.LookFile)); err != nil {
		b.Fatal(err)
	}
	g := grade.Starting("log-420")
	g.Encode.Bits, g.Encode.Sub = 8, "4:2:0"
	if err := g.Save(gradeFile); err != nil {
		b.Fatal(err)
	}
	// The clock judges; processor time, of this process and its children, is what
	// still means something when other programs run. The first round compiles.
	var ours, theirs, share float64
	oursCPU, theirsCPU := math.Inf(1), math.Inf(1)
	for b.Loop() {
		runtime.GC()
		before := processorTime()
		r, err := Render(context.Background(), RenderRequest{Clip: clip, Grade: gradeFile, Out: filepath.Join(dir, "graded.mp4"), Overwrite: true}, nil)
		if err != nil {
			b.Fatal(err)
		}
		ours, share = max(ours, r.Rate), max(share, r.KernelShare)
		oursCPU = min(oursCPU, (processorTime()-before).Seconds()/float64(r.Frames))
		began := time.Now()
		before = processorTime()
		tool(b, "-i", clip, "-c:v", "libx264", "-preset", "veryfast", "-crf", "18", "-pix_fmt", "yuv420p", filepath.Join(dir, "plain.mp4"))
		theirs = max(theirs, float64(r.Frames)/time.Since(began).Seconds())
		theirsCPU = min(theirsCPU, (processorTime()-before).Seconds()/float64(r.Frames))
	}
	b.ReportMetric(ours, "render-frames/s")
	b.ReportMetric(theirs, "transcode-frames/s")
	b.ReportMetric(ours/theirs, "render/transcode")
	b.ReportMetric(share, "kernel-share")
	perPixel := 1e9 / float64(height*height*16/9)
	b.ReportMetric(oursCPU*perPixel, "render-cpu-ns/px")
	b.ReportMetric(theirsCPU*perPixel, "transcode-cpu-ns/px")
	b.ReportMetric(theirsCPU/oursCPU, "cpu-render/transcode")
}

// tool runs ffmpeg with the allocator settings that lampwise gives its own children.
func tool(b *testing.B, args ...string) {
	b.Helper()
	cmd := exec.Command("ffmpeg", append([]string{"-v", "error", "-y"}, args...)...)
	cmd.Env = append(os.Environ(), "MALLOC_MMAP_MAX_=0", "MALLOC_ARENA_MAX=1", "MALLOC_TRIM_THRESHOLD_=4294967296", "MALLOC_TOP_PAD_=67108864")
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("ffmpeg: %v\n%s", err, out)
	}
}
