package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"lampwise": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
			defer stop()
			os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
		},
	})
}

// TestCommands runs the commands as a person would. Scripts that need ffmpeg
// say so with [exec:ffmpeg].
func TestCommands(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Error("ffmpeg is not installed: make test installs it; the scripts that need it are skipped")
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			// Every script has its own data folder and never the user's.
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/data")
			e.Setenv("REALPATH", e.Getenv("PATH"))
			return nil
		},
		Condition: func(name string) (bool, error) {
			if name == "mounts" {
				return mountable(), nil
			}
			return false, fmt.Errorf("unknown condition %q", name)
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"comes":       comes,
			"disk":        disk,
			"exits":       exits,
			"film":        film,
			"forgettools": forgetTools,
			"glob":        glob,
			"killed":      killed,
		},
	})
}

// comes SECONDS TEXT COMMAND…: the command, tried again and again, prints the
// text before the time is over. For what another process brings about; how
// long that takes on a busy machine is not the script's matter.
func comes(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: comes SECONDS TEXT COMMAND…")
	}
	limit, err := strconv.Atoi(args[0])
	ts.Check(err)
	for end := time.Now().Add(time.Duration(limit) * time.Second); ; time.Sleep(200 * time.Millisecond) {
		err := ts.Exec(args[2], args[3:]...)
		if err == nil && strings.Contains(ts.ReadFile("stdout"), args[1]) {
			return
		}
		if time.Now().After(end) {
			ts.Fatalf("%q did not come within %d s (%v)", args[1], limit, err)
		}
	}
}

// exits CODE COMMAND…: the command ends with just that exit code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND…")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := "0"
	if e, ok := err.(*exec.ExitError); ok {
		code = strconv.Itoa(e.ExitCode())
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if code != args[0] {
		ts.Fatalf("exit code %s, not %s", code, args[0])
	}
}

// forgettools leaves on the PATH only lampwise itself, as on a machine where
// nothing was installed.
func forgetTools(ts *testscript.TestScript, _ bool, _ []string) {
	first, _, _ := strings.Cut(ts.Getenv("PATH"), string(os.PathListSeparator))
	ts.Setenv("PATH", first)
}
