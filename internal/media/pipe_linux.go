package media

import (
	"os"
	"syscall"
)

// pipeBytes is what an unprivileged user may ask for by default (pipe(7), /proc/sys/fs/pipe-max-size).
const pipeBytes = 1 << 20

const setPipeSize = 1031 // F_SETPIPE_SZ, fcntl(2)

// widen makes a pipe hold more, so that fewer switches between programs carry a frame.
func widen(f *os.File) {
	conn, err := f.SyscallConn()
	if err != nil {
		return
	}
	conn.Control(func(fd uintptr) { //nolint:errcheck // a narrow pipe works too
		syscall.Syscall(syscall.SYS_FCNTL, fd, setPipeSize, pipeBytes) //nolint:errcheck
	})
}
