package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

// KeepSet keeps a set and its lamp pictures; one of the same name is replaced,
// and its checks are forgotten with it when forget is set (another switch clip
// is another reference). The pictures' file is on the disk before the row is:
// whatever happens between, the set is as it was before.
func (s *Store) KeepSet(ctx context.Context, set book.Set, pictures []byte, forget bool) (book.Set, error) {
	var err error
	if set.Pictures, err = s.writePictures(pictures); err != nil {
		return set, err
	}
	set.Size = int64(len(pictures))
	err = s.change(ctx, func(tx *sql.Tx) error {
		if forget {
			if _, err := tx.ExecContext(ctx, `DELETE FROM set_check WHERE set_name = ?`, set.Name); err != nil {
				return err
			}
		}
		return putSet(ctx, tx, set)
	})
	if err != nil {
		return set, fmt.Errorf("keep set %s: %w", set.Name, err)
	}
	s.sweepPictures(ctx)
	return set, nil
}

// executor is a database or a transaction.
type executor interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// putSet writes a set's row; one of the same name is replaced.
func putSet(ctx context.Context, x executor, set book.Set) error {
	settings, err := json.Marshal(set.Settings)
	if err != nil {
		return err
	}
	_, err = x.ExecContext(ctx, `
		INSERT INTO lamp_set (name, learned, changed, settings, pictures, size) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (name) DO UPDATE SET learned = excluded.learned, changed = excluded.changed,
			settings = excluded.settings, pictures = excluded.pictures, size = excluded.size`,
		set.Name, stamp(set.Learned), stamp(set.Changed), string(settings), set.Pictures, set.Size)
	return err
}

