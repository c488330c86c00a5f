// Package store keeps lampwise's working data in one SQLite database in the
// user's data folder. It is the only package that speaks SQL.
//
// Invariants: foreign keys are enforced on every connection; every change is
// one transaction that takes the write lock at its start; what a call reports
// as kept survives a power cut (synchronous = FULL).
package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite" // the driver, registered as "sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

//go:embed migrations/*.sql
var migrations embed.FS

// fileName is the database's name inside the data folder.
const fileName = "lampwise.db"

// Store is an open database. It may be used from many goroutines.
type Store struct {
	db     *sql.DB
	folder string
}

// Open opens the database in the folder, making both where they are absent,
// and brings its tables up to date.
func Open(ctx context.Context, folder string) (*Store, error) {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, fault.Wrap(err, fault.Storage, "data-folder",
			"Name another folder with --data DIR.", "%s: cannot make the data folder: %v", folder, reason(err))
	}
	path := filepath.Join(folder, fileName)
	query := url.Values{"_txlock": {"immediate"}, "_pragma": {
		"busy_timeout(5000)", "journal_mode(WAL)", "foreign_keys(1)", "synchronous(FULL)",
	}}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Opaque: filepath.ToSlash(path), RawQuery: query.Encode()}).String())
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	if err := migrate(ctx, db); err != nil {
		if full(err) {
			return nil, errors.Join(fault.Wrap(err, fault.Storage, "disk-full",
				"Make room, or name a folder on another disk with --data DIR.", "%s: the disk is full", path), db.Close())
		}
		return nil, errors.Join(fault.Wrap(err, fault.Storage, "database",
			"If the file is damaged, move it away: the sets learned are lost with it (import them from exported files, or learn them again), no clip or grade. Or name another folder with --data DIR.",
			"%s: cannot be used as lampwise's database: %v", path, err), db.Close())
	}
	return &Store{db: db, folder: folder}, nil
}

// full is true when SQLite found no room to write.
func full(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xff == sqlite3.SQLITE_FULL
}

func migrate(ctx context.Context, db *sql.DB) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files)
	if err != nil {
		return err
	}
	_, err = provider.Up(ctx)
	return err
}

// Close closes the database.
func (s *Store) Close() error { return s.db.Close() }

// Folder is the data folder.
func (s *Store) Folder() string { return s.folder }

// KeepCurveAlias remembers the alias; a later word on the same fingerprint replaces the earlier.
func (s *Store) KeepCurveAlias(ctx context.Context, a book.CurveAlias) error {
	_, err := s.db.ExecContext(ctx, `
		INSERT INTO curve_alias (fingerprint, curve, said) VALUES (?, ?, ?)
		ON CONFLICT (fingerprint) DO UPDATE SET curve = excluded.curve, said = excluded.said`,
		a.Fingerprint, a.Curve, a.Said.UTC().Format(time.RFC3339))
	if err != nil {
		return fmt.Errorf("keep curve alias: %w", err)
	}
	return nil
}

// CurveAlias returns the alias for the fingerprint, and whether there is one.
func (s *Store) CurveAlias(ctx context.Context, fingerprint string) (book.CurveAlias, bool, error) {
	a := book.CurveAlias{Fingerprint: fingerprint}
	var said string
	err := s.db.QueryRowContext(ctx, `SELECT curve, said FROM curve_alias WHERE fingerprint = ?`, fingerprint).Scan(&a.Curve, &said)
	if errors.Is(err, sql.ErrNoRows) {
		return a, false, nil
	}
	if err != nil {
		return a, false, fmt.Errorf("read curve alias: %w", err)
	}
	if a.Said, err = time.Parse(time.RFC3339, said); err != nil {
		return a, false, fmt.Errorf("read curve alias: %w", err)
	}
	return a, true, nil
}

// reason gives the bare cause of a file error, without repeating the path.
func reason(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	return err
}
