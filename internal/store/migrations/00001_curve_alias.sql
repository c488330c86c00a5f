-- +goose Up
CREATE TABLE curve_alias (
	fingerprint TEXT PRIMARY KEY,
	curve       TEXT NOT NULL,
	said        TEXT NOT NULL
) STRICT;

-- +goose Down
DROP TABLE curve_alias;
