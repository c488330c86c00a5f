package server

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"lampwise/internal/store"
)

// serving is a server with a generated clip in its folder, answering on a port.
func serving(t *testing.T) *Server {
	t.Helper()
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	folder := t.TempDir()
	text, err := exec.Command(ffmpeg, "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=1280x720:rate=25:duration=6", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-preset", "ultrafast", "-g", "12", filepath.Join(folder, "clip.mov")).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	st, err := store.Open(context.Background(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(Options{Folders: []string{folder}, Store: st, Assets: fstest.MapFS{}, Host: l.Addr().String()})
	if err != nil {
		t.Fatal(err)
	}
	go func() { _ = s.Serve(l) }()
	t.Cleanup(func() {
		l.Close()
		s.Close()
	})
	return s
}

// get asks over the network; the answer's status and length are given.
func get(s *Server, method, path, body string) (int, int64, error) {
	r, err := http.NewRequest(method, "http://"+s.options.Host+path, strings.NewReader(body))
	if err != nil {
		return 0, 0, err
	}
	r.AddCookie(&http.Cookie{Name: s.cookie, Value: s.token})
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, 0, err
	}
	defer a.Body.Close()
	data, err := io.ReadAll(a.Body)
	if err == nil && a.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s", data)
	}
	return a.StatusCode, int64(len(data)), err
}

// children are the programs that this process has started and not seen the end of.
func children(t *testing.T) []string {
	t.Helper()
	all, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil || len(all) == 0 {
		t.Skip("this system has no /proc to count programs by")
	}
	var out []string
	for _, file := range all {
		text, err := os.ReadFile(file)
		if err != nil {
			continue // it ended
		}
		// pid (name) state ppid …: proc(5)
		name, rest, _ := strings.Cut(string(text), ") ")
		if f := strings.Fields(rest); len(f) > 1 && f[1] == fmt.Sprint(os.Getpid()) {
			out = append(out, name)
		}
	}
	return out
}

func TestClosingLeavesNoProgramBehind(t *testing.T) {
	s := serving(t)
	before := len(children(t))
	var under sync.WaitGroup
	for n := range 6 {
		under.Go(func() {
			_, _, _ = get(s, "GET", fmt.Sprintf("/api/frame?clip=0/clip.mov&frame=%d&width=640", 140+n), "")
		})
	}
	under.Go(func() { _, _, _ = get(s, "GET", "/api/events", "") })
	if status, _, err := get(s, "POST", "/api/measure", `{"clip":"0/clip.mov","set":"","grade":""}`); err != nil || status != 200 {
		t.Fatalf("measure: %d, %v", status, err)
	}
	for wait := 0; len(children(t)) == before; wait++ {
		if wait > 2000 {
			t.Fatal("no program was started")
		}
		time.Sleep(time.Millisecond)
	}
	began := time.Now()
	s.Close()
	took := time.Since(began)
	if left := children(t); len(left) != before {
		t.Errorf("left behind: %v", left)
	}
	under.Wait()
	if took > closing {
		t.Errorf("closing took %v: something didn't end when told to", took)
	}
	if _, _, err := get(s, "POST", "/api/start", "{}"); err == nil {
		t.Error("a closed server answers")
	}
}

// Many ask at once: each gets its answer, and the programs run for them are few.
func TestManyClientsAtOnce(t *testing.T) {
	s := serving(t)
	before := len(children(t))
	var most atomic.Int64
	watch, stop := context.WithCancel(context.Background())
	var watching sync.WaitGroup
	watching.Go(func() {
		for watch.Err() == nil {
			most.Store(max(most.Load(), int64(len(children(t))-before)))
			time.Sleep(2 * time.Millisecond)
		}
	})
	var clients sync.WaitGroup
	for n := range 24 {
		clients.Go(func() {
			// Some the same frame, some others.
			status, size, err := get(s, "GET", fmt.Sprintf("/api/frame?clip=0/clip.mov&frame=%d&width=640", 10*(n%8)), "")
			if err != nil || status != 200 || size != 6*640*360 {
				t.Errorf("client %d: %d, %d bytes, %v", n, status, size, err)
			}
		})
		clients.Go(func() {
			if status, _, err := get(s, "POST", "/api/start", "{}"); err != nil || status != 200 {
				t.Errorf("client %d: start %d, %v", n, status, err)
			}
		})
	}
	clients.Wait()
	stop()
	watching.Wait()
	t.Logf("%d programs at most at the same time", most.Load())
	if most.Load() > 8 {
		t.Errorf("%d programs at the same time for 24 clients", most.Load())
	}
}
