package store

import (
	"context"
	"fmt"
	"time"
)

// KeepCall remembers an order that was called, so that the beeps on a clip's
// sound track, which carry its number alone, can be told from others'.
func (s *Store) KeepCall(ctx context.Context, order string, at time.Time) error {
	_, err := s.db.ExecContext(ctx, `INSERT INTO called_order (text, called) VALUES (?, ?) ON CONFLICT (text) DO UPDATE SET called = excluded.called`, order, stamp(at))
	if err != nil {
		return fmt.Errorf("keep call: %w", err)
	}
	return nil
}

// Calls are the orders that were called, the latest first.
func (s *Store) Calls(ctx context.Context) ([]string, error) {
	rows, err := s.db.QueryContext(ctx, `SELECT text FROM called_order ORDER BY called DESC, text`)
	if err != nil {
		return nil, fmt.Errorf("read calls: %w", err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return nil, fmt.Errorf("read calls: %w", err)
		}
		out = append(out, text)
	}
	return out, rows.Err()
}
