package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"

	"github.com/rogpeppe/go-internal/testscript"
)

// mountable is the condition [mounts]: small file systems can be mounted here,
// which takes a Linux superuser.
func mountable() bool {
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		return false
	}
	dir, err := os.MkdirTemp("", "lampwise-mount")
	if err != nil {
		return false
	}
	defer os.RemoveAll(dir)
	if exec.Command("mount", "-t", "tmpfs", "-o", "size=4k", "tmpfs", dir).Run() != nil {
		return false
	}
	return exec.Command("umount", dir).Run() == nil
}

// disk FOLDER OPTIONS: a file system in memory is mounted there until the
// script ends; mounted again, its options change.
func disk(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: disk FOLDER OPTIONS")
	}
	dir := ts.MkAbs(args[0])
	if _, err := os.Stat(dir); err == nil {
		ts.Check(exec.Command("mount", "-o", "remount,"+args[1], dir).Run())
		return
	}
	ts.Check(os.Mkdir(dir, 0o755))
	ts.Check(exec.Command("mount", "-t", "tmpfs", "-o", args[1], "tmpfs", dir).Run())
	ts.Defer(func() { exec.Command("umount", dir).Run() })
}

// killed PART: from now on ffmpeg is ended by the system in the middle of its
// work: the one that decodes, or the one that encodes.
func killed(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 || args[0] != "decoder" && args[0] != "encoder" {
		ts.Fatalf("usage: killed decoder|encoder")
	}
	real, err := exec.LookPath("ffmpeg")
	ts.Check(err)
	what, how := "*' pipe:1'", `"$real" "$@" | head -c 300000`
	if args[0] == "encoder" {
		what, how = "*'-i pipe:0'*", "head -c 300000 >/dev/null"
	}
	dir := ts.MkAbs("killed-" + args[0])
	ts.Check(os.Mkdir(dir, 0o755))
	ts.Check(os.WriteFile(filepath.Join(dir, "ffmpeg"), []byte("#!/bin/sh\nreal="+real+`
case "$*" in
*' -ss '*) exec "$real" "$@";; # a look at the clip beforehand
`+what+`) `+how+`; kill -9 $$;;
*) exec "$real" "$@";;
esac
`), 0o755))
	ts.Setenv("PATH", dir+string(os.PathListSeparator)+ts.Getenv("PATH"))
}

// glob PATTERN…: what files there are, one a line, on the script's stdout.
func glob(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: glob PATTERN…")
	}
	for _, pattern := range args {
		names, err := filepath.Glob(ts.MkAbs(pattern))
		ts.Check(err)
		for _, n := range names {
			fmt.Fprintln(ts.Stdout(), filepath.Base(n))
		}
	}
}
