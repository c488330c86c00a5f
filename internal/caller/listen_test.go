package caller

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"
)

// room makes a made room's sound: pink-like noise, a mains hum with overtones,
// and, where echo is above 0, the room's echo of the marks: an exponentially
// fading tail of noise with a decay of 60 dB in 0.6 s, whose energy is echo
// times the direct sound's.
type room struct {
	snr   float64 // dB, of a mark's tones against the noise between bandLow and bandHigh
	echo  float64
	drift float64 // the recorder's clock against the player's
	talk  float64 // a voice beside it: its loudness against the marks'
}

func (r room) record(rng *rand.Rand, marks []Timed, length float64) []float32 {
	rate := ListenRate
	clean := make([]float32, int(length*float64(rate)))
	for _, m := range marks {
		c := code(m.word())
		for i := range clean {
			t := float64(i)/float64(rate)*(1+r.drift) - m.At
			if t >= 0 && t < MarkLength {
				clean[i] += float32(0.1 * at(c, t))
			}
		}
	}
	out := make([]float64, len(clean))
	for i, v := range clean {
		out[i] = float64(v)
	}
	if r.echo > 0 {
		n := int(0.6 * float64(rate))
		tail, sum := make([]float64, n), 0.0
		for i := range tail {
			tail[i] = rng.NormFloat64() * math.Pow(10, -3*float64(i)/float64(n))
			sum += tail[i] * tail[i]
		}
		k := math.Sqrt(r.echo / sum)
		for i, v := range clean {
			if v == 0 {
				continue
			}
			for j := 0; j < n && i+j < len(out); j++ {
				out[i+j] += k * float64(v) * tail[j]
			}
		}
	}
	// The noise: white, made 3 dB an octave fainter upwards by a sum of three
	// smoothed ones, then scaled by its power in the band.
	var low [3]float64
	noise := make([]float64, len(out))
	for i := range noise {
		v := rng.NormFloat64()
		w := 0.2 * v
		for k, a := range []float64{0.5, 0.1, 0.02} {
			low[k] += a * (v - low[k])
			w += low[k]
		}
		noise[i] = w
	}
	band := bandPower(noise, float64(rate))
	signal := 0.1 * 0.1 / 2
	k := math.Sqrt(signal / math.Pow(10, r.snr/10) / band)
	for i := range out {
		t := float64(i) / float64(rate)
		out[i] += k*noise[i] + 0.02*math.Sin(2*math.Pi*100*t) + 0.004*math.Sin(2*math.Pi*300*t) + 0.002*math.Sin(2*math.Pi*1100*t)
		if r.talk > 0 {
			// A voice: overtones of a pitch that wanders, in syllables.
			syllable := max(0, math.Sin(2*math.Pi*3.1*t))
			for h := 1.0; h < 25; h++ {
				out[i] += 0.1 * r.talk * syllable / math.Sqrt(h) / 2 * math.Sin(2*math.Pi*h*(130*t-20/(2*math.Pi*0.7)*math.Cos(2*math.Pi*0.7*t)))
			}
		}
	}
	samples := make([]float32, len(out))
	for i, v := range out {
		samples[i] = float32(v)
	}
	return samples
}

// bandPower is the power between bandLow and bandHigh, from a few hundred
// frequencies of the first seconds.
func bandPower(x []float64, rate float64) float64 {
	n := min(len(x), int(2*rate))
	sum := 0.0
	const part = 512
	parts := 0
	for from := 0; from+part <= n; from += part {
		for k := int(bandLow * part / rate); k <= int(bandHigh*part/rate); k++ {
			var re, im float64
			for i := range part {
				w := 2 * math.Pi * float64(k*i%part) / part
				re += x[from+i] * math.Cos(w)
				im += x[from+i] * math.Sin(w)
			}
			sum += 2 * (re*re + im*im) / (part * part)
		}
		parts++
	}
	return sum / float64(parts)
}

// schedule is a plan of twelve holds of 4 s, with hands no clock could follow.
func schedule(rng *rand.Rand, order int) []Timed {
	var out []Timed
	for i := range 13 {
		out = append(out, Timed{Mark{i, order}, 1 + 2*float64(i) + 0.3*rng.Float64()})
	}
	return out
}

// rightTime: a room whose echo is louder than the sound delays the chirp's peak;
// the time only tells which hold begins, and no hand switches within it.
const rightTime = 0.1

