package demo

import (
	"context"
	"os"
	"testing"
	"time"
)

// TestExample makes an example in the folder named by DEMO_MAKE, for trials.
func TestExample(t *testing.T) {
	dir := os.Getenv("DEMO_MAKE")
	if dir == "" {
		t.Skip("DEMO_MAKE names no folder")
	}
	size := 136
	if os.Getenv("DEMO_FULL") != "" {
		size = 1080
	}
	last := time.Now()
	what := ""
	m, err := Make(context.Background(), Options{Dir: dir, Size: size, Overwrite: true}, func(d, n int, w string) {
		if w != what {
			t.Logf("%v %s: %v", d, what, time.Since(last))
			last, what = time.Now(), w
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %v", what, time.Since(last))
	t.Logf("%+v", m.Known.Readings)
}
