package job

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// ErrBusy says that another process works on the clip.
var ErrBusy = errors.New("another process works on the clip")

// A process says every beatEvery that it is at work on a clip. Who has not said
// so for beatDead is taken to be gone; a process of the same machine that is no
// more is known to be gone at once.
const (
	beatEvery = 5 * time.Second
	beatDead  = 60 * time.Second
)

// self is this process: host, process number, and a word of its own, since
// numbers come again.
var self = func() string {
	host, err := os.Hostname()
	if err != nil {
		host = "?"
	}
	var word [6]byte
	_, _ = rand.Read(word[:]) // never fails (crypto/rand)
	return fmt.Sprintf("%s/%d/%s", strings.ReplaceAll(host, "/", "-"), os.Getpid(), hex.EncodeToString(word[:]))
}()

// claim makes this process the clip's owner and keeps saying so until released.
func (w *clipWork) claim(ctx context.Context) (release func(), err error) {
	c := &w.clip
	if c.Owner != "" && !gone(c.Owner, c.Beat, time.Now()) {
		return nil, ErrBusy
	}
	// An owner of its own for each time, so that two workers of one process differ.
	var word [4]byte
	_, _ = rand.Read(word[:])
	owner := self + "/" + hex.EncodeToString(word[:])
	got, err := w.store.ClaimEpisodeClip(ctx, w.episode.Set, w.episode.Name, c.Number, c.Owner, owner, time.Now())
	if err != nil {
		return nil, err
	}
	if !got {
		return nil, ErrBusy
	}
	c.Owner = owner
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		tick := time.NewTicker(beatEvery)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				// One that fails is made up for by the next.
				_ = w.store.BeatEpisodeClip(context.WithoutCancel(ctx), w.episode.Set, w.episode.Name, c.Number, owner, time.Now())
			}
		}
	}()
	return func() { close(stop); <-stopped }, nil
}

// gone says whether an owner is no more.
func gone(owner string, beat, now time.Time) bool {
	if now.Sub(beat) > beatDead {
		return true
	}
	parts, mine := strings.Split(owner, "/"), strings.Split(self, "/")
	if len(parts) < 3 || parts[0] != mine[0] {
		return false
	}
	if parts[1] == mine[1] {
		return parts[2] != mine[2] // this process's number, given to another before
	}
	pid, err := strconv.Atoi(parts[1])
	return err == nil && processGone(pid)
}
