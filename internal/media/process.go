package media

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"time"

	"lampwise/internal/fault"
)

// child is a running program. wait must be called once reading and writing are over.
type child struct {
	name   string
	cmd    *exec.Cmd
	ctx    context.Context
	cancel context.CancelFunc
	stdin  *os.File // our end, where asked for
	stdout *os.File // our end, where asked for
	stderr *complaints

	once sync.Once
	err  error
}

// waitDelay bounds how long a killed child's pipes are waited for.
const waitDelay = 3 * time.Second

// startChild starts a program from an argument list. Its complaints are kept
// in bounded memory. Cancelling ctx kills it.
func startChild(ctx context.Context, path string, args []string, stdin, stdout bool) (*child, error) {
	ctx, cancel := context.WithCancel(ctx)
	c := &child{name: toolName(path), ctx: ctx, cancel: cancel, stderr: &complaints{}}
	c.cmd = exec.CommandContext(ctx, path, args...)
	c.cmd.Stderr = c.stderr
	c.cmd.WaitDelay = waitDelay
	c.cmd.Env = childEnvironment(os.Environ())
	apart(c.cmd)

	var theirs []*os.File
	fail := func(err error) (*child, error) {
		cancel()
		for _, f := range append(theirs, c.stdin, c.stdout) {
			if f != nil {
				f.Close()
			}
		}
		return nil, err
	}
	if stdin {
		r, w, err := os.Pipe()
		if err != nil {
			return fail(fmt.Errorf("pipe to %s: %w", c.name, err))
		}
		widen(w)
		c.stdin, c.cmd.Stdin, theirs = w, r, append(theirs, r)
	}
	if stdout {
		r, w, err := os.Pipe()
		if err != nil {
			return fail(fmt.Errorf("pipe from %s: %w", c.name, err))
		}
		widen(r)
		c.stdout, c.cmd.Stdout, theirs = r, w, append(theirs, w)
	}
	if err := c.cmd.Start(); err != nil {
		if ctx.Err() != nil {
			return fail(stopped(ctx))
		}
		return fail(fault.Wrap(err, fault.Missing, "ffmpeg-broken", "run `lampwise doctor`", "%s does not start: %v", c.name, err))
	}
	for _, f := range theirs {
		f.Close()
	}
	return c, nil
}

// wait closes our ends, waits for the program and says how it ended:
// nil, a fault of class Cancelled, *killedError or *failedError. More calls
// give the first one's answer.
func (c *child) wait() error {
	c.once.Do(func() {
		if c.stdin != nil {
			c.stdin.Close()
		}
		if c.stdout != nil {
			c.stdout.Close()
		}
		err := c.cmd.Wait()
		cancelled := c.ctx.Err() != nil
		if cancelled {
			c.err = stopped(c.ctx)
		} else {
			c.err = c.ended(err)
		}
		c.cancel()
	})
	return c.err
}

// stop kills the program and waits for it.
func (c *child) stop() {
	c.cancel()
	c.wait() //nolint:errcheck // it was stopped on purpose
}

func (c *child) ended(err error) error {
	if err == nil {
		return nil
	}
	var exit *exec.ExitError
	if !errors.As(err, &exit) {
		return fmt.Errorf("%s: %w", c.name, err)
	}
	if name, ok := killedBy(exit.ProcessState); ok {
		return killedFault(err, c.name, name)
	}
	failed := &failedError{name: c.name, code: exit.ExitCode(), complaints: c.stderr.lines()}
	if failed.code == interruptedCode && len(failed.complaints) == 0 {
		return killedFault(failed, c.name, "asked to stop")
	}
	return failed
}

// interruptedCode is what ffmpeg ends with after a signal it caught (fftools, "received_nb_signals").
const interruptedCode = 255

func killedFault(err error, program, how string) error {
	return fault.Wrap(err, fault.Missing, "ffmpeg-killed",
		"try again; if it happens again, close other programs: the system ends a program when memory runs out",
		"%s was ended from outside (%s) before it had finished", program, how)
}

// failedError is a program that ended by itself with an error.
type failedError struct {
	name       string
	code       int
	complaints []string
}

func (e *failedError) Error() string {
	return fmt.Sprintf("%s ended with code %d: %s", e.name, e.code, e.reason())
}

// reason is one line of what the program complained of.
func (e *failedError) reason() string { return reasonOf(e.complaints) }

func stopped(ctx context.Context) error {
	return fault.Wrap(context.Cause(ctx), fault.Cancelled, "cancelled", "", "stopped before it had finished")
}

