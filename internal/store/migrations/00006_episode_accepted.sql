-- +goose Up
ALTER TABLE episode_clip ADD COLUMN accepted INTEGER NOT NULL DEFAULT 0; -- a person takes it as near as it comes

-- +goose Down
ALTER TABLE episode_clip DROP COLUMN accepted;
