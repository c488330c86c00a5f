//go:build unix

package media

import (
	"errors"
	"os"
	"syscall"
)

// syncFolder makes a rename last through a power cut. File systems that have
// no such thing for folders say so, and that is no fault.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return nil //nolint:nilerr // a folder one may write to but not list: nothing to be done
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.ENOTSUP) {
		return err
	}
	return nil
}

func isDiskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

func isReadOnly(err error) bool { return errors.Is(err, syscall.EROFS) }
