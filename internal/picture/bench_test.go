//go:build unix

package picture

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// What the benchmarks print is processor time per pixel of a UHD frame, of
// this process or of the child, so that other work on the machine disturbs it
// little; with more than one thread it is the time on the clock.
const benchWidth, benchHeight = 3840, 2160

func cpuTime(who int) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(who, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// naturalProgram is what ffmpeg's filters can also do: a curve, a LUT, a
// second one at 45 %, a vignette, and 4:2:0 at 10 bits. The dither is ours on
// top.
func naturalProgram() *Program {
	s := &Curves{Axis: AxisUniform, Lo: same3(0), Hi: same3(1), Samples: sameCurve(ramp(256, func(t float64) float64 { return t * t * (3 - 2*t) }))}
	p := &Program{Ops: []Op{s, lookLUT(1, Tetrahedral), lookLUT(0.45, Tetrahedral)}, Output: plainOutput()}
	p.Vignette = &Vignette{Stops: 0.8, CentreX: 0.5, CentreY: 0.5, Aspect: 1, Inner: 0, Softness: 1.2}
	p.Output.Dither = DitherTriangular
	return p
}

// filmProgram is what a usual grade compiles to: a baked stretch, a look, a
// vignette.
func filmProgram() *Program {
	p := naturalProgram()
	p.Input = logInput
	p.Ops = append(filmPath(), lookLUT(0.45, Tetrahedral))
	return p
}

func benchmarkKernel(b *testing.B, portable bool) {
	in := roomFrame(plainFormat(benchWidth, benchHeight), 1)
	for _, c := range []struct {
		name string
		p    *Program
	}{{"natural", naturalProgram()}, {"film", filmProgram()}} {
		base, err := Compile(c.p, nil, plainFormat(16, 16), KernelOptions{})
		if err != nil {
			b.Fatal(err)
		}
		for _, threads := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/%d", c.name, threads), func(b *testing.B) {
				k := base.variant(b, in.Format, c.p.Output, c.p.Vignette, KernelOptions{Workers: threads, Portable: portable})
				if k.SIMD() == portable {
					b.Skip("the processor has no AVX2, or the build is purego")
				}
				out := NewFrame(k.out)
				run := func() {
					if err := k.Run(in, out); err != nil {
						b.Fatal(err)
					}
				}
				run()
				start := cpuTime(syscall.RUSAGE_SELF)
				for b.Loop() {
					run()
				}
				spent := b.Elapsed()
				if threads == 1 {
					spent = cpuTime(syscall.RUSAGE_SELF) - start
				}
				pixels, exact := k.Evaluated()
				b.ReportMetric(float64(spent.Nanoseconds())/float64(b.N)/(benchWidth*benchHeight), "ns/px")
				b.ReportMetric(100*float64(exact)/float64(pixels), "%exact")
			})
		}
	}
}

func BenchmarkKernelPortable(b *testing.B) { benchmarkKernel(b, true) }

func BenchmarkKernelAVX2(b *testing.B) { benchmarkKernel(b, false) }

// ffmpegFavour is what makes ffmpeg fast on machines where fresh memory is
// dear: it is not to lose the comparison by that.
var ffmpegFavour = []string{"MALLOC_MMAP_MAX_=0", "MALLOC_ARENA_MAX=1", "MALLOC_TRIM_THRESHOLD_=4294967296", "MALLOC_TOP_PAD_=67108864"}

// BenchmarkFFmpegChain times ffmpeg's own filters for the stages of
// naturalProgram on one thread, less a run that only moves the frames.
func BenchmarkFFmpegChain(b *testing.B) {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		b.Skip("ffmpeg is absent")
	}
	const frames = 8
	dir := b.TempDir()
	raw, err := os.Create(filepath.Join(dir, "in.yuv"))
	if err != nil {
		b.Fatal(err)
	}
	for i := range frames {
		f := roomFrame(plainFormat(benchWidth, benchHeight), uint64(i))
		for _, plane := range [][]uint16{f.Y, f.Cb, f.Cr} {
			bytes := make([]byte, 2*len(plane))
			for j, v := range plane {
				bytes[2*j], bytes[2*j+1] = byte(v), byte(v>>8)
			}
			if _, err := raw.Write(bytes); err != nil {
				b.Fatal(err)
			}
		}
	}
	if err := raw.Close(); err != nil {
		b.Fatal(err)
	}
	cube, err := os.Create(filepath.Join(dir, "look.cube"))
	if err != nil {
		b.Fatal(err)
	}
	look := lookLUT(1, Tetrahedral)
	fmt.Fprintf(cube, "LUT_3D_SIZE %d\n", look.Size)
	for i := 0; i < len(look.Data); i += 3 {
		fmt.Fprintf(cube, "%.6f %.6f %.6f\n", look.Data[i], look.Data[i+1], look.Data[i+2])
	}
	if err := cube.Close(); err != nil {
		b.Fatal(err)
	}
	run := func(args ...string) time.Duration {
		all := append([]string{
			"-v", "error", "-nostdin", "-threads", "1", "-filter_threads", "1", "-filter_complex_threads", "1",
			"-f", "rawvideo", "-pix_fmt", "yuv422p10le", "-s", fmt.Sprintf("%dx%d", benchWidth, benchHeight), "-i", raw.Name(),
		}, args...)
		cmd := exec.CommandContext(context.Background(), program, append(all, "-f", "null", "-")...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), ffmpegFavour...)
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
		return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	}
	for _, c := range []struct{ name, tail string }{{"10bit", "format=yuv420p10le"}, {"8bit", "format=yuv420p"}} {
		b.Run(c.name, func(b *testing.B) {
			chain := "[0:v]"
			if c.name == "10bit" {
				chain += "format=gbrp10le,"
			}
			chain += "curves=all='0/0 0.25/0.156 0.5/0.5 0.75/0.844 1/1',lut3d=look.cube:interp=tetrahedral,split[x][y];" +
				"[y]lut3d=look.cube:interp=tetrahedral[z];[z][x]blend=all_mode=normal:all_opacity=0.45,vignette=PI/5," + c.tail
			var spent time.Duration
			for b.Loop() {
				spent += run("-filter_complex", chain) - run("-vf", "null")
			}
			b.ReportMetric(float64(spent.Nanoseconds())/float64(b.N)/(frames*benchWidth*benchHeight), "ns/px")
		})
	}
}
