-- +goose Up
CREATE TABLE called_order (
	text   TEXT PRIMARY KEY, -- as an order is written
	called TEXT NOT NULL
) STRICT;

-- +goose Down
DROP TABLE called_order;
