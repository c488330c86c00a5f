package picture

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"

	"lampwise/internal/colour"
)

func resizeFormat(w, h, bits int, sub Subsampling, siting Siting) Format {
	return Format{Width: w, Height: h, Bits: bits, Sub: sub, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: siting}
}

func outputOf(f Format) Output {
	return Output{Limiter: LimiterOff, Matrix: f.Matrix, Range: f.Range, Bits: f.Bits, Sub: f.Sub, Siting: f.Siting, Dither: DitherNone}
}

// scene is smooth shapes, an edge and some noise, inside the codes of narrow range.
func scene(f Format, seed uint64) *Frame {
	r := rand.New(rand.NewPCG(seed, 2))
	frame := NewFrame(f)
	unit := float64(int(1) << (f.Bits - 8))
	fill := func(p []uint16, w int) {
		for i := range p {
			x, y := float64(i%w)/float64(w), float64(i/w)/float64(len(p)/w)
			v := 110 + 50*math.Sin(23*x*x+5*y) + 20*math.Cos(31*y) + 8*r.NormFloat64()
			if x+0.3*y > 0.8 {
				v -= 50
			}
			p[i] = uint16(max(20, min(230, v)) * unit)
		}
	}
	fill(frame.Y, f.Width)
	cw, _ := f.ChromaSize()
	fill(frame.Cb, cw)
	fill(frame.Cr, cw)
	return frame
}

func resized(t testing.TB, in *Frame, w, h int, f Filter, o Output) *Frame {
	t.Helper()
	r, err := NewResizer(in.Format, w, h, f, o)
	if err != nil {
		t.Fatal(err)
	}
	out := NewFrame(r.Format())
	if err := r.Run(in, out); err != nil {
		t.Fatal(err)
	}
	return out
}

// slowSample is the definition: the filter's weights over all samples there
// are, the edge's repeated, in one double sum.
func slowSample(p []uint16, w, h int, x, y, scaleX, scaleY float64, f Filter) float64 {
	sx, sy := math.Max(1, scaleX), math.Max(1, scaleY)
	var sum, weights float64
	for j := int(y - 4*sy); j <= int(y+4*sy)+1; j++ {
		for i := int(x - 4*sx); i <= int(x+4*sx)+1; i++ {
			weight := f.at((float64(i)-x)/sx) * f.at((float64(j)-y)/sy)
			sum += weight * float64(p[max(0, min(h-1, j))*w+max(0, min(w-1, i))])
			weights += weight
		}
	}
	return sum / weights
}

func TestResizeIsTheSlowSum(t *testing.T) {
	for _, siting := range []Siting{SiteLeft, SiteTopLeft, SiteCentre} {
		for _, sub := range []Subsampling{Sub420, Sub422, Sub444} {
			for _, size := range [][2]int{{32, 18}, {20, 30}, {64, 36}, {90, 50}, {62, 34}} {
				for _, filter := range []Filter{FilterLanczos, FilterCubic} {
					in := scene(resizeFormat(64, 36, 10, sub, siting), 1)
					out := resized(t, in, size[0], size[1], filter, outputOf(in.Format))
					cw, ch := in.ChromaSize()
					ocw, och := out.ChromaSize()
					rx, ry := 64/float64(size[0]), 36/float64(size[1])
					// A code is rounded, and float32 sums are off by far less than the 0.01 allowed.
					const tolerance = 0.51
					check := func(what string, got uint16, want float64) {
						t.Helper()
						if d := math.Abs(float64(got) - max(4, min(1019, want))); d > tolerance {
							t.Fatalf("%s %s %s to %v: %s is %d, the sum %.3f", filter, sub, siting, size, what, got, want)
						}
					}
					for y := range size[1] {
						for x := range size[0] {
							want := slowSample(in.Y, 64, 36, (float64(x)+0.5)*rx-0.5, (float64(y)+0.5)*ry-0.5, rx, ry, filter)
							check(fmt.Sprintf("Y %d,%d", x, y), out.Y[y*size[0]+x], want)
						}
					}
					pos := func(k int, ratio float64, halved, midway bool) float64 {
						switch {
						case !halved:
							return (float64(k)+0.5)*ratio - 0.5
						case midway: // centre between two luma samples: 2k + 1 from the edge
							return ((2*float64(k)+1)*ratio - 1) / 2
						}
						return ((2*float64(k)+0.5)*ratio - 0.5) / 2
					}
					for y := range och {
						for x := range ocw {
							px := pos(x, rx, sub != Sub444, siting == SiteCentre)
							py := pos(y, ry, sub == Sub420, siting != SiteTopLeft)
							check(fmt.Sprintf("Cb %d,%d", x, y), out.Cb[y*ocw+x], slowSample(in.Cb, cw, ch, px, py, rx, ry, filter))
						}
					}
				}
			}
		}
	}
}

