package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

// KeepEpisode keeps a new episode with its clips, all of it or nothing. A name
// the set has already is a fault.
func (s *Store) KeepEpisode(ctx context.Context, e book.Episode) error {
	if _, err := s.Set(ctx, e.Set); err != nil {
		return err
	}
	fresh := false
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		fresh, err = putEpisode(ctx, tx, e)
		return err
	})
	if err != nil {
		return fmt.Errorf("keep episode %s: %w", e.Name, err)
	}
	if !fresh {
		return fault.New(fault.Storage, "episode-exists", "Give another name with --name.", "set %s has an episode called %q already", e.Set, e.Name)
	}
	return nil
}

// putEpisode writes an episode's rows, and says false, having written nothing,
// when the set has one of that name.
func putEpisode(ctx context.Context, tx *sql.Tx, e book.Episode) (bool, error) {
	settings, err := json.Marshal(e.Settings)
	if err != nil {
		return false, err
	}
	r, err := tx.ExecContext(ctx, `INSERT INTO episode (set_name, name, made, settings) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		e.Set, e.Name, stamp(e.Made), string(settings))
	if err != nil {
		return false, err
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return false, err
	}
	id, err := r.LastInsertId()
	if err != nil {
		return false, err
	}
	for _, c := range e.Clips {
		if _, err := tx.ExecContext(ctx, `INSERT INTO episode_clip (episode, number, file, out, state, step, reason, tries, changed, answer, accepted) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			id, c.Number, c.File, c.Out, string(c.State), c.Step, c.Reason, c.Tries, stamp(c.Changed), answerOf(c), c.Accepted); err != nil {
			return false, err
		}
	}
	return true, nil
}

func answerOf(c book.EpisodeClip) any {
	if len(c.Answer) == 0 {
		return nil
	}
	return string(c.Answer)
}

// ClaimEpisodeClip makes owner the one who works on a clip, in place of before
// (who may be nobody). It says false, and changes nothing, when that is not, or
// no more, who owns it, or the clip is finished with.
func (s *Store) ClaimEpisodeClip(ctx context.Context, set, episode string, number int, before, owner string, at time.Time) (bool, error) {
	r, err := s.db.ExecContext(ctx, `
		UPDATE episode_clip SET owner = ?, beat = ?
		WHERE number = ? AND episode = (SELECT id FROM episode WHERE set_name = ? AND name = ?) AND owner = ? AND state IN ('waiting', 'working')`,
		owner, stamp(at), number, set, episode, before)
	if err != nil {
		return false, fmt.Errorf("claim clip %d of episode %s: %w", number, episode, err)
	}
	n, err := r.RowsAffected()
	return n > 0, err
}

// BeatEpisodeClip says that the owner is still at work.
func (s *Store) BeatEpisodeClip(ctx context.Context, set, episode string, number int, owner string, at time.Time) error {
	_, err := s.db.ExecContext(ctx, `
		UPDATE episode_clip SET beat = ? WHERE number = ? AND episode = (SELECT id FROM episode WHERE set_name = ? AND name = ?) AND owner = ?`,
		stamp(at), number, set, episode, owner)
	if err != nil {
		return fmt.Errorf("clip %d of episode %s: %w", number, episode, err)
	}
	return nil
}

// KeepEpisodeClip keeps what became of one clip, for its owner alone; a clip
// that is no longer being worked on has no owner afterwards.
func (s *Store) KeepEpisodeClip(ctx context.Context, set, episode string, c book.EpisodeClip) error {
	owner := c.Owner
	if c.State != book.ClipWorking {
		owner = ""
	}
	r, err := s.db.ExecContext(ctx, `
		UPDATE episode_clip SET state = ?, step = ?, reason = ?, tries = ?, changed = ?, answer = ?, owner = ?
		WHERE number = ? AND episode = (SELECT id FROM episode WHERE set_name = ? AND name = ?) AND owner = ?`,
		string(c.State), c.Step, c.Reason, c.Tries, stamp(c.Changed), answerOf(c), owner, c.Number, set, episode, c.Owner)
	if err != nil {
		return fmt.Errorf("keep clip %d of episode %s: %w", c.Number, episode, err)
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		if _, err := s.Episode(ctx, set, episode); err != nil {
			return err
		}
		return fault.New(fault.Storage, "clip-taken", "Nothing is lost: the other one keeps what came of it.", "clip %d of episode %s is worked on by another process", c.Number, episode)
	}
	return nil
}

