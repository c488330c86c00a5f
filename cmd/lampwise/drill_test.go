//go:build linux

package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"lampwise/internal/book"
	"lampwise/internal/media"
	"lampwise/internal/store"
)

// drillKills is how often the drill kills the work. 0 leaves the drill out: it
// renders some clips many times over and takes minutes.
var drillKills = flag.Int("drill", 0, "kill -9 the work on an episode at so many random moments (100 is the full drill)")

// TestDrill kills, fills, removes, locks and damages while an episode is worked
// on, and counts what was lost. Its score is printed; scripts/drill runs it.
func TestDrill(t *testing.T) {
	if *drillKills == 0 {
		t.Skip("takes minutes: scripts/drill runs it, or go test -run Drill ./cmd/lampwise -drill 100 -timeout 0")
	}
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/drill", RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){"film": film, "drill": drill, "exits": exits},
	})
}

// score is what the drill found.
type score struct {
	kills, finished          int
	steps                    map[string]int // in which step a kill came
	lost, half, wrong, other []string
}

func (s *score) losses() int { return len(s.lost) + len(s.half) + len(s.wrong) + len(s.other) }

// driller works on one episode.
type driller struct {
	ts     *testscript.TestScript
	data   string
	finals string
	seen   map[string]string // finished files by what was in them when they were first shown as done
	score  *score
}

// drill DATA FOLDER SET NAME: the episode stands in the store and waits.
func drill(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 4 {
		ts.Fatalf("usage: drill DATA FOLDER SET NAME")
	}
	d := &driller{ts: ts, data: ts.MkAbs(args[0]), finals: ts.MkAbs(args[1]), seen: map[string]string{}, score: &score{steps: map[string]int{}}}
	set, name := args[2], args[3]
	rng := rand.New(rand.NewPCG(7, 7))
	span := d.whole(set, name) // random moments lie in what the work takes
	for d.score.kills < *drillKills {
		cmd := d.work()
		ended := make(chan error, 1)
		began := time.Now()
		ts.Check(cmd.Start())
		go func() { ended <- cmd.Wait() }()
		select {
		case <-time.After(time.Duration(rng.Float64() * float64(span))):
			ts.Check(syscall.Kill(cmd.Process.Pid, syscall.SIGKILL))
			<-ended
			d.score.kills++
			d.look(set, name, true)
			if d.score.kills%10 == 0 {
				fmt.Printf("drill: %d of %d kills, %d runs to the end, %d losses\n", d.score.kills, *drillKills, d.score.finished, d.score.losses())
			}
		case <-ended:
			// All is done: begin anew, so that there is something to kill.
			d.score.finished++
			span = max(span, time.Since(began))
			d.look(set, name, false)
			d.anew(set, name)
		}
	}
	// Left alone, it comes to its end.
	if out, err := d.work().CombinedOutput(); err != nil {
		d.score.other = append(d.score.other, fmt.Sprintf("left alone, the work ended with %v: %s", err, out))
	}
	e := d.look(set, name, false)
	for _, c := range e.Clips {
		if c.State != book.ClipDone {
			d.score.other = append(d.score.other, fmt.Sprintf("clip %d is %s in the end: %s", c.Number, c.State, c.Reason))
		}
	}
	d.full(set, name)
	d.removed(set, name)
	d.locked(set, name)
	d.damaged(set, name)
	d.power(set, max(4, *drillKills/5))
	s := d.score
	fmt.Printf("drill: %d kills (by step: %v), %d runs to the end; %d finished files lost or changed, %d half ones shown, %d wrong outcomes, %d others\n",
		s.kills, s.steps, s.finished, len(s.lost), len(s.half), len(s.wrong), len(s.other))
	if s.losses() > 0 {
		ts.Fatalf("losses:\n%s", strings.Join(append(append(append(s.lost, s.half...), s.wrong...), s.other...), "\n"))
	}
}

// whole is how long the work takes when nobody disturbs it.
func (d *driller) whole(set, name string) time.Duration {
	d.anew(set, name)
	began := time.Now()
	if out, err := d.work().CombinedOutput(); err != nil {
		d.ts.Fatalf("the work ended with %v: %s", err, out)
	}
	d.look(set, name, false)
	d.anew(set, name)
	return time.Since(began)
}

// work works off what waits.
func (d *driller) work() *exec.Cmd {
	return d.lampwise("work", "--once")
}

// lampwise is a command on the data, as another process of this test's binary.
func (d *driller) lampwise(args ...string) *exec.Cmd {
	path, _, _ := strings.Cut(d.ts.Getenv("PATH"), string(os.PathListSeparator))
	cmd := exec.Command(filepath.Join(path, "lampwise"), append(args, "--data", d.data)...)
	cmd.Env = append(os.Environ(), "HOME="+d.ts.Getenv("HOME"))
	return cmd
}

