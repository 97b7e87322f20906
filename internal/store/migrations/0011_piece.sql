-- +goose Up
-- 0011: pieces, and batches of them. A batch is a set whose swatches are the
-- pieces: their faces have areas of their own; 0 is width x height.

CREATE TABLE piece (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT    NOT NULL CHECK (name <> ''),
    form         TEXT    NOT NULL CHECK (json_valid(form)),
    metal_id     INTEGER REFERENCES metal (id),
    outside_id   INTEGER REFERENCES recipe_version (id),
    inside_id    INTEGER REFERENCES recipe_version (id),
    same_faces   INTEGER NOT NULL CHECK (same_faces IN (0, 1)),
    reference    INTEGER REFERENCES swatch (number),
    note         TEXT    NOT NULL,
    made_at      TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    invented     INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at    TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

ALTER TABLE swatch_set ADD COLUMN piece_id INTEGER REFERENCES piece (id);
ALTER TABLE swatch ADD COLUMN outside_mm2 REAL NOT NULL DEFAULT 0 CHECK (outside_mm2 >= 0);
ALTER TABLE swatch ADD COLUMN inside_mm2 REAL NOT NULL DEFAULT 0 CHECK (inside_mm2 >= 0);
