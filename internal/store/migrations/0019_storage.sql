-- +goose Up
-- 0019: where swatches are kept. A swatch's place is its newest move; moves are only
-- ever added. A round looks through a place: what was seen in it are its sightings.

CREATE TABLE place (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    client    TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    parent_id INTEGER REFERENCES place (id) ON DELETE SET NULL ON UPDATE CASCADE,
    name      TEXT    NOT NULL CHECK (name <> ''),
    kind      TEXT    NOT NULL CHECK (kind IN ('keeps', 'lent', 'gone')),
    rows      INTEGER NOT NULL CHECK (rows BETWEEN 0 AND 26),
    columns   INTEGER NOT NULL CHECK (columns BETWEEN 0 AND 26),
    note      TEXT    NOT NULL,
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    closed_at TEXT    CHECK (closed_at GLOB '????-??-??T??:??:??.???Z'),
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1)),
    CHECK ((rows = 0) = (columns = 0)),
    CHECK (parent_id IS NULL OR parent_id <> id)
) STRICT;
CREATE INDEX place_by_parent ON place (parent_id);

CREATE TABLE swatch_move (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    place_id      INTEGER REFERENCES place (id) ON DELETE CASCADE ON UPDATE CASCADE,
    cell_row      INTEGER NOT NULL CHECK (cell_row BETWEEN 0 AND 26),
    cell_column   INTEGER NOT NULL CHECK (cell_column BETWEEN 0 AND 26),
    due_on        TEXT    CHECK (due_on GLOB '????-??-??'),
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at   TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by            TEXT    NOT NULL,
    note          TEXT    NOT NULL,
    CHECK ((cell_row = 0) = (cell_column = 0))
) STRICT;
CREATE INDEX swatch_move_by_swatch ON swatch_move (swatch_number, id);
CREATE INDEX swatch_move_by_place ON swatch_move (place_id);
CREATE TRIGGER swatch_move_unchanged BEFORE UPDATE OF client, swatch_number, cell_row, cell_column, due_on, at, recorded_at, by, note ON swatch_move
BEGIN SELECT RAISE(ABORT, 'a move is never changed'); END;

CREATE TABLE place_round (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    client   TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    place_id INTEGER NOT NULL REFERENCES place (id) ON DELETE CASCADE ON UPDATE CASCADE,
    by       TEXT    NOT NULL,
    begun_at TEXT    NOT NULL CHECK (begun_at GLOB '????-??-??T??:??:??.???Z'),
    ended_at TEXT    CHECK (ended_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX place_round_by_place ON place_round (place_id, id);

CREATE TABLE sighting (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    round_id      INTEGER NOT NULL REFERENCES place_round (id) ON DELETE CASCADE,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    by            TEXT    NOT NULL,
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX sighting_by_round ON sighting (round_id, swatch_number);
CREATE INDEX sighting_by_swatch ON sighting (swatch_number);
CREATE TRIGGER sighting_unchanged BEFORE UPDATE OF client, swatch_number, by, at ON sighting
BEGIN SELECT RAISE(ABORT, 'a sighting is never changed'); END;