// heardRate is how many marks of some clips are heard as they are, and how many that
// aren't there.
func heardRate(t *testing.T, r room, clips int, seed uint64) (heard, wrong, all int) {
	t.Helper()
	for c := range clips {
		rng := rand.New(rand.NewPCG(seed, uint64(c)))
		marks := schedule(rng, tones+rng.IntN(512-tones))
		got, err := Listen(r.record(rng, marks, 29), ListenRate)
		if err != nil {
			t.Fatal(err)
		}
		all += len(marks)
		for _, h := range got {
			right := false
			for _, m := range marks {
				if h.Mark == m.Mark && math.Abs(h.At*(1+r.drift)-m.At) < rightTime {
					right = true
				}
			}
			if right {
				heard++
			} else {
				wrong++
			}
		}
	}
	return heard, wrong, all
}

// TestHeardAgainstNoise prints the share of marks that is heard, and holds it
// to what was measured (of 1300 marks each, -marks 100), less what chance may
// take from fewer. A mark that isn't there is never heard.
func TestHeardAgainstNoise(t *testing.T) {
	for _, c := range []struct {
		name  string
		room  room
		least float64 // share of the marks
	}{
		{"still room", room{snr: 20}, 1},
		{"noise as loud (0 dB)", room{snr: 0}, 1},
		{"-5 dB", room{snr: -5}, 0.99},
		{"-8 dB", room{snr: -8}, 0.97},
		{"-11 dB", room{snr: -11}, 0.6},
		{"0 dB, echo as strong as the sound", room{snr: 0, echo: 1}, 0.97},
		{"10 dB, echo four times as strong", room{snr: 10, echo: 4}, 0.9},
		{"0 dB, clocks 0.1 % apart", room{snr: 0, drift: 0.001}, 1},
		{"10 dB, a voice three times as loud", room{snr: 10, talk: 3}, 0.99},
	} {
		heard, wrong, all := heardRate(t, c.room, *clips, 1)
		share := float64(heard) / float64(all)
		t.Logf("%-36s %5.1f %% of %d heard, %d wrong", c.name, 100*share, all, wrong)
		if wrong > 0 || share < c.least {
			t.Errorf("%s: %.1f %% heard, %d wrong; at least %.0f %% and none were asked", c.name, 100*share, wrong, 100*c.least)
		}
	}
}

var clips = flag.Int("marks", 2, "clips of 13 marks for each kind of room")

// TestListenerHearsWhatListenHears: piece by piece, over the seams of what is
// looked at together, and at other lengths of pieces.
func TestListenerHearsWhatListenHears(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var marks []Timed
	for i := range 30 {
		marks = append(marks, Timed{Mark{i, 77}, 1 + 2.93*float64(i)})
	}
	samples := room{snr: 6}.record(rng, marks, 92)
	want, err := Listen(samples, ListenRate)
	if err != nil || len(want) != len(marks) {
		t.Fatalf("%d of %d marks heard at once, %v", len(want), len(marks), err)
	}
	for _, piece := range []int{997, 40000} {
		l, err := NewListener(ListenRate)
		if err != nil {
			t.Fatal(err)
		}
		for from := 0; from < len(samples); from += piece {
			l.Add(samples[from:min(from+piece, len(samples))])
			if len(l.samples) > listenTime*ListenRate {
				t.Fatalf("%d samples are kept", len(l.samples))
			}
		}
		got := l.Marks()
		if len(got) != len(want) {
			t.Fatalf("pieces of %d: %d marks, not %d", piece, len(got), len(want))
		}
		for i, h := range got {
			if h.Mark != want[i].Mark || math.Abs(h.At-marks[i].At) > 0.005 {
				t.Errorf("pieces of %d: mark %d is %+v, want %+v", piece, i, h, marks[i])
			}
		}
	}
}

func TestNothingIsHeardInNoise(t *testing.T) {
	worstScore, worstLead := 0.0, 0.0
	n := 0
	for seed := range 3 {
		rng := rand.New(rand.NewPCG(9, uint64(seed)))
		r := room{snr: 0, talk: float64(seed % 3)}
		s := r.record(rng, nil, 60)
		d := &detector{samples: s, rate: ListenRate}
		for _, c := range d.chirps() {
			e := d.energy(c)
			_, score, lead := e.best(0, words, 1)
			worstScore, worstLead = max(worstScore, score), max(worstLead, lead)
			n++
		}
		got, _ := Listen(s, ListenRate)
		if len(got) > 0 {
			t.Errorf("seed %d: %d marks heard in noise", seed, len(got))
		}
	}
	t.Logf("%d chirps in 3 minutes, best score %.3f, lead %.3f", n, worstScore, worstLead)
}