// RestoreSet keeps a set with its pictures, checks and episodes, all of it or
// nothing; one of the same name is forgotten with all that belonged to it.
func (s *Store) RestoreSet(ctx context.Context, set book.Set, pictures []byte, checks []book.SetCheck, episodes []book.Episode) error {
	var err error
	if set.Pictures, err = s.writePictures(pictures); err != nil {
		return err
	}
	set.Size = int64(len(pictures))
	err = s.change(ctx, func(tx *sql.Tx) error {
		// What belongs to it goes with it (ON DELETE CASCADE).
		if _, err := tx.ExecContext(ctx, `DELETE FROM lamp_set WHERE name = ?`, set.Name); err != nil {
			return err
		}
		if err := putSet(ctx, tx, set); err != nil {
			return err
		}
		for _, c := range checks {
			if err := putCheck(ctx, tx, set.Name, c); err != nil {
				return err
			}
		}
		for _, e := range episodes {
			if fresh, err := putEpisode(ctx, tx, e); err != nil {
				return err
			} else if !fresh {
				return fault.New(fault.Input, "episode-twice", "Export the set again with lampwise sets export.", "the episode %q is there twice", e.Name)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("restore set %s: %w", set.Name, err)
	}
	s.sweepPictures(ctx)
	return nil
}

// ChangeSet keeps a set's settings; its pictures and checks stay.
func (s *Store) ChangeSet(ctx context.Context, set book.Set) error {
	settings, err := json.Marshal(set.Settings)
	if err != nil {
		return fmt.Errorf("change set: %w", err)
	}
	r, err := s.db.ExecContext(ctx, `UPDATE lamp_set SET settings = ?, changed = ? WHERE name = ?`, string(settings), stamp(set.Changed), set.Name)
	if err != nil {
		return fmt.Errorf("change set %s: %w", set.Name, err)
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return s.unknownSet(ctx, set.Name)
	}
	return nil
}

// Set returns the set of that name; a name that isn't kept is a fault.
func (s *Store) Set(ctx context.Context, name string) (book.Set, error) {
	set, err := scanSet(s.db.QueryRowContext(ctx, `SELECT name, learned, changed, settings, pictures, size FROM lamp_set WHERE name = ?`, name))
	if errors.Is(err, sql.ErrNoRows) {
		return set, s.unknownSet(ctx, name)
	}
	if err != nil {
		return set, fmt.Errorf("read set %s: %w", name, err)
	}
	return set, nil
}

// Sets lists all sets by name.
func (s *Store) Sets(ctx context.Context) ([]book.Set, error) {
	rows, err := s.db.QueryContext(ctx, `SELECT name, learned, changed, settings, pictures, size FROM lamp_set ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("list sets: %w", err)
	}
	defer rows.Close()
	var out []book.Set
	for rows.Next() {
		set, err := scanSet(rows)
		if err != nil {
			return nil, fmt.Errorf("list sets: %w", err)
		}
		out = append(out, set)
	}
	return out, rows.Err()
}

// ForgetSet removes a set, its pictures and its checks.
func (s *Store) ForgetSet(ctx context.Context, name string) error {
	set, err := s.Set(ctx, name)
	if err != nil {
		return err
	}
	r, err := s.db.ExecContext(ctx, `DELETE FROM lamp_set WHERE name = ?`, name)
	if err != nil {
		return fmt.Errorf("forget set %s: %w", name, err)
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return s.unknownSet(ctx, name)
	}
	s.dropPictures(ctx, set.Pictures)
	s.sweepPictures(ctx)
	return nil
}

// KeepSetCheck adds a check to a set's history.
func (s *Store) KeepSetCheck(ctx context.Context, name string, c book.SetCheck) error {
	if err := putCheck(ctx, s.db, name, c); err != nil {
		return fmt.Errorf("keep check of %s: %w", name, err)
	}
	return nil
}

func putCheck(ctx context.Context, x executor, name string, c book.SetCheck) error {
	changes, err := json.Marshal(c.Changes)
	if err != nil {
		return err
	}
	_, err = x.ExecContext(ctx, `INSERT INTO set_check (set_name, at, file, verdict, changes, answer) VALUES (?, ?, ?, ?, ?, ?)`,
		name, stamp(c.When), c.File, c.Verdict, string(changes), string(c.Answer))
	return err
}

// SetChecks returns a set's checks, the oldest first, at most the newest limit.
func (s *Store) SetChecks(ctx context.Context, name string, limit int) ([]book.SetCheck, error) {
	rows, err := s.db.QueryContext(ctx, `
		SELECT at, file, verdict, changes, answer FROM
			(SELECT * FROM set_check WHERE set_name = ? ORDER BY at DESC, id DESC LIMIT ?) ORDER BY at, id`, name, limit)
	if err != nil {
		return nil, fmt.Errorf("read checks of %s: %w", name, err)
	}
	defer rows.Close()
	var out []book.SetCheck
	for rows.Next() {
		var c book.SetCheck
		var at, changes, answer string
		if err := rows.Scan(&at, &c.File, &c.Verdict, &changes, &answer); err != nil {
			return nil, fmt.Errorf("read checks of %s: %w", name, err)
		}
		if c.When, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return nil, fmt.Errorf("read checks of %s: %w", name, err)
		}
		if err := json.Unmarshal([]byte(changes), &c.Changes); err != nil {
			return nil, fmt.Errorf("read checks of %s: %w", name, err)
		}
		c.Answer = []byte(answer)
		out = append(out, c)
	}
	return out, rows.Err()
}

func (s *Store) unknownSet(ctx context.Context, name string) error {
	sets, err := s.Sets(ctx)
	if err != nil {
		return err
	}
	var names []string
	for _, x := range sets {
		names = append(names, x.Name)
	}
	hint := "lampwise sets list shows the sets; lampwise learn makes one from a switch clip."
	if near, ok := fault.Nearest(name, names); ok {
		hint = "Did you mean “" + near + "”? " + hint
	}
	return fault.New(fault.Usage, "set-unknown", hint, "no set is called %q", name)
}

// change runs f in a transaction.
func (s *Store) change(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

func scanSet(row interface{ Scan(dest ...any) error }) (book.Set, error) {
	var set book.Set
	var learned, changed, settings string
	if err := row.Scan(&set.Name, &learned, &changed, &settings, &set.Pictures, &set.Size); err != nil {
		return set, err
	}
	var err error
	if set.Learned, err = time.Parse(time.RFC3339Nano, learned); err != nil {
		return set, err
	}
	if set.Changed, err = time.Parse(time.RFC3339Nano, changed); err != nil {
		return set, err
	}
	return set, json.Unmarshal([]byte(settings), &set.Settings)
}

// stamp writes a time so that text order is time order.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000000Z07:00") }
