package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/google/renameio/v2/maybe"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

// picturesFolder holds one file for each set's lamp pictures, named by the
// SHA-256 of what is in it: a file under its final name is whole, is never
// changed, and the same pictures are kept once.
const picturesFolder = "pictures"

func (s *Store) picturesPath(sum string) string {
	return filepath.Join(s.folder, picturesFolder, sum+".lamps")
}

// writePictures writes the file beside, synced, and renames it.
func (s *Store) writePictures(data []byte) (string, error) {
	h := sha256.Sum256(data)
	sum := hex.EncodeToString(h[:])
	path := s.picturesPath(sum)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return "", pictureFault(path, err)
	}
	if old, err := os.ReadFile(path); err == nil && sha256.Sum256(old) == h {
		now := time.Now()
		return sum, os.Chtimes(path, now, now) // so that no sweep takes it for left over
	}
	if err := maybe.WriteFile(path, data, 0o644); err != nil {
		return "", pictureFault(path, err)
	}
	return sum, nil
}

func pictureFault(path string, err error) error {
	return fault.Wrap(err, fault.Storage, "pictures-write", "Make room on the disk, or name another folder with --data DIR.",
		"%s: the lamp pictures cannot be written: %v", path, reason(err))
}

// Pictures returns the bytes of a set's lamp pictures, held against their name.
func (s *Store) Pictures(_ context.Context, set book.Set) ([]byte, error) {
	path := s.picturesPath(set.Pictures)
	f, err := os.Open(path)
	if err != nil {
		return nil, fault.Wrap(err, fault.Storage, "pictures-missing", "Learn the set again, or import it from the file it was exported to.",
			"%s: the lamp pictures of set %s cannot be read: %v", path, set.Name, reason(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, set.Size+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
	if h := sha256.Sum256(data); hex.EncodeToString(h[:]) != set.Pictures {
		return nil, fault.New(fault.Storage, "pictures-damaged", "Learn the set again, or import it from the file it was exported to.",
			"%s: the lamp pictures of set %s are damaged", path, set.Name)
	}
	return data, nil
}

// leftOver is how old a file no set names must be to be swept: a younger one
// may belong to a set that another process is about to keep.
const leftOver = time.Hour

// sweepPictures removes files that no set names. What can't be removed stays
// until the next time; nothing depends on it.
func (s *Store) sweepPictures(ctx context.Context) {
	sets, err := s.Sets(ctx)
	if err != nil {
		return
	}
	named := map[string]bool{}
	for _, set := range sets {
		named[filepath.Base(s.picturesPath(set.Pictures))] = true
	}
	entries, err := os.ReadDir(filepath.Join(s.folder, picturesFolder))
	if err != nil {
		return
	}
	for _, e := range entries {
		info, err := e.Info()
		if err == nil && !named[e.Name()] && time.Since(info.ModTime()) > leftOver {
			_ = os.Remove(filepath.Join(s.folder, picturesFolder, e.Name()))
		}
	}
}

// dropPictures removes one file unless a set still names it.
func (s *Store) dropPictures(ctx context.Context, sum string) {
	var n int
	if err := s.db.QueryRowContext(ctx, `SELECT count(*) FROM lamp_set WHERE pictures = ?`, sum).Scan(&n); err == nil && n == 0 {
		_ = os.Remove(s.picturesPath(sum))
	}
}
