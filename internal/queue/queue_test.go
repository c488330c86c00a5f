//go:build unix

package queue

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// both runs a test with each database there is here.
func both(t *testing.T, f func(t *testing.T, where string)) {
	t.Run("sqlite", func(t *testing.T) { f(t, t.TempDir()) })
	t.Run("postgres", func(t *testing.T) { f(t, postgres(t)) })
}

// postgres starts a server of Debian's packages in a folder of the test's own.
func postgres(t *testing.T) string {
	t.Helper()
	var programs string
	if found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb"); len(found) > 0 {
		programs = filepath.Dir(found[len(found)-1])
	} else {
		t.Skip("PostgreSQL (Debian's postgresql) is not installed")
	}
	dir, err := os.MkdirTemp("", "queue-pg-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	// The server refuses to run as root.
	as := func(cmd *exec.Cmd) *exec.Cmd {
		if os.Getuid() != 0 {
			return cmd
		}
		u, err := user.Lookup("postgres")
		if err != nil {
			u, err = user.Lookup("nobody")
		}
		if err != nil {
			t.Skip("PostgreSQL does not run as root, and there is no other user here to run it")
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		if err := os.Chown(dir, uid, gid); err != nil {
			t.Fatal(err)
		}
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
		cmd.Dir = dir
		return cmd
	}
	data := filepath.Join(dir, "data")
	if out, err := as(exec.Command(filepath.Join(programs, "initdb"), "-D", data, "-A", "trust", "-U", "mechanic", "--no-sync")).CombinedOutput(); err != nil {
		t.Fatalf("initdb: %v\n%s", err, out)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	server := as(exec.Command(filepath.Join(programs, "postgres"), "-D", data, "-h", "127.0.0.1", "-p", strconv.Itoa(port), "-k", dir, "-F"))
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = server.Process.Signal(syscall.SIGINT)
		_ = server.Wait()
	})
	address := fmt.Sprintf("postgres://mechanic@127.0.0.1:%d/postgres", port)
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(200 * time.Millisecond) {
		q, err := Open(context.Background(), address)
		if err == nil {
			q.Close()
			return address
		}
		if time.Now().After(end) {
			t.Fatal(err)
		}
	}
}

func openQueue(t *testing.T, where string) *Queue {
	t.Helper()
	q, err := Open(context.Background(), where)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(q.Close)
	return q
}

func clips(n int) (out []Clip) {
	for i := range n {
		out = append(out, Clip{Set: "garage", Episode: "monday", Number: i + 1})
	}
	return out
}

func TestEveryClipIsWorkedOnOnce(t *testing.T) {
	both(t, func(t *testing.T, where string) {
		ctx := context.Background()
		a, b := openQueue(t, where), openQueue(t, where)
		for range 2 { // asked for twice, kept once
			if err := a.Add(ctx, clips(8)); err != nil {
				t.Fatal(err)
			}
		}
		if n, err := b.Waiting(ctx); err != nil || n != 8 {
			t.Fatalf("%d wait, %v", n, err)
		}
		var mu sync.Mutex
		done := map[Clip]int{}
		over := func() bool { mu.Lock(); defer mu.Unlock(); return len(done) == 8 }
		work := func(_ context.Context, c Clip) error {
			mu.Lock()
			defer mu.Unlock()
			done[c]++
			return nil
		}
		// Two machines, one queue.
		var wg sync.WaitGroup
		for _, q := range []*Queue{a, b} {
			wg.Go(func() {
				if err := q.Run(ctx, 2, work, over); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		for c, n := range done {
			if n != 1 {
				t.Errorf("%+v was worked on %d times", c, n)
			}
		}
	})
}

func TestFailedAndPutOffClipsComeAgain(t *testing.T) {
	both(t, func(t *testing.T, where string) {
		ctx := context.Background()
		q := openQueue(t, where)
		if err := q.Add(ctx, clips(2)); err != nil {
			t.Fatal(err)
		}
		var mu sync.Mutex
		tries, whole := map[int]int{}, 0
		err := q.Run(ctx, 1, func(_ context.Context, c Clip) error {
			mu.Lock()
			defer mu.Unlock()
			tries[c.Number]++
			switch {
			case tries[c.Number] > 1:
				whole++
				return nil
			case c.Number == 1:
				return ErrLater
			}
			return errors.New("the disk is full")
		}, func() bool { mu.Lock(); defer mu.Unlock(); return whole == 2 })
		if err != nil {
			t.Fatal(err)
		}
		if tries[1] != 2 || tries[2] != 2 {
			t.Errorf("tries %v", tries)
		}
	})
}

// A stopped queue lets go of its work, and what was not done is still there.
func TestAStoppedQueueKeepsWhatIsLeft(t *testing.T) {
	both(t, func(t *testing.T, where string) {
		q := openQueue(t, where)
		if err := q.Add(context.Background(), clips(3)); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		err := q.Run(ctx, 1, func(ctx context.Context, _ Clip) error {
			cancel()
			<-ctx.Done()
			return ctx.Err()
		}, func() bool { return false })
		if !errors.Is(err, context.Canceled) {
			t.Errorf("stopped: %v", err)
		}
		if n, err := openQueue(t, where).Waiting(context.Background()); err != nil || n != 3 {
			t.Errorf("%d wait, %v", n, err)
		}
	})
}

// A worker that was killed leaves its entry as running; a later start asks anew.
func TestAKilledWorkersEntryDoesNotStandInTheWay(t *testing.T) {
	both(t, func(t *testing.T, where string) {
		q := openQueue(t, where)
		if err := q.Add(context.Background(), []Clip{{Set: "garage", Episode: "monday", Number: 1, Run: "killed"}}); err != nil {
			t.Fatal(err)
		}
		// As good as killed: this worker never answers, and is left behind.
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		hangs, begun := make(chan struct{}), make(chan struct{})
		defer close(hangs)
		go func() {
			_ = q.Run(ctx, 1, func(context.Context, Clip) error { close(begun); <-hangs; return nil }, func() bool { return false })
		}()
		<-begun
		later := openQueue(t, where)
		if err := later.Add(context.Background(), []Clip{{Set: "garage", Episode: "monday", Number: 1, Run: "later"}}); err != nil {
			t.Fatal(err)
		}
		end, done := time.Now().Add(20*time.Second), atomic.Bool{}
		err := later.Run(context.Background(), 1, func(_ context.Context, c Clip) error { done.Store(c.Run == "later"); return nil }, func() bool { return done.Load() || time.Now().After(end) })
		if err != nil || !done.Load() {
			t.Errorf("asked again: done %v, %v", done.Load(), err)
		}
	})
}

func TestADamagedQueueIsSaid(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, FileName), []byte("this is no database, and is long enough to be read as one"), 0o644); err != nil {
		t.Fatal(err)
	}
	if q, err := Open(context.Background(), dir); err == nil {
		q.Close()
		t.Error("a damaged file was opened")
	} else {
		t.Log(err)
	}
	if _, err := Open(context.Background(), "postgres://127.0.0.1:1/none?connect_timeout=2"); err == nil {
		t.Error("a server that is not there was opened")
	}
}
