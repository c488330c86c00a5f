package job

import (
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

var tinyFormat = picture.Format{Width: 4, Height: 2, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}

// counter is a source of n frames that fails with err at its end, and a sink
// that fails at frame failAt.
type counter struct {
	n, next int
	err     error
	got     []int
	failAt  int
	stuck   chan struct{}
}

func (c *counter) Next(f *picture.Frame) error {
	if c.next == c.n {
		if c.stuck != nil {
			<-c.stuck
		}
		return c.err
	}
	f.Index = c.next
	f.Y[0] = uint16(c.next)
	c.next++
	return nil
}

func (c *counter) Write(f *picture.Frame) error {
	if c.failAt > 0 && len(c.got) == c.failAt {
		return errFull
	}
	c.got = append(c.got, int(f.Y[0]))
	return nil
}

var errFull, errCut = errors.New("disk full"), errors.New("cut off")

func double(in, out *picture.Frame) error {
	out.Y[0] = 2 * in.Y[0]
	return nil
}

func TestPumpKeepsOrderAndCount(t *testing.T) {
	c := &counter{n: 100, err: io.EOF}
	var last int64
	n, err := pump(context.Background(), c, tinyFormat, tinyFormat, double, c, func(k int64) { last = k })
	if err != nil || n != 100 || last != 100 {
		t.Fatalf("wrote %d, told %d, %v", n, last, err)
	}
	for i, v := range c.got {
		if v != 2*i {
			t.Fatalf("frame %d carries %d", i, v)
		}
	}
}

func TestPumpReturnsTheFirstFailure(t *testing.T) {
	if _, err := pump(context.Background(), &counter{n: 5, err: errCut}, tinyFormat, tinyFormat, double, &counter{}, func(int64) {}); !errors.Is(err, errCut) {
		t.Errorf("a source that breaks: %v", err)
	}
	if n, err := pump(context.Background(), &counter{n: 50, err: io.EOF}, tinyFormat, tinyFormat, double, &counter{failAt: 7}, func(int64) {}); !errors.Is(err, errFull) || n != 7 {
		t.Errorf("a sink that breaks: %d, %v", n, err)
	}
}

func TestPumpStopsWhenCancelled(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Millisecond)
	defer cancel()
	stuck := make(chan struct{})
	time.AfterFunc(60*time.Millisecond, func() { close(stuck) }) // as a killed child ends a read
	if _, err := pump(ctx, &counter{n: 3, err: io.EOF, stuck: stuck}, tinyFormat, tinyFormat, double, &counter{}, func(int64) {}); !errors.Is(err, context.DeadlineExceeded) {
		t.Fatalf("cancelled: %v", err)
	}
}