// runTool runs a program to its end and gives at most limit bytes of its output.
func runTool(ctx context.Context, path string, args []string, limit int64) ([]byte, error) {
	var out bytes.Buffer
	err := streamTool(ctx, path, args, func(r io.Reader) error {
		n, err := io.Copy(&out, io.LimitReader(r, limit+1))
		if err == nil && n > limit {
			err = fmt.Errorf("%s answered with more than %d bytes", toolName(path), limit)
		}
		return err
	})
	return out.Bytes(), err
}

// streamTool runs a program and hands its output to read. read's error ends the program and is returned.
func streamTool(ctx context.Context, path string, args []string, read func(io.Reader) error) error {
	c, err := startChild(ctx, path, args, false, true)
	if err != nil {
		return err
	}
	if err := read(c.stdout); err != nil {
		cancelled := ctx.Err() != nil
		c.stop()
		if cancelled {
			return stopped(ctx)
		}
		return err
	}
	return c.wait()
}

func toolName(path string) string {
	path = path[strings.LastIndexAny(path, `/\`)+1:]
	return strings.TrimSuffix(path, ".exe")
}

// childEnvironment adds what makes ffmpeg keep its frame buffers under the GNU
// C library, where a fresh page can cost more than the work done in it
// (design "Limits measured" 2.3). Other C libraries ignore it. What the user
// has set stays. Numbers and messages are asked for in plain English.
func childEnvironment(env []string) []string {
	have := map[string]bool{}
	out := make([]string, 0, len(env)+6)
	for _, e := range env {
		key, _, _ := strings.Cut(e, "=")
		if key == "LC_ALL" || key == "LANGUAGE" {
			continue
		}
		have[key] = true
		out = append(out, e)
	}
	for _, e := range []string{
		"MALLOC_MMAP_MAX_=0", "MALLOC_ARENA_MAX=1", "MALLOC_TRIM_THRESHOLD_=4294967296", "MALLOC_TOP_PAD_=67108864",
	} {
		if key, _, _ := strings.Cut(e, "="); !have[key] {
			out = append(out, e)
		}
	}
	return append(out, "LC_ALL=C", "AV_LOG_FORCE_NOCOLOR=1")
}

// Complaints are kept up to these bounds: the first ones say where it began,
// the last ones why it ended.
const (
	keepFirst = 20
	keepLast  = 20
	keepLine  = 400
)

// complaints collects the lines a program writes to its standard error.
type complaints struct {
	mu      sync.Mutex
	part    []byte
	first   []string
	last    []string
	dropped int
}

func (c *complaints) Write(p []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for rest := p; len(rest) > 0; {
		i := bytes.IndexAny(rest, "\r\n")
		chunk := rest
		if i >= 0 {
			chunk = rest[:i]
		}
		if room := keepLine - len(c.part); room > 0 {
			c.part = append(c.part, chunk[:min(room, len(chunk))]...)
		}
		if i < 0 {
			break
		}
		c.flush()
		rest = rest[i+1:]
	}
	return len(p), nil
}

func (c *complaints) flush() {
	line := cleanLine(string(c.part))
	c.part = c.part[:0]
	switch {
	case line == "":
	case len(c.first) < keepFirst:
		c.first = append(c.first, line)
	default:
		if len(c.last) == keepLast {
			copy(c.last, c.last[1:])
			c.last = c.last[:keepLast-1]
			c.dropped++
		}
		c.last = append(c.last, line)
	}
}

// lines gives what was kept.
func (c *complaints) lines() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.flush()
	return append(append([]string(nil), c.first...), c.last...)
}

var (
	linePrefix  = regexp.MustCompile(`^(\[[^\]]* @ 0x[0-9a-f]+\]\s*)+`)
	lineAddress = regexp.MustCompile(`\s*@ 0x[0-9a-f]+`)
)

// cleanLine takes memory addresses and control characters off a line.
func cleanLine(s string) string {
	s = linePrefix.ReplaceAllString(s, "")
	s = lineAddress.ReplaceAllString(s, "")
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.TrimSpace(s)
}

// vague lines follow the one that says why.
var vague = regexp.MustCompile(`(?i)^(conversion failed|error opening (input|output) files?|error while processing|error while filtering|` +
	`error initializing output|last message repeated|terminating thread|task finished|nothing was written|error sending frames|error submitting|received no packets|error marking filters|cannot determine format)`)

// reasonOf picks the line that tells most: the last one that is not vague.
func reasonOf(lines []string) string {
	for i := len(lines) - 1; i >= 0; i-- {
		if !vague.MatchString(lines[i]) {
			return lines[i]
		}
	}
	if len(lines) > 0 {
		return lines[len(lines)-1]
	}
	return "it gave no reason"
}

// complainsOf is true when a line has one of the words.
func complainsOf(lines []string, words ...string) bool {
	for _, l := range lines {
		for _, w := range words {
			if strings.Contains(l, w) {
				return true
			}
		}
	}
	return false
}
