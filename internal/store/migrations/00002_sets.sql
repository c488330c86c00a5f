-- +goose Up
CREATE TABLE lamp_set (
	name     TEXT PRIMARY KEY,
	learned  TEXT NOT NULL,
	changed  TEXT NOT NULL,
	settings TEXT NOT NULL CHECK (json_valid(settings)),
	pictures TEXT NOT NULL, -- SHA-256 of the file in the folder "pictures"
	size     INTEGER NOT NULL
) STRICT;

CREATE TABLE set_check (
	id       INTEGER PRIMARY KEY,
	set_name TEXT NOT NULL REFERENCES lamp_set (name) ON DELETE CASCADE,
	at       TEXT NOT NULL,
	file     TEXT NOT NULL,
	verdict  TEXT NOT NULL,
	changes  TEXT NOT NULL CHECK (json_valid(changes)),
	answer   TEXT NOT NULL CHECK (json_valid(answer))
) STRICT;

CREATE INDEX set_check_by_set ON set_check (set_name, at);

-- +goose Down
DROP TABLE set_check;
DROP TABLE lamp_set;
