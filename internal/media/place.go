package media

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"lampwise/internal/fault"
)

// place is a file on its way to its final name: it lies in the same folder
// under a temporary name until it is finished, so that nothing unfinished ever
// bears the final name.
type place struct {
	final     string
	temp      string
	overwrite bool
	open      bool
}

// tempPrefix begins the name of an unfinished output; one left behind by a
// crash may be removed by hand.
const tempPrefix = ".lampwise-unfinished-"

// newPlace checks the final name and makes the temporary file. sources are
// files that must never be written to.
func newPlace(final string, overwrite bool, sources ...string) (*place, error) {
	if final == "" {
		return nil, fault.New(fault.Usage, "no-file", "name the file to write", "no output file was named")
	}
	p := &place{final: final, overwrite: overwrite}
	for _, s := range sources {
		if s != "" && sameFile(final, s) {
			return nil, fault.New(fault.Usage, "output-is-source", "give the output another name",
				"%s is the original clip, and the original is never written to", final)
		}
	}
	dir := filepath.Dir(final)
	if s, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil, fault.Wrap(err, fault.Storage, "folder-missing", "make the folder first", "%s: the folder %s does not exist", final, dir)
	} else if err == nil && !s.IsDir() {
		return nil, fault.New(fault.Storage, "folder-missing", "choose another folder", "%s: %s is not a folder", final, dir)
	}
	if err := p.free(); err != nil {
		return nil, err
	}
	var random [6]byte
	rand.Read(random[:]) //nolint:errcheck // never fails (crypto/rand)
	p.temp = filepath.Join(dir, tempPrefix+hex.EncodeToString(random[:]))
	f, err := os.OpenFile(p.temp, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
	if err != nil {
		return nil, storageFault(err, final)
	}
	f.Close()
	p.open = true
	return p, nil
}

// free checks that nothing stands in the way of the final name.
func (p *place) free() error {
	s, err := os.Lstat(p.final)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return storageFault(err, p.final)
	case s.IsDir():
		return fault.New(fault.Storage, "output-is-folder", "name a file inside it", "%s is a folder", p.final)
	case !p.overwrite:
		return fault.New(fault.Storage, "output-exists", "give another name, or allow overwriting", "%s exists already", p.final)
	}
	return nil
}

// finish syncs the file, gives it its final name and syncs the folder.
func (p *place) finish() error {
	defer p.abandon()
	f, err := os.OpenFile(p.temp, os.O_RDWR, 0)
	if err != nil {
		return storageFault(err, p.final)
	}
	err = f.Sync()
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return storageFault(err, p.final)
	}
	if err := p.free(); err != nil { // something may have come there while the work went on
		return err
	}
	if err := os.Rename(p.temp, p.final); err != nil {
		return storageFault(err, p.final)
	}
	p.open = false
	if err := syncFolder(filepath.Dir(p.final)); err != nil {
		return storageFault(err, p.final)
	}
	return nil
}

// abandon removes the temporary file, if it is still there.
func (p *place) abandon() {
	if p.open {
		os.Remove(p.temp)
		p.open = false
	}
}

func sameFile(a, b string) bool {
	sa, err := os.Stat(a)
	if err != nil {
		return false
	}
	sb, err := os.Stat(b)
	return err == nil && os.SameFile(sa, sb)
}

// storageFault says in one line why a file could not be written.
func storageFault(err error, path string) error {
	switch {
	case isDiskFull(err):
		return diskFull(err, path)
	case errors.Is(err, fs.ErrPermission) || isReadOnly(err):
		return fault.Wrap(err, fault.Storage, "folder-denied", "choose a folder you may write to", "%s: you may not write in the folder %s", path, filepath.Dir(path))
	}
	cause := err
	var p *fs.PathError
	if errors.As(err, &p) {
		cause = p.Err
	}
	return fault.Wrap(err, fault.Storage, "not-written", "check the folder and the disk", "%s could not be written: %v", path, cause)
}

func diskFull(err error, path string) error {
	return fault.Wrap(err, fault.Storage, "disk-full", "make room or choose another disk; nothing was left behind", "%s: the disk is full", path)
}
