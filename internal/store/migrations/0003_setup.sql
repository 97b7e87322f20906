-- +goose Up
-- 0003: cameras and lamps kept for later photographs, the person's own colour
-- targets, and prints of the mat with their measured line. None is ever changed.

-- fit (a correction) and seen (linear RGB of white, grey and a target's greys)
-- hold JSON; errors are CIEDE2000, 0 where a grey card alone was used.
CREATE TABLE setup (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    name          TEXT    NOT NULL CHECK (name <> ''),
    camera        TEXT    NOT NULL,
    lamp          TEXT    NOT NULL CHECK (lamp <> ''),
    kind          TEXT    NOT NULL CHECK (kind IN ('target', 'grey')),
    target        TEXT    NOT NULL,
    photo_id      INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    taken_at      TEXT    NOT NULL CHECK (taken_at GLOB '????-??-??T??:??:??.???Z'),
    made_at       TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    fit           TEXT    NOT NULL CHECK (json_valid(fit)),
    method        TEXT    NOT NULL,
    loo_mean_de00 REAL    NOT NULL CHECK (loo_mean_de00 >= 0),
    loo_p95_de00  REAL    NOT NULL CHECK (loo_p95_de00 >= 0),
    seen          TEXT    NOT NULL CHECK (json_valid(seen)),
    binned_at     TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX setup_by_photo ON setup (photo_id);
CREATE TRIGGER setup_unchanged BEFORE UPDATE OF name, camera, lamp, kind, target, taken_at, made_at, fit, method, loo_mean_de00, loo_p95_de00, seen ON setup
BEGIN SELECT RAISE(ABORT, 'a kept setup is never changed'); END;

CREATE TABLE target_file (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    name      TEXT    NOT NULL CHECK (name <> ''),
    text      TEXT    NOT NULL CHECK (text <> ''),
    added_at  TEXT    NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z'),
    binned_at TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE TRIGGER target_file_unchanged BEFORE UPDATE OF name, text, added_at ON target_file
BEGIN SELECT RAISE(ABORT, 'a kept target is never changed'); END;

CREATE TABLE mat_print (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    paper       TEXT    NOT NULL CHECK (paper IN ('A4', 'Letter')),
    swatches    INTEGER NOT NULL CHECK (swatches IN (1, 2)),
    printed_on  TEXT    NOT NULL CHECK (printed_on GLOB '????-??-??'),
    ruler_mm    REAL    NOT NULL CHECK (ruler_mm BETWEEN 98 AND 102),
    measured_at TEXT    NOT NULL CHECK (measured_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE TRIGGER mat_print_unchanged BEFORE UPDATE OF paper, swatches, printed_on, ruler_mm, measured_at ON mat_print
BEGIN SELECT RAISE(ABORT, 'a measured print is never changed'); END;