func TestResizeKeepsWhatIsFlatAndWhatIsTheSameSize(t *testing.T) {
	in := NewFrame(resizeFormat(50, 30, 10, Sub420, SiteLeft))
	for i := range in.Y {
		in.Y[i] = 700
	}
	for i := range in.Cb {
		in.Cb[i], in.Cr[i] = 300, 512
	}
	out := resized(t, in, 22, 14, FilterLanczos, outputOf(in.Format))
	for _, v := range out.Y {
		if v != 700 {
			t.Fatalf("a flat picture of 700 became %d", v)
		}
	}
	for i := range out.Cb {
		if out.Cb[i] != 300 || out.Cr[i] != 512 {
			t.Fatalf("flat chroma became %d, %d", out.Cb[i], out.Cr[i])
		}
	}
	same := scene(resizeFormat(50, 30, 10, Sub420, SiteLeft), 3)
	again := resized(t, same, 50, 30, FilterLanczos, outputOf(same.Format))
	for i := range same.Y {
		if same.Y[i] != again.Y[i] {
			t.Fatal("the same size is not the same picture")
		}
	}
}

// To 8 bits with dither: the mean keeps what 10 bits held.
func TestResizeToFewerBitsKeepsTheMean(t *testing.T) {
	in := NewFrame(resizeFormat(256, 256, 10, Sub444, SiteLeft))
	for i := range in.Y {
		in.Y[i], in.Cb[i], in.Cr[i] = 401, 511, 514 // 100.25, 127.75, 128.5 of 8 bits
	}
	o := outputOf(in.Format)
	o.Bits, o.Dither = 8, DitherTriangular
	out := resized(t, in, 128, 128, FilterLanczos, o)
	mean := func(p []uint16) (m float64) {
		for _, v := range p {
			m += float64(v)
		}
		return m / float64(len(p))
	}
	// Triangular dither has σ² = 1/6 + 1/12 a sample: 4σ of the mean of 16384 is 0.016.
	for _, c := range []struct{ got, want float64 }{{mean(out.Y), 100.25}, {mean(out.Cb), 127.75}, {mean(out.Cr), 128.5}} {
		if math.Abs(c.got-c.want) > 0.02 {
			t.Errorf("mean %.3f, not %.3f", c.got, c.want)
		}
	}
}

// The outside reference: ffmpeg's own scaler with the same filter, told where chroma lies.
func TestResizeAgainstFFmpeg(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	for name, c := range map[string]struct {
		filter Filter
		flags  string
	}{
		"lanczos": {FilterLanczos, "flags=lanczos+accurate_rnd+full_chroma_int+full_chroma_inp+bitexact:param0=3"},
		"cubic":   {filterCubic06, "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp+bitexact"},
	} {
		for _, size := range [][2]int{{192, 108}, {300, 170}, {480, 270}} {
			in := scene(resizeFormat(384, 216, 10, Sub420, SiteLeft), 5)
			want := ffmpegScale(t, in, size[0], size[1], c.flags)
			got := resized(t, in, size[0], size[1], c.filter, outputOf(in.Format))
			for plane, p := range [][2][]uint16{{got.Y, want.Y}, {got.Cb, want.Cb}, {got.Cr, want.Cr}} {
				worst, sum := 0, 0.0
				for i := range p[0] {
					d := int(p[0][i]) - int(p[1][i])
					worst = max(worst, d, -d)
					sum += float64(d * d)
				}
				rms := math.Sqrt(sum / float64(len(p[0])))
				t.Logf("%s to %v, plane %d: %d codes of 10 bits at most, %.3f rms", name, size, plane, worst, rms)
				// ffmpeg's weights have 14 bits and its middle rows 15: about a code. Where
				// a picture grows it leaves out weights below 0.2 % of the whole, which
				// over a range of some 800 codes is a few more.
				allowed := 1
				if size[0] > in.Width {
					allowed = 5
				}
				if worst > allowed || rms > 0.35 {
					t.Errorf("%s to %v, plane %d: %d codes at most, %.3f rms", name, size, plane, worst, rms)
				}
			}
		}
	}
}