// look opens the store and holds it against the disk.
func (d *driller) look(set, name string, killed bool) book.Episode {
	ctx := context.Background()
	s, err := store.Open(ctx, d.data)
	if err != nil {
		d.score.lost = append(d.score.lost, "the store cannot be opened: "+err.Error())
		d.ts.Fatalf("%v", err)
	}
	defer s.Close()
	d.integrity()
	e, err := s.Episode(ctx, set, name)
	d.ts.Check(err)
	shown := map[string]bool{}
	counted := false
	for _, c := range e.Clips {
		if killed && c.State == book.ClipWorking && !counted {
			d.score.steps[c.Step]++
			counted = true
		}
		if c.State != book.ClipDone {
			continue
		}
		shown[c.Out] = true
		sum, err := sumOf(c.Out)
		if was := d.seen[c.Out]; err != nil || was != "" && was != sum {
			d.score.lost = append(d.score.lost, fmt.Sprintf("%s was done and is not as it was (%v)", c.Out, err))
			continue
		}
		if d.seen[c.Out] == "" {
			d.seen[c.Out] = sum
		}
	}
	if killed && !counted {
		d.score.steps["between"]++
	}
	// Whatever has a final name is whole, shown as done already or not.
	for _, f := range d.finished() {
		source := ""
		for _, c := range e.Clips {
			if c.Out == f {
				source = c.File
			}
		}
		want, err := media.CountFrames(ctx, source)
		d.ts.Check(err)
		if got, err := decoded(f); err != nil || got != want {
			d.score.half = append(d.score.half, fmt.Sprintf("%s holds %d of %d frames (%v)", f, got, want, err))
		}
	}
	return e
}

// finished lists what stands under a final name; what is hidden is unfinished.
func (d *driller) finished() (files []string) {
	entries, _ := os.ReadDir(d.finals)
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") {
			files = append(files, filepath.Join(d.finals, e.Name()))
		}
	}
	return files
}

// decoded counts the frames that can be decoded, by ffprobe.
func decoded(file string) (int, error) {
	out, err := exec.Command("ffprobe", "-v", "error", "-count_frames", "-select_streams", "v:0", "-show_entries", "stream=nb_read_frames", "-of", "csv=p=0", file).Output()
	n := 0
	_, _ = fmt.Sscan(strings.TrimSpace(string(out)), &n)
	return n, err
}

func sumOf(file string) (string, error) {
	data, err := os.ReadFile(file)
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), err
}

// integrity asks SQLite itself.
func (d *driller) integrity() {
	for _, name := range []string{"lampwise.db", "queue.db"} {
		path := filepath.Join(d.data, name)
		if _, err := os.Stat(path); err != nil {
			continue
		}
		db, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(5000)")
		d.ts.Check(err)
		var answer string
		if err := db.QueryRow("PRAGMA integrity_check").Scan(&answer); err != nil || answer != "ok" {
			d.score.lost = append(d.score.lost, fmt.Sprintf("%s: %s %v", name, answer, err))
		}
		db.Close()
	}
}

// anew makes all clips wait again and removes their files, as a new day would.
func (d *driller) anew(set, name string, only ...int) {
	ctx := context.Background()
	s, err := store.Open(ctx, d.data)
	d.ts.Check(err)
	defer s.Close()
	e, err := s.Episode(ctx, set, name)
	d.ts.Check(err)
	for _, c := range e.Clips {
		if len(only) > 0 && c.Number != only[0] {
			continue
		}
		_ = os.Remove(c.Out)
		delete(d.seen, c.Out)
		c.State, c.Step, c.Reason, c.Tries, c.Changed = book.ClipWaiting, "", "", 0, time.Now() // where its grade went is known
		d.ts.Check(s.KeepEpisodeClip(ctx, set, name, c))
	}
}

func (d *driller) expect(what string, ok bool, detail any) {
	fmt.Printf("drill: %s: %v\n", what, map[bool]string{true: "as it should be", false: "NOT as it should be"}[ok])
	if !ok {
		d.score.wrong = append(d.score.wrong, fmt.Sprintf("%s: %v", what, detail))
	}
}

