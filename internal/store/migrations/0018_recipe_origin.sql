-- +goose Up
-- 0018: recipes that came in a file from elsewhere. document is the recipe as it
-- stood there; versions lists the ids of recipe_version that came with it. An
-- origin is never changed.

CREATE TABLE recipe_origin (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    recipe_id   INTEGER NOT NULL UNIQUE REFERENCES recipe (id) ON DELETE CASCADE,
    origin_id   TEXT    NOT NULL CHECK (origin_id <> ''),
    versions    TEXT    NOT NULL CHECK (json_valid(versions)),
    file_name   TEXT    NOT NULL,
    file_sha256 TEXT    NOT NULL CHECK (length(file_sha256) = 64),
    document    TEXT    NOT NULL CHECK (json_valid(document)),
    by          TEXT    NOT NULL,
    at          TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX recipe_origin_by_origin ON recipe_origin (origin_id);
CREATE TRIGGER recipe_origin_unchanged BEFORE UPDATE ON recipe_origin
BEGIN SELECT RAISE(ABORT, 'where a recipe came from is never changed'); END;
