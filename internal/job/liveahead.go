package job

import (
	"context"
	"sync"
	"time"

	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// liveahead.go has frames ready before they are asked for. What a frame costs
// is not its own decoding but the way to it: a program is started, and all
// frames from the group's first one have to be decoded. So the decoder that
// reached a frame is kept for those behind it; and a short clip is read from
// end to end in the background, at a size for looking for a place in it.

// Widths that a page asks for: while a place in the clip is looked for, and
// when it is found.
const (
	ScrubWidth = 480
	ShownWidth = 1280
)

// Ahead lets frames be had ready. Close must be called then.
func (l *Live) Ahead() {
	l.ahead, l.stop = context.WithCancel(context.Background())
}

// Close ends what was begun ahead and waits for it.
func (l *Live) Close() {
	if l.ahead == nil {
		return
	}
	l.stop()
	l.warm.drop()
	l.river.mu.Lock()
	ended := l.river.ended
	l.river.mu.Unlock()
	if ended != nil {
		<-ended
	}
}

// warm is a decoder that has reached a place in a clip.
type warm struct {
	mu     sync.Mutex
	reader *media.Reader
	key    frameKey // of the frame that comes next
	idle   *time.Timer
}

const (
	warmReach = 12               // frames: further on, another decoder is started in no more time
	warmLasts = 20 * time.Second // without being asked
)

// read gives a frame: from the decoder that stands a little before it, or from
// one that is started there and kept.
func (w *warm) read(ctx context.Context, info *media.Info, key frameKey) (*picture.Frame, error) {
	w.mu.Lock()
	reader, at := w.reader, w.key
	w.reader = nil // it is this one's now
	w.mu.Unlock()
	// What another decoder has to go through, the start of a program set against some frames.
	anew := key.number - info.Entry(key.number) + warmReach
	if reader != nil && (at.at(0, 0) != key.at(0, 0) || at.number > key.number || key.number-at.number > anew) {
		reader.Close()
		reader = nil
	}
	if reader == nil {
		var err error
		if reader, err = media.OpenReader(ctx, key.clip, media.ReadOptions{Info: info, Start: key.number, Override: key.override}); err != nil {
			return nil, err
		}
		at = key
	}
	for {
		frame, err := next(reader, at)
		if err != nil {
			reader.Close()
			return nil, err
		}
		here := at.number
		at.number++
		if here == key.number {
			w.keep(ctx, reader, at)
			return frame, nil
		}
	}
}

func (w *warm) keep(ctx context.Context, reader *media.Reader, next frameKey) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.reader != nil || ctx.Err() != nil { // another one's stands there
		reader.Close()
		return
	}
	w.reader, w.key = reader, next
	if w.idle != nil {
		w.idle.Stop()
	}
	w.idle = time.AfterFunc(warmLasts, w.drop)
}

func (w *warm) drop() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.reader != nil {
		w.reader.Close()
		w.reader = nil
	}
}

// river reads a clip from end to end.
type river struct {
	mu    sync.Mutex
	of    frameKey // the clip it is of
	stop  context.CancelFunc
	ended chan struct{}
}

// flow begins to read the whole clip, if it fits on its shelf and is not the
// one that is read already. One clip at a time: the one looked at last.
func (l *Live) flow(info *media.Info, key frameKey) {
	v := info.Video
	k := max(1, (v.Width+ScrubWidth-1)/ScrubWidth)
	if 6*(v.Width/k)*max(1, v.Height/k)*v.Frames > scrubBytes {
		return
	}
	r := &l.river
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.of == key.at(0, 0) || l.ahead.Err() != nil {
		return
	}
	if r.stop != nil {
		r.stop()
	}
	before := r.ended
	ctx, stop := context.WithCancel(l.ahead)
	ended := make(chan struct{})
	r.of, r.stop, r.ended = key.at(0, 0), stop, ended
	go func() {
		defer close(ended)
		defer stop()
		if before != nil {
			<-before
		}
		select {
		case <-time.After(settle): // what shows the first frame goes first
		case <-ctx.Done():
			return
		}
		l.readAll(ctx, info, key)
	}()
}

// settle is how long after a clip's first frame it is begun to be read.
const settle = 500 * time.Millisecond

// quiet is how long the river waits where frames are being asked for.
const quiet = 10 * time.Millisecond

// readAll puts all frames on the scrubs' shelf. What goes wrong is said to who
// asks for the frame it goes wrong at.
func (l *Live) readAll(ctx context.Context, info *media.Info, key frameKey) {
	reader, err := media.OpenReader(ctx, key.clip, media.ReadOptions{Info: info, Override: key.override, Threads: 1})
	if err != nil {
		return
	}
	defer reader.Close()
	frame := picture.NewFrame(reader.Format())
	for n := 0; reader.Next(frame) == nil; n++ {
		l.scrubs.put(key.at(n, ScrubWidth), proxyOf(frame, n, ScrubWidth))
		for len(l.frames.slots)+len(l.scrubs.slots) > 0 && ctx.Err() == nil {
			time.Sleep(quiet)
		}
	}
}