func ffmpegScale(t *testing.T, in *Frame, w, h int, flags string) *Frame {
	t.Helper()
	var raw bytes.Buffer
	for _, p := range [][]uint16{in.Y, in.Cb, in.Cr} {
		_ = binary.Write(&raw, binary.LittleEndian, p)
	}
	chroma := "in_h_chr_pos=0:in_v_chr_pos=128:out_h_chr_pos=0:out_v_chr_pos=128"
	cmd := exec.Command("ffmpeg", "-v", "error", "-f", "rawvideo", "-pix_fmt", "yuv420p10le", "-s", fmt.Sprintf("%dx%d", in.Width, in.Height), "-i", "pipe:0",
		"-vf", fmt.Sprintf("scale=%d:%d:%s:%s", w, h, flags, chroma), "-pix_fmt", "yuv420p10le", "-f", "rawvideo", "pipe:1")
	cmd.Stdin = &raw
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	f := in.Format
	f.Width, f.Height = w, h
	frame := NewFrame(f)
	r := bytes.NewReader(out)
	for _, p := range [][]uint16{frame.Y, frame.Cb, frame.Cr} {
		if err := binary.Read(r, binary.LittleEndian, p); err != nil {
			t.Fatal(err)
		}
	}
	return frame
}

func TestFitWithin(t *testing.T) {
	for _, c := range []struct{ w, h, maxW, maxH, wantW, wantH int }{
		{3840, 2160, 1920, 1080, 1920, 1080},
		{1280, 720, 1920, 1080, 1280, 720},
		{4096, 2160, 1920, 1080, 1920, 1012},
		{2160, 3840, 1920, 1080, 608, 1080},
		{480, 270, 320, 180, 320, 180},
	} {
		w, h := FitWithin(resizeFormat(c.w, c.h, 8, Sub420, SiteLeft), c.maxW, c.maxH)
		if w != c.wantW || h != c.wantH {
			t.Errorf("%d×%d within %d×%d: %d×%d, not %d×%d", c.w, c.h, c.maxW, c.maxH, w, h, c.wantW, c.wantH)
		}
	}
}

func BenchmarkResizeUHDToHD(b *testing.B) {
	in := scene(resizeFormat(3840, 2160, 10, Sub420, SiteLeft), 1)
	r, err := NewResizer(in.Format, 1920, 1080, FilterLanczos, outputOf(in.Format))
	if err != nil {
		b.Fatal(err)
	}
	out := NewFrame(r.Format())
	for b.Loop() {
		if err := r.Run(in, out); err != nil {
			b.Fatal(err)
		}
	}
}

// Edges, one size to itself, and odd sizes do not fail.
func TestResizeSmallest(t *testing.T) {
	for _, w := range []int{1, 2, 3, 7} {
		in := scene(resizeFormat(w, 5, 8, Sub420, SiteLeft), 9)
		resized(t, in, 4, 2, FilterLanczos, outputOf(in.Format))
		resized(t, in, w, 9, FilterCubic, outputOf(in.Format))
	}
	if _, err := NewResizer(resizeFormat(4, 4, 8, Sub420, SiteLeft), 4, 4, "box", outputOf(resizeFormat(4, 4, 8, Sub420, SiteLeft))); err == nil {
		t.Error("an unknown filter was taken")
	}
}
