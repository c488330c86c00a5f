package media

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"lampwise/internal/picture"
)

// ffmpeg's own reader finds the numbers that were written.
func TestEXRReadsBackByFFmpeg(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	im := picture.NewImage(37, 23, picture.SpaceSceneLinear)
	for i := range im.Pix {
		im.Pix[i] = float32(math.Exp2(float64(i%300)/20-8)) - 0.01
	}
	path := filepath.Join(t.TempDir(), "scene.exr")
	if err := WriteEXR(path, im); err != nil {
		t.Fatal(err)
	}
	still, err := ReadStill(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if still.Image.W != im.W || still.Image.H != im.H {
		t.Fatalf("%d×%d", still.Image.W, still.Image.H)
	}
	for i, v := range still.Image.Pix {
		if v != im.Pix[i] {
			t.Fatalf("number %d is %g, not %g", i, v, im.Pix[i])
		}
	}
}
