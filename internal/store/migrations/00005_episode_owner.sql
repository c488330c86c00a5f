-- +goose Up
ALTER TABLE episode_clip ADD COLUMN owner TEXT NOT NULL DEFAULT ''; -- who works on it; '' = nobody
ALTER TABLE episode_clip ADD COLUMN beat TEXT NOT NULL DEFAULT '';  -- when the owner last said so

-- +goose Down
ALTER TABLE episode_clip DROP COLUMN beat;
ALTER TABLE episode_clip DROP COLUMN owner;
