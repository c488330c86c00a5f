package region

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"
	"os"
	"slices"
	"testing"

	"lampwise/internal/picture"
)

// The cascade is the file of the library's release, byte for byte
// (sha256sum cascade/facefinder of github.com/esimov/pigo v1.4.6).
func TestCascadeIsTheLibrarys(t *testing.T) {
	const want = "d8014993e7298c7b1865d1f8b855d6dbf4ec5c808bf879e2091ab6837abf90cd"
	sum := sha256.Sum256(facefinder)
	if got := hex.EncodeToString(sum[:]); got != want {
		t.Errorf("sha256 of facefinder = %s, want %s", got, want)
	}
}

// portraits, and where the face's middle (the bridge of the nose's lower half)
// and breadth (ear to ear) are, in parts of the picture, read off with a ruler.
var portraits = []struct {
	file          string
	x, y, breadth float64
}{
	{"astronaut.png", 0.44, 0.23, 0.17},
	{"grace_hopper.jpg", 0.52, 0.37, 0.34},
}

// earToEar is a face's breadth over the finder's box (see head.go).
const earToEar = 0.78

func TestFacesInPhotographs(t *testing.T) {
	t.Parallel()
	for _, p := range portraits {
		t.Run(p.file, func(t *testing.T) {
			full := shrunk(readPhoto(t, photoFile(t, p.file)), 448)
			light := linearOf(full)
			small := full.Shrink(full.W*2/5, full.H*2/5)
			ways := []struct {
				name  string
				im    *picture.Image
				lean  float64
				scale float64
			}{
				{"as it is", full, 0, 1},
				{"leaning right", leaned(full, 15), 15, 1},
				{"leaning left", leaned(full, -15), -15, 1},
				{"two fifths, leaning", leaned(small, 15), 15, 0.4},
				{"linear, four stops under", gained(light, -4), 0, 1},
				{"log, noisy", loggedTen(t, noisy(light, 0.05, seeded(1))), 0, 1},
				{"log, two stops under, noisier", loggedTen(t, noisy(gained(light, -2), 0.08, seeded(2))), 0, 1},
				{"log, leaning, noisy", loggedTen(t, noisy(leaned(light, -15), 0.05, seeded(3))), -15, 1},
			}
			for _, w := range ways {
				faces := Faces(w.im)
				if len(faces) == 0 || !faces[0].Sure() {
					t.Errorf("%s: no sure face: %+v", w.name, faces)
					continue
				}
				if len(faces) > 1 && faces[1].Sure() {
					t.Errorf("%s: a second sure face at %v", w.name, faces[1].Box)
				}
				f := faces[0]
				x, y := leanedPlace(full, w.im, w.scale, w.lean, p.x, p.y)
				mx, my := f.Box.Middle()
				side := f.Box.W * float64(w.im.W)
				if off := math.Hypot((mx-x)*float64(w.im.W), (my-y)*float64(w.im.H)) / side; off > 0.2 {
					t.Errorf("%s: the face's middle is off by %.2f of its box (%.2f, %.2f for %.2f, %.2f)", w.name, off, mx, my, x, y)
				}
				breadth := p.breadth * float64(full.W) * w.scale
				if r := side * earToEar / breadth; r < 0.8 || r > 1.25 {
					t.Errorf("%s: box of %.0f pixels for a face %.0f broad", w.name, side, breadth)
				}
				if math.Abs(float64(f.Roll)-w.lean) > 8 {
					t.Errorf("%s: leans by %.0f°, want %.0f°", w.name, float64(f.Roll), w.lean)
				}
				t.Logf("%-30s confidence %.2f, leans by %.0f°", w.name, f.Confidence, float64(f.Roll))
			}
		})
	}
}

// Photographs without a human face; chelsea is a cat, coins show stamped heads.
var faceless = []string{
	"coffee.png", "rocket.jpg", "motorcycle_left.png", "motorcycle_right.png", "chelsea.png", "coins.png",
	"brick.png", "grass.png", "gravel.png", "ihc.png", "page.png", "moon.png", "hubble_deep_field.jpg", "cell.png",
}

func TestNoFaceWhereNoneIs(t *testing.T) {
	t.Parallel()
	for _, name := range faceless {
		t.Run(name, func(t *testing.T) {
			im := readPhoto(t, photoFile(t, name))
			for _, size := range []int{640, 240} {
				w, h := picture.Fit(im.W, im.H, size, size)
				for _, f := range Faces(im.Shrink(w, h)) {
					if f.Sure() {
						t.Errorf("at %d×%d: a sure face (%.2f) at %v: %s", w, h, f.Confidence, f.Box, f.Reason)
					}
				}
			}
		})
	}
}

// scikit-image's lfw_subset: a hundred faces of 25×25 pixels, of both sexes
// and several complexions, some in half profile, and a hundred patches that
// are none. It is the one set here large enough for a rate.
func TestFaceRate(t *testing.T) {
	t.Parallel()
	const side, count = 25, 200
	data, err := os.ReadFile(photoFile(t, "lfw_subset.npy"))
	if err != nil {
		t.Fatal(err)
	}
	// NumPy's format, version 1: a header of stated length, then little-endian doubles.
	head := 10 + int(binary.LittleEndian.Uint16(data[8:]))
	if len(data) != head+8*count*side*side {
		t.Fatalf("lfw_subset.npy has %d bytes; a layout that isn't known", len(data))
	}
	missed, wrong := 0, 0
	for k := range count {
		small := picture.NewImage(side, side, picture.SpaceDisplay)
		for p := range side * side {
			v := math.Float64frombits(binary.LittleEndian.Uint64(data[head+8*(k*side*side+p):]))
			small.Set(p%side, p/side, [3]float64{v, v, v})
		}
		// Twice as large, its edge repeated around it as room for the search.
		im := picture.NewImage(3*side, 3*side, picture.SpaceDisplay)
		for y := range im.H {
			for x := range im.W {
				im.Set(x, y, mixedAt(small, float64(x)/2-side/4.0, float64(y)/2-side/4.0))
			}
		}
		sure := slices.ContainsFunc(Faces(im), Face.Sure)
		if k < count/2 && !sure {
			missed++
		}
		if k >= count/2 && sure {
			wrong++
		}
	}
	t.Logf("of 100 faces %d are missed, of 100 patches %d taken for faces", missed, wrong)
	if missed > 8 || wrong > 0 {
		t.Errorf("of 100 faces %d are missed (at most 8), of 100 patches %d taken for faces (none)", missed, wrong)
	}
}
