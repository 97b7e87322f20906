-- +goose Up
-- 0010: the published recipe that a version was begun from, by its key in the
-- library; '' where it came from nowhere.

ALTER TABLE recipe_version ADD COLUMN source_key TEXT NOT NULL DEFAULT '';