// RetryEpisodeClip lets a clip that was set aside wait again, as if work on it
// had not begun; accepted, it is taken as near as it comes to the reference. One
// that isn't set aside is a fault.
func (s *Store) RetryEpisodeClip(ctx context.Context, set, episode string, number int, accepted bool) error {
	r, err := s.db.ExecContext(ctx, `
		UPDATE episode_clip SET state = 'waiting', step = '', reason = '', tries = 0, owner = '', accepted = ?
		WHERE number = ? AND episode = (SELECT id FROM episode WHERE set_name = ? AND name = ?) AND state = 'aside'`,
		accepted, number, set, episode)
	if err != nil {
		return fmt.Errorf("clip %d of episode %s: %w", number, episode, err)
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		if _, err := s.Episode(ctx, set, episode); err != nil {
			return err
		}
		return fault.New(fault.Usage, "clip-not-aside", "lampwise episodes show tells what each is.", "clip %d of episode %s is not set aside", number, episode)
	}
	return nil
}

// Episode returns one episode of a set; a name that isn't kept is a fault.
func (s *Store) Episode(ctx context.Context, set, name string) (book.Episode, error) {
	list, err := s.episodes(ctx, `WHERE e.set_name = ? AND e.name = ?`, set, name)
	if err != nil {
		return book.Episode{}, err
	}
	if len(list) == 0 {
		return book.Episode{}, s.unknownEpisode(ctx, set, name)
	}
	return list[0], nil
}

// Episodes lists the episodes of a set, or of all where set is empty, the oldest first.
func (s *Store) Episodes(ctx context.Context, set string) ([]book.Episode, error) {
	if set == "" {
		return s.episodes(ctx, ``)
	}
	return s.episodes(ctx, `WHERE e.set_name = ?`, set)
}

// ForgetEpisode removes an episode; its finished files stay.
func (s *Store) ForgetEpisode(ctx context.Context, set, name string) error {
	r, err := s.db.ExecContext(ctx, `DELETE FROM episode WHERE set_name = ? AND name = ?`, set, name)
	if err != nil {
		return fmt.Errorf("forget episode %s: %w", name, err)
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return s.unknownEpisode(ctx, set, name)
	}
	return nil
}

func (s *Store) episodes(ctx context.Context, where string, args ...any) ([]book.Episode, error) {
	rows, err := s.db.QueryContext(ctx, `
		SELECT e.set_name, e.name, e.made, e.settings, c.number, c.file, c.out, c.state, c.step, c.reason, c.tries, c.changed, c.answer, c.owner, c.beat, c.accepted
		FROM episode e LEFT JOIN episode_clip c ON c.episode = e.id `+where+` ORDER BY e.made, e.id, c.number`, args...)
	if err != nil {
		return nil, fmt.Errorf("read episodes: %w", err)
	}
	defer rows.Close()
	var out []book.Episode
	for rows.Next() {
		var e book.Episode
		var made, settings string
		var number, tries sql.NullInt64
		var accepted sql.NullBool
		var file, to, state, step, reason, changed, answer, owner, beat sql.NullString
		if err := rows.Scan(&e.Set, &e.Name, &made, &settings, &number, &file, &to, &state, &step, &reason, &tries, &changed, &answer, &owner, &beat, &accepted); err != nil {
			return nil, fmt.Errorf("read episodes: %w", err)
		}
		if n := len(out); n == 0 || out[n-1].Set != e.Set || out[n-1].Name != e.Name {
			if e.Made, err = time.Parse(time.RFC3339Nano, made); err != nil {
				return nil, fmt.Errorf("read episodes: %w", err)
			}
			if err := json.Unmarshal([]byte(settings), &e.Settings); err != nil {
				return nil, fmt.Errorf("read episode %s: %w", e.Name, err)
			}
			out = append(out, e)
		}
		if !number.Valid {
			continue
		}
		c := book.EpisodeClip{Number: int(number.Int64), File: file.String, Out: to.String, State: book.ClipState(state.String), Step: step.String, Reason: reason.String, Tries: int(tries.Int64), Owner: owner.String, Accepted: accepted.Bool}
		if beat.String != "" {
			if c.Beat, err = time.Parse(time.RFC3339Nano, beat.String); err != nil {
				return nil, fmt.Errorf("read episodes: %w", err)
			}
		}
		if c.Changed, err = time.Parse(time.RFC3339Nano, changed.String); err != nil {
			return nil, fmt.Errorf("read episodes: %w", err)
		}
		if answer.Valid {
			c.Answer = []byte(answer.String)
		}
		last := &out[len(out)-1]
		last.Clips = append(last.Clips, c)
	}
	return out, rows.Err()
}

func (s *Store) unknownEpisode(ctx context.Context, set, name string) error {
	if _, err := s.Set(ctx, set); err != nil {
		return err
	}
	list, err := s.Episodes(ctx, set)
	if err != nil {
		return err
	}
	var names []string
	for _, e := range list {
		names = append(names, e.Name)
	}
	hint := "lampwise episodes list shows them; lampwise episodes add makes one."
	if near, ok := fault.Nearest(name, names); ok {
		hint = "Did you mean “" + near + "”? " + hint
	}
	return fault.New(fault.Usage, "episode-unknown", hint, "set %s has no episode called %q", set, name)
}