// full puts the finished files on a disk that is too small.
func (d *driller) full(set, name string) {
	d.anew(set, name, 1)
	kept, err := os.MkdirTemp(filepath.Dir(d.finals), "kept-")
	d.ts.Check(err)
	d.ts.Check(os.Rename(d.finals, filepath.Join(kept, "f")))
	d.ts.Check(os.Mkdir(d.finals, 0o755))
	if err := syscall.Mount("tmpfs", d.finals, "tmpfs", 0, "size=4k"); err != nil {
		fmt.Printf("drill: full disk: left out, a small disk could not be mounted (%v)\n", err)
		d.ts.Check(os.Remove(d.finals))
		d.ts.Check(os.Rename(filepath.Join(kept, "f"), d.finals))
		return
	}
	out, err := d.work().CombinedOutput()
	left := d.finished()
	d.ts.Check(syscall.Unmount(d.finals, 0))
	d.ts.Check(os.Remove(d.finals))
	d.ts.Check(os.Rename(filepath.Join(kept, "f"), d.finals))
	e := d.look(set, name, false)
	d.expect("full disk: said, the clip waits, nothing half is left", err != nil && len(left) == 0 && e.Clips[0].State == book.ClipWaiting && strings.Contains(string(out), "disk"),
		fmt.Sprintf("%v, left %v, %s: %s", err, left, e.Clips[0].State, out))
	_, err = d.work().CombinedOutput()
	e = d.look(set, name, false)
	d.expect("room again: the clip is done", err == nil && e.Clips[0].State == book.ClipDone, e.Clips[0].Reason)
}

// removed takes a clip away while it is worked on.
func (d *driller) removed(set, name string) {
	d.anew(set, name, 1)
	e := d.look(set, name, false)
	source := e.Clips[0].File
	cmd := d.work()
	d.ts.Check(cmd.Start())
	d.until(set, name, "render")
	d.ts.Check(os.Rename(source, source+".away"))
	_ = cmd.Wait()
	d.ts.Check(os.Rename(source+".away", source))
	e = d.look(set, name, false)
	c := e.Clips[0]
	d.expect("clip removed in the middle: set aside with the reason, or whole", c.State == book.ClipAside && strings.Contains(strings.ToLower(c.Reason), "no such file") || c.State == book.ClipDone, fmt.Sprintf("%s %s", c.State, c.Reason))
	d.anew(set, name, 1)
	_ = d.work().Run()
}

// until waits for the first clip to reach a step.
func (d *driller) until(set, name, step string) {
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		s, err := store.Open(context.Background(), d.data)
		d.ts.Check(err)
		e, err := s.Episode(context.Background(), set, name)
		s.Close()
		if err == nil && e.Clips[0].Step == step && e.Clips[0].State == book.ClipWorking {
			return
		}
	}
}

// locked holds the store's write lock for longer than anybody waits for it.
func (d *driller) locked(set, name string) {
	d.anew(set, name, 1)
	cmd := d.work()
	d.ts.Check(cmd.Start())
	d.until(set, name, "match")
	db, err := sql.Open("sqlite", "file:"+filepath.Join(d.data, "lampwise.db")+"?_pragma=busy_timeout(5000)")
	d.ts.Check(err)
	db.SetMaxOpenConns(1)
	_, err = db.Exec("BEGIN IMMEDIATE")
	d.ts.Check(err)
	time.Sleep(8 * time.Second)
	_, err = db.Exec("ROLLBACK")
	d.ts.Check(err)
	db.Close()
	_ = cmd.Wait()
	_ = d.work().Run()
	e := d.look(set, name, false)
	d.expect("database locked for 8 s: the clip is done all the same", e.Clips[0].State == book.ClipDone, fmt.Sprintf("%s %s", e.Clips[0].State, e.Clips[0].Reason))
}

// damaged writes over the queue, which may be lost, and over the store, which
// must be said.
func (d *driller) damaged(set, name string) {
	d.anew(set, name, 1)
	queue := filepath.Join(d.data, "queue.db")
	d.ts.Check(os.WriteFile(queue, []byte(strings.Repeat("no database ", 1000)), 0o644))
	_ = os.Remove(queue + "-wal")
	_ = os.Remove(queue + "-shm")
	out, err := d.work().CombinedOutput()
	d.expect("damaged queue: said in one line with what to do", err != nil && strings.Contains(string(out), "hint: "), string(out))
	d.ts.Check(os.Remove(queue))
	err = d.work().Run()
	e := d.look(set, name, false)
	d.expect("queue gone: made anew from the store, the clip is done", err == nil && e.Clips[0].State == book.ClipDone, err)

	path := filepath.Join(d.data, "lampwise.db")
	good, err := os.ReadFile(path)
	d.ts.Check(err)
	d.ts.Check(os.WriteFile(path, append([]byte("no database, really"), good[19:]...), 0o644))
	out, err = d.work().CombinedOutput()
	d.expect("damaged store: said in one line with what to do, finished files untouched", err != nil && strings.Contains(string(out), "hint: "), string(out))
	for f, was := range d.seen {
		if sum, err := sumOf(f); err != nil || sum != was {
			d.score.lost = append(d.score.lost, fmt.Sprintf("%s after the store was damaged (%v)", f, err))
		}
	}
	d.ts.Check(os.WriteFile(path, good, 0o644))
}
