package media

import "testing"

// Parameter sets as x264 wrote them (ffmpeg 5.1, -pix_fmt gray, gray10le and
// yuv420p; ffprobe -show_data), and the head of a Baseline one, typed by the
// standard.
var parameterSets = []struct {
	name, dump string
	idc        int
	ok         bool
}{
	{
		"grey, 8 bits, MP4", "\n00000000: 0164 000c ffe1 0019 6764 000c f365 0506  .d......gd...e..\n" +
			"00000010: 7e37 016c 8000 0003 0080 0000 1907 8a14  ~7.l............\n00000020: cb01 0006 68eb e3cb 22c0 fcf8 f800       ....h...\".....\n", 0, true,
	},
	{
		"grey, 10 bits, MP4", "\n00000000: 016e 000c ffe1 001b 676e 000c db36 5050  .n......gn...6PP\n" +
			"00000010: 67e3 7016 c800 0003 0008 0000 0301 9078  g.p............x\n00000020: a14c b001 0006 68eb e3cb 22c0 fcfa fa00  .L....h...\".....\n", 0, true,
	},
	{"grey, start codes", "00000000: 0000 0001 6764 000c f365 0506 7e37       ....gd...e..~7\n", 0, true},
	{"access unit delimiter first", "00000000: 0000 0001 09f0 0000 0167 6400 0cf3 6505  .........gd...e.\n", 0, true},
	{"4:2:0, High", "00000000: 0164 000c ffe1 0005 6764 000c acd9       .d......gd....\n", 1, true},
	{"Baseline says nothing", "00000000: 0142 c00c ffe1 0006 6742 c00c dc15       .B......gB....\n", 1, true},
	{"no set at all", "00000000: 0164 000c ffe0 0000 0000                 .d........\n", 0, false},
	{"cut short", "00000000: 0164 000c ffe1 0019 6764                 .d......gd\n", 0, false},
	{"no hexadecimal", "00000000: xyzt\n", 0, false},
	{"empty", "", 0, false},
}

func TestChromaFormat(t *testing.T) {
	for _, c := range parameterSets {
		idc, ok := chromaFormat(hexDump(c.dump))
		if ok != c.ok || ok && idc != c.idc {
			t.Errorf("%s: %d, %v", c.name, idc, ok)
		}
	}
}

func FuzzChromaFormat(f *testing.F) {
	for _, c := range parameterSets {
		f.Add(hexDump(c.dump))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if idc, ok := chromaFormat(data); ok && (idc < 0 || idc > maxChromaIDC) {
			t.Fatalf("chroma format %d", idc)
		}
	})
}
