//go:build linux

package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"syscall"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/store"
)

// power cuts the power at random moments of the work: data and finished files
// lie on a disk of their own, a file mounted as ext4 that writes only what it is
// made to; the work is killed with all its children, the file is copied as it
// is (what the system had not yet sent to it is lost), and the work goes on
// from the copy. Whatever the work had said to be done must be done, and whole.
func (d *driller) power(set string, cuts int) {
	dir, err := os.MkdirTemp(filepath.Dir(d.finals), "power-")
	d.ts.Check(err)
	disk := &cutDisk{d: d, image: filepath.Join(dir, "disk"), at: filepath.Join(dir, "m")}
	if err := disk.make(); err != nil {
		fmt.Printf("drill: power cut: left out, a disk in a file could not be mounted (%v)\n", err)
		return
	}
	defer disk.unmount()
	p := &driller{ts: d.ts, data: filepath.Join(disk.at, "data"), finals: filepath.Join(disk.at, "finished"), seen: map[string]string{}, score: d.score}
	if out, err := exec.Command("cp", "-a", d.data, p.data).CombinedOutput(); err != nil {
		d.ts.Fatalf("copy: %v %s", err, out)
	}
	if err := os.Remove(filepath.Join(p.data, "queue.db")); err != nil {
		d.ts.Fatalf("%v", err)
	}
	const name = "power"
	day := filepath.Dir(d.finals)
	if out, err := p.lampwise("episodes", "add", day, "--set", set, "--grade", filepath.Join(day, "..", "lesson.toml"), "--name", name, "--out", p.finals, "--yes").CombinedOutput(); err != nil {
		d.ts.Fatalf("episodes add: %v %s", err, out)
	}
	syscall.Sync()
	rng := rand.New(rand.NewPCG(8, 8))
	span := p.whole(set, name)
	syscall.Sync()
	done, told := 0, 0
	for done < cuts {
		cmd := p.work()
		said := &listener{first: make(chan struct{})}
		cmd.Stdout, cmd.Stderr = said, said
		cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
		d.ts.Check(cmd.Start())
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		over := false
		moment := time.After(time.Duration(rng.Float64() * float64(span)))
		heard := make(chan struct{})
		if done%2 == 1 {
			// Every second time at the worst moment: just when a clip was said to be done.
			moment, heard = nil, said.first
		}
		select {
		case <-moment:
		case <-heard:
		case <-ended:
			over = true
		}
		_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
		if !over {
			<-ended
		}
		done++
		disk.cut()
		told += p.kept(set, name, said.String())
		p.seen = map[string]string{} // what is begun anew after a cut is another file
		e := p.look(set, name, true)
		left := 0
		for _, c := range e.Clips {
			if c.State != book.ClipDone {
				left++
			}
		}
		if left == 0 {
			p.anew(set, name)
			syscall.Sync()
		}
	}
	fmt.Printf("drill: power cut %d times; %d clips had been said to be done by then\n", done, told)
	if told == 0 {
		d.score.other = append(d.score.other, "no clip was done before any power cut: nothing was tested")
	}
}

// listener keeps what is said, and tells when the first clip was said to be done.
type listener struct {
	bytes.Buffer
	first chan struct{}
	heard bool
}

func (l *listener) Write(b []byte) (int, error) {
	n, err := l.Buffer.Write(b)
	if !l.heard && doneLine.Match(l.Bytes()) {
		l.heard = true
		close(l.first)
	}
	return n, err
}

var doneLine = regexp.MustCompile(`, (\d+): \S+ is done and verified`)

// kept holds what was said before the cut against what is there after it, and
// says how many clips that were.
func (d *driller) kept(set, name, said string) (told int) {
	s, err := store.Open(context.Background(), d.data)
	if err != nil {
		d.score.lost = append(d.score.lost, "the store cannot be opened after a power cut: "+err.Error())
		d.ts.Fatalf("%v", err)
	}
	defer s.Close()
	e, err := s.Episode(context.Background(), set, name)
	d.ts.Check(err)
	for _, m := range doneLine.FindAllStringSubmatch(said, -1) {
		n, _ := strconv.Atoi(m[1])
		told++
		if c := e.Clips[n-1]; c.State != book.ClipDone {
			d.score.lost = append(d.score.lost, fmt.Sprintf("clip %d was said to be done before a power cut and is %s after it", n, c.State))
		}
	}
	return told
}

// cutDisk is a disk in a file.
type cutDisk struct {
	d         *driller
	image, at string
	mounted   bool
}

func (c *cutDisk) make() error {
	if err := os.MkdirAll(c.at, 0o755); err != nil {
		return err
	}
	f, err := os.Create(c.image)
	if err != nil {
		return err
	}
	if err := f.Truncate(192 << 20); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if out, err := exec.Command("mkfs.ext4", "-q", "-F", c.image).CombinedOutput(); err != nil {
		return fmt.Errorf("mkfs.ext4: %w %s", err, out)
	}
	return c.mount()
}

// mount mounts the disk so that nothing is written for a file's sake unless it
// was asked for: commits minutes apart, no flushing at a rename.
func (c *cutDisk) mount() error {
	if out, err := exec.Command("mount", "-o", "loop,commit=600,noauto_da_alloc", c.image, c.at).CombinedOutput(); err != nil {
		return fmt.Errorf("mount: %w %s", err, out)
	}
	c.mounted = true
	return nil
}

func (c *cutDisk) unmount() {
	for range 50 { // a child may still be ending
		if err := syscall.Unmount(c.at, 0); err == nil || !c.mounted {
			c.mounted = false
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	c.d.ts.Fatalf("the disk can't be unmounted")
}

// cut goes on from what is on the disk now. Two copies that are the same are of
// one moment.
func (c *cutDisk) cut() {
	next := c.image + "-after"
	for same := false; !same; {
		a, err := os.ReadFile(c.image)
		c.d.ts.Check(err)
		time.Sleep(50 * time.Millisecond)
		b, err := os.ReadFile(c.image)
		c.d.ts.Check(err)
		if same = bytes.Equal(a, b); same {
			c.d.ts.Check(os.WriteFile(next, b, 0o644))
		}
	}
	c.unmount()
	c.d.ts.Check(os.Rename(next, c.image))
	c.d.ts.Check(c.mount())
}
