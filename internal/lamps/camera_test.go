package lamps

import (
	"fmt"
	"math"
	"math/rand/v2"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// mixed adds lamp pictures with a level for each channel.
func mixed(parts []*picture.Image, level [][3]float64) *picture.Image {
	out := picture.NewImage(parts[0].W, parts[0].H, picture.SpaceSceneLinear)
	for k, p := range parts {
		for i, v := range p.Pix {
			out.Pix[i] += float32(level[k][i%3]) * v
		}
	}
	return out
}

// flat turns one number a lamp into three equal ones and adds the ambient at 1.
func flat(level []float64) [][3]float64 {
	out := make([][3]float64, 0, len(level)+1)
	for _, v := range level {
		out = append(out, [3]float64{v, v, v})
	}
	return append(out, [3]float64{1, 1, 1})
}

// madeCamera records scene-linear light as log codes with noise.
type madeCamera struct {
	curve        *colour.Curve
	bits         int
	gain         float64
	balance      colour.Mat3 // acts on light at the usual gain
	read, photon float64     // σ at black, and variance for each unit of light, of a recorded sample
	clip         float64     // sensor's clip, scene-linear at gain 1
	reduce       int         // a working pixel is the mean of reduce² recorded samples; 0 is 1
}

// newCamera records log-420 in 10 bits with noise of 1.8 % at grey in a
// working pixel: a small sensor at a high sensitivity, reduced four times
// each way from 1080 lines (about 2.5 stops better than that frame's own).
func newCamera() madeCamera {
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		panic(err)
	}
	return madeCamera{curve: curve, bits: 10, gain: 1, balance: colour.Identity, read: 6e-4, photon: 5.6e-5, clip: 4.5}
}

// noise is the camera's true noise model at working size.
func (m *madeCamera) noise() Noise {
	k := float64(m.samples())
	r, p := m.read*m.read/k, m.photon/k
	return Noise{Constant: [3]float64{r, r, r}, Photon: [3]float64{p, p, p}, Together: 1}
}

func (m *madeCamera) samples() int { return max(1, m.reduce*m.reduce) }

// normals is a store of normal numbers, read at random places: drawing each
// anew would take most of a test's time.
var normals = func() []float32 {
	rng := rand.New(rand.NewPCG(11, 7))
	n := make([]float32, 1<<16)
	for i := range n {
		n[i] = float32(rng.NormFloat64())
	}
	return n
}()

// coder turns light into codes and back by the curve.
type coder struct {
	decode []float32 // light of each code
	edge   []float32 // light from which a code rises to the next
	start  []uint16  // lowest code for each range of float bits
}

func newCoder(c *colour.Curve, bits int) *coder {
	top := 1<<bits - 1
	k := &coder{}
	for i := range top + 1 {
		k.decode = append(k.decode, float32(c.Decode(float64(i)/float64(top))))
		k.edge = append(k.edge, float32(c.Decode((float64(i)+.5)/float64(top))))
	}
	k.start = make([]uint16, 1<<(32-coderShift-1))
	code := 0
	for r := range k.start {
		x := math.Float32frombits(uint32(r)<<coderShift) - coderOffset
		for code < top && k.edge[code] <= x {
			code++
		}
		k.start[r] = uint16(code)
	}
	return k
}

// record is the light that x comes out as.
func (k *coder) record(x float32) float32 { return k.decode[k.index(x)] }

// index is the code that x is recorded by.
func (k *coder) index(x float32) int {
	y := x + coderOffset
	if y <= 0 {
		return 0
	}
	i := int(k.start[math.Float32bits(y)>>coderShift])
	for i < len(k.edge)-1 && x >= k.edge[i] {
		i++
	}
	return i
}

func coderFor(c *colour.Curve, bits int) *coder {
	coderMutex.Lock()
	defer coderMutex.Unlock()
	key := fmt.Sprint(c.ID, bits)
	if coders[key] == nil {
		coders[key] = newCoder(c, bits)
	}
	return coders[key]
}

// shoot records one frame.
func (m *madeCamera) shoot(rng *rand.Rand, light *picture.Image) *Light {
	out := &Light{Image: picture.NewImage(light.W, light.H, picture.SpaceSceneLinear), Clipped: make([]bool, light.W*light.H), Frames: 1}
	code := coderFor(m.curve, m.bits)
	samples := m.samples()
	read2, photon, clip := float32(m.read*m.read), float32(m.photon), float32(m.clip)
	seeds := make([]uint64, light.H)
	for i := range seeds {
		seeds[i] = rng.Uint64()
	}
	inRows(light.H, func(from, to int) {
		for y := from; y < to; y++ {
			draw := rand.NewPCG(seeds[y], 1)
			for p := y * light.W; p < (y+1)*light.W; p++ {
				v := m.balance.Apply([3]float64{float64(light.Pix[3*p]), float64(light.Pix[3*p+1]), float64(light.Pix[3*p+2])})
				for c, t := range v {
					x := float32(t * m.gain)
					sigma := float32(math.Sqrt(float64(read2 + photon*max(x, 0))))
					sum := float32(0)
					for k := 0; k < samples; k += 4 {
						r := draw.Uint64()
						for j := k; j < min(k+4, samples); j++ {
							s := x + sigma*normals[r&0xffff]
							r >>= 16
							if s >= clip {
								s = clip
								out.Clipped[p] = true
							}
							sum += code.record(s)
						}
					}
					out.Pix[3*p+c] = sum / float32(samples)
				}
			}
		}
	})
	return out
}

// average is the mean of n frames of the same light.
func (m *madeCamera) average(rng *rand.Rand, light *picture.Image, n int) *Light {
	out := m.shoot(rng, light)
	for range n - 1 {
		f := m.shoot(rng, light)
		for i, v := range f.Pix {
			out.Pix[i] += v
		}
		for p, c := range f.Clipped {
			out.Clipped[p] = out.Clipped[p] || c
		}
	}
	for i := range out.Pix {
		out.Pix[i] /= float32(n)
	}
	out.Frames = float64(n)
	return out
}

// filmed makes the holds of a switch clip of a garage: n frames a hold, the
// person moving a little between holds.
func (g *garage) filmed(rng *rand.Rand, cam *madeCamera, d *Design, w, h, n int, p pose, sway float64) []Hold {
	poses := make([][]*picture.Image, 3)
	for i := range poses {
		q := p
		q.x += sway * (2*rng.Float64() - 1)
		q.lean += sway * (2*rng.Float64() - 1)
		poses[i] = g.render(w, h, q, nudge{})
	}
	holds := make([]Hold, len(d.Level))
	for s := range holds {
		light := mixed(poses[rng.IntN(len(poses))], flat(d.Level[s]))
		holds[s] = Hold{Mean: cam.average(rng, light, n), Frames: n}
	}
	return holds
}
