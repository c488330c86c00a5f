package job

import (
	"container/list"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"runtime"
	"sync"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// ProxyFrame is a frame made small for looking at: R′G′B′ of the frame's own
// range (E′, see picture.Frame.RGB), boxes averaged in the signal, as 16-bit
// numbers u = 65535·(E′ + ProxyFloor)/ProxySpan, little endian, row by row.
type ProxyFrame struct {
	W, H   int
	Number int
	Data   []byte
	E      *picture.Image // the same numbers, before they were rounded to 16 bits; nil in one that was decoded before
}

// ProxyFloor and ProxySpan map E′ onto 16 bits with room for what lies outside 0..1.
const (
	ProxyFloor = 0.25
	ProxySpan  = 1.5
)

// At is E′ of the pixel at column x and row y.
func (f *ProxyFrame) At(x, y int) (v [3]float64) {
	p := f.Data[6*(y*f.W+x):]
	for ch := range v {
		v[ch] = float64(binary.LittleEndian.Uint16(p[2*ch:]))*ProxySpan/65535 - ProxyFloor
	}
	return v
}

type frameKey struct {
	clip     string
	size     int64
	number   int
	width    int
	override media.Override
}

// frameShelf keeps the frames shown last, and those being decoded.
type frameShelf struct {
	mu       sync.Mutex
	at       map[frameKey]*list.Element
	order    *list.List
	bytes    int
	decoding map[frameKey]chan struct{} // closed when it is done
	slots    chan struct{}              // as many as may decode at the same time
	most     int                        // bytes
}

func newShelf(most int) *frameShelf {
	return &frameShelf{most: most, at: map[frameKey]*list.Element{}, order: list.New(), decoding: map[frameKey]chan struct{}{}, slots: make(chan struct{}, max(2, runtime.GOMAXPROCS(0)/2))}
}

type shelved struct {
	key   frameKey
	frame *ProxyFrame
}

// What the shelves hold: 40 frames at half of 1080p, and 200 at a quarter.
const (
	shelfBytes = 128 << 20
	scrubBytes = 160 << 20
)

// take is for who holds the lock.
func (s *frameShelf) take(k frameKey) *ProxyFrame {
	if e := s.at[k]; e != nil {
		s.order.MoveToFront(e)
		return e.Value.(*shelved).frame
	}
	return nil
}

func (s *frameShelf) put(k frameKey, f *ProxyFrame) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.at[k] != nil {
		return
	}
	kept := *f
	kept.E = nil
	s.at[k] = s.order.PushFront(&shelved{k, &kept})
	s.bytes += len(f.Data)
	for s.bytes > s.most && s.order.Len() > 1 {
		e := s.order.Back()
		old := s.order.Remove(e).(*shelved)
		delete(s.at, old.key)
		s.bytes -= len(old.frame.Data)
	}
}

// frame gives a frame off the shelf, or has it decoded: once for all who ask
// for it at the same time, and few at once, whoever asks.
func (s *frameShelf) frame(ctx context.Context, k frameKey, decode func() (*ProxyFrame, error)) (*ProxyFrame, error) {
	for {
		s.mu.Lock()
		if f := s.take(k); f != nil {
			s.mu.Unlock()
			return f, nil
		}
		other := s.decoding[k]
		if other == nil {
			break
		}
		s.mu.Unlock()
		select {
		case <-other: // now it is on the shelf; or it failed, and is tried here
		case <-ctx.Done():
			return nil, stopped(ctx)
		}
	}
	done := make(chan struct{})
	s.decoding[k] = done
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		delete(s.decoding, k)
		s.mu.Unlock()
		close(done)
	}()
	select {
	case s.slots <- struct{}{}:
		defer func() { <-s.slots }()
	case <-ctx.Done():
		return nil, stopped(ctx)
	}
	f, err := decode()
	if err == nil {
		s.put(k, f)
	}
	return f, err
}

// Frame decodes frame number n of a clip at most maxWidth wide.
func (l *Live) Frame(ctx context.Context, clip string, n, maxWidth int, o media.Override) (*ProxyFrame, error) {
	info, err := l.Info(ctx, clip)
	if err != nil {
		return nil, err
	}
	if n < 0 || n >= max(1, info.Video.Frames) {
		return nil, fault.New(fault.Input, "frame", "Frames are counted from 0.", "%s: has %d frames; there is no frame %d", clip, info.Video.Frames, n)
	}
	if maxWidth < 16 || maxWidth > 4096 {
		return nil, fault.New(fault.Input, "frame-width", "", "a picture %d wide can't be asked for; 16 to 4096 can", maxWidth)
	}
	key := frameKey{clip, info.SizeBytes, n, maxWidth, o}
	shelf := l.frames
	if maxWidth == ScrubWidth {
		shelf = l.scrubs
	}
	f, err := shelf.frame(ctx, key, func() (*ProxyFrame, error) {
		frame, err := l.decode(ctx, info, key)
		if err != nil {
			return nil, err
		}
		if l.ahead != nil {
			// Who looks for a place now wants to see it well in a moment, and the
			// other way round.
			for _, other := range []struct {
				shelf *frameShelf
				width int
			}{{l.frames, ShownWidth}, {l.scrubs, ScrubWidth}} {
				if k := key.at(n, other.width); other.width != maxWidth {
					other.shelf.put(k, proxyOf(frame, n, other.width))
				}
			}
		}
		return proxyOf(frame, n, maxWidth), nil
	})
	if err == nil && l.ahead != nil {
		l.flow(info, key)
	}
	return f, err
}

// at is the key of another frame of the same clip.
func (k frameKey) at(n, width int) frameKey {
	k.number, k.width = n, width
	return k
}

// decode reads one frame at its full size.
func (l *Live) decode(ctx context.Context, info *media.Info, key frameKey) (*picture.Frame, error) {
	if l.ahead != nil {
		return l.warm.read(l.ahead, info, key)
	}
	reader, err := media.OpenReader(ctx, key.clip, media.ReadOptions{Info: info, Start: key.number, Count: 1, Override: key.override})
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	return next(reader, key)
}

func next(reader *media.Reader, key frameKey) (*picture.Frame, error) {
	frame := picture.NewFrame(reader.Format())
	err := reader.Next(frame)
	if errors.Is(err, io.EOF) {
		err = fault.New(fault.Input, "no-frames", "The file may be damaged: lampwise probe tells more.", "%s: frame %d can't be read", key.clip, key.number)
	}
	return frame, err
}

func proxyOf(frame *picture.Frame, number, maxWidth int) *ProxyFrame {
	e := frame.Boxes(max(1, (frame.Width+maxWidth-1)/maxWidth))
	f := &ProxyFrame{W: e.W, H: e.H, Number: number, Data: make([]byte, 6*e.W*e.H), E: e}
	parallel(e.H, func(y int) {
		for i := 3 * y * e.W; i < 3*(y+1)*e.W; i++ {
			u := math.Round(65535 * (float64(e.Pix[i]) + ProxyFloor) / ProxySpan)
			binary.LittleEndian.PutUint16(f.Data[2*i:], uint16(max(0, min(65535, u))))
		}
	})
	return f
}

func stopped(ctx context.Context) error {
	return fault.Wrap(context.Cause(ctx), fault.Cancelled, "cancelled", "", "stopped before it had finished")
}
