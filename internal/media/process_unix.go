//go:build unix

package media

import (
	"errors"
	"os"
	"os/exec"
	"syscall"
)

// apart puts the program into a process group of its own, so that Ctrl-C at
// the terminal reaches this program alone, which then ends the child in order.
func apart(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// killedBy names the signal that ended a program.
func killedBy(s *os.ProcessState) (string, bool) {
	ws, ok := s.Sys().(syscall.WaitStatus)
	if !ok || !ws.Signaled() {
		return "", false
	}
	return ws.Signal().String(), true
}

func isBrokenPipe(err error) bool {
	return errors.Is(err, syscall.EPIPE) || errors.Is(err, os.ErrClosed)
}
