package media

import (
	"errors"
	"syscall"
)

// syncFolder does nothing: the file system's own journal keeps the rename.
func syncFolder(string) error { return nil }

const (
	errorHandleDiskFull syscall.Errno = 39
	errorDiskFull       syscall.Errno = 112
	errorWriteProtect   syscall.Errno = 19
)

func isDiskFull(err error) bool {
	return errors.Is(err, errorDiskFull) || errors.Is(err, errorHandleDiskFull)
}

func isReadOnly(err error) bool { return errors.Is(err, errorWriteProtect) }
