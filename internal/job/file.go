package job

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"syscall"

	"github.com/google/renameio/v2/maybe"

	"lampwise/internal/fault"
)

// writeFile writes a whole file under its final name, or nothing: it is
// written beside, synced and renamed. A file that stands there is replaced
// only when overwrite is set.
func writeFile(path string, overwrite bool, data []byte) error {
	if !overwrite {
		if err := absent(path); err != nil {
			return err
		}
	}
	if err := maybe.WriteFile(path, data, 0o644); err != nil {
		return storageFault(path, err)
	}
	return nil
}

// absent is a fault when something stands at path.
func absent(path string) error {
	_, err := os.Stat(path)
	switch {
	case err == nil:
		return fault.New(fault.Storage, "exists", "Choose another name, or add --overwrite.", "%s: stands there already", path)
	case errors.Is(err, fs.ErrNotExist):
		return nil
	}
	return storageFault(path, err)
}

// storageFault says in plain words why a file could not be written.
func storageFault(path string, err error) error {
	hint := "Check that the folder exists and that you may write there."
	if errors.Is(err, syscall.ENOSPC) {
		hint = "The disk is full: make room, or write to another disk."
	}
	return fault.Wrap(err, fault.Storage, "write", hint, "%s: cannot be written: %v", path, bare(err))
}

// readFile reads a whole file of at most limit bytes.
func readFile(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, inputFault(path, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, inputFault(path, err)
	}
	if int64(len(data)) > limit {
		return nil, fault.New(fault.Input, "too-large", "", "%s: larger than %s, which no file of this kind is", path, Size(limit))
	}
	return data, nil
}

func inputFault(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fault.Wrap(err, fault.Input, "no-file", "Check the name; paths are taken from the folder you are in.", "%s: no such file", path)
	}
	return fault.Wrap(err, fault.Input, "unreadable", "", "%s: cannot be read: %v", path, bare(err))
}

// bare gives the cause of a file error without the path that the line names already.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}
