-- +goose Up
CREATE TABLE episode (
	id       INTEGER PRIMARY KEY,
	set_name TEXT NOT NULL REFERENCES lamp_set (name) ON DELETE CASCADE,
	name     TEXT NOT NULL,
	made     TEXT NOT NULL,
	settings TEXT NOT NULL CHECK (json_valid(settings)),
	UNIQUE (set_name, name)
) STRICT;

CREATE TABLE episode_clip (
	episode INTEGER NOT NULL REFERENCES episode (id) ON DELETE CASCADE,
	number  INTEGER NOT NULL,
	file    TEXT NOT NULL,
	out     TEXT NOT NULL,
	state   TEXT NOT NULL CHECK (state IN ('waiting', 'working', 'done', 'aside')),
	step    TEXT NOT NULL DEFAULT '',
	reason  TEXT NOT NULL DEFAULT '',
	tries   INTEGER NOT NULL DEFAULT 0,
	changed TEXT NOT NULL,
	answer  TEXT CHECK (answer IS NULL OR json_valid(answer)),
	PRIMARY KEY (episode, number)
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE episode_clip;
DROP TABLE episode;
