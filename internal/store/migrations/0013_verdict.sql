-- +goose Up
-- 0013: what people decided on the pieces of a batch. Verdicts are only ever added;
-- of several on one piece the newest counts.

CREATE TABLE verdict (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    outcome       TEXT    NOT NULL CHECK (outcome IN ('accept', 'rework', 'reject')),
    why           TEXT    NOT NULL,
    by            TEXT    NOT NULL CHECK (by <> ''),
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at   TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    CHECK (outcome = 'accept' OR why <> '')
) STRICT;
CREATE INDEX verdict_by_swatch ON verdict (swatch_number, id);
CREATE TRIGGER verdict_unchanged BEFORE UPDATE ON verdict
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed'); END;
