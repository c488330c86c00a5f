package media

import (
	"errors"
	"os"
	"os/exec"
	"syscall"
)

// apart keeps Ctrl-C at the console from the program; this program ends it in order.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP, HideWindow: true}
}

// killedBy knows a program that the system ended by its code (0xC0000000 and
// up). One that was ended by hand leaves an ordinary code and counts as failed.
func killedBy(s *os.ProcessState) (string, bool) {
	code := uint32(s.ExitCode())
	if code >= 0xC0000000 {
		return "system code " + hex32(code), true
	}
	return "", false
}

func hex32(v uint32) string {
	const digits = "0123456789abcdef"
	b := [10]byte{'0', 'x'}
	for i := range 8 {
		b[9-i] = digits[v>>(4*i)&15]
	}
	return string(b[:])
}

const (
	errorBrokenPipe syscall.Errno = 109
	errorNoData     syscall.Errno = 232
)

func isBrokenPipe(err error) bool {
	return errors.Is(err, errorBrokenPipe) || errors.Is(err, errorNoData) || errors.Is(err, os.ErrClosed)
}
