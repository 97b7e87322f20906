-- +goose Up
-- 0006: safety data sheets of supplies, what was checked against them, and where
-- and for whom a set is made.
--
-- A sheet's file is sheets/ab/<sha256>.pdf. Sheets and ticks are only ever added;
-- a later tick of the same row counts, and checked = 0 takes one back.

CREATE TABLE data_sheet (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    supply_id  INTEGER NOT NULL REFERENCES supply (id) ON UPDATE CASCADE ON DELETE CASCADE,
    name       TEXT    NOT NULL CHECK (name <> ''),
    sha256     TEXT    NOT NULL CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    size_bytes INTEGER NOT NULL CHECK (size_bytes > 0),
    added_at   TEXT    NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z'),
    by         TEXT    NOT NULL,
    UNIQUE (supply_id, sha256)
) STRICT;
CREATE TRIGGER data_sheet_unchanged BEFORE UPDATE OF name, sha256, size_bytes, added_at, by ON data_sheet
BEGIN SELECT RAISE(ABORT, 'a kept data sheet is never changed'); END;

CREATE TABLE sheet_check (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    supply_id INTEGER NOT NULL REFERENCES supply (id) ON UPDATE CASCADE ON DELETE CASCADE,
    row       TEXT    NOT NULL CHECK (row <> ''),
    text      TEXT    NOT NULL,
    checked   INTEGER NOT NULL CHECK (checked IN (0, 1)),
    at        TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by        TEXT    NOT NULL
) STRICT;
CREATE INDEX sheet_check_by_supply ON sheet_check (supply_id, id);
CREATE TRIGGER sheet_check_unchanged BEFORE UPDATE OF row, text, checked, at, by ON sheet_check
BEGIN SELECT RAISE(ABORT, 'a tick is never changed'); END;

ALTER TABLE swatch_set ADD COLUMN class TEXT NOT NULL DEFAULT '' CHECK (class IN ('', 'adults', '12-17', 'under 12'));
ALTER TABLE swatch_set ADD COLUMN room_id INTEGER REFERENCES room (id) ON UPDATE CASCADE;
