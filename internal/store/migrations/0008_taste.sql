-- +goose Up
-- 0008: which of two faces people like better, and scores of single faces. Choices
-- and scores are only ever added; one that is 'undone' takes an earlier one back,
-- and of a person's scores the newest counts.

CREATE TABLE sitting (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    question  TEXT    NOT NULL CHECK (question <> ''),
    source    TEXT    NOT NULL CHECK (source IN ('set', 'class', 'picked')),
    set_id    INTEGER REFERENCES swatch_set (id) ON DELETE CASCADE,
    blind     INTEGER NOT NULL CHECK (blind IN (0, 1)),
    measured  INTEGER NOT NULL CHECK (measured IN (0, 1)),
    seed      TEXT    NOT NULL,
    by        TEXT    NOT NULL,
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    closed_at TEXT    CHECK (closed_at GLOB '????-??-??T??:??:??.???Z'),
    CHECK ((source = 'picked') = (set_id IS NULL))
) STRICT;
CREATE INDEX sitting_by_set ON sitting (set_id);
CREATE TRIGGER sitting_unchanged BEFORE UPDATE OF question, source, set_id, blind, measured, seed, by, made_at ON sitting
BEGIN SELECT RAISE(ABORT, 'a sitting is never changed'); END;

CREATE TABLE sitting_face (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    sitting_id    INTEGER NOT NULL REFERENCES sitting (id) ON DELETE CASCADE,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    face          TEXT    NOT NULL CHECK (face IN ('front', 'back')),
    UNIQUE (sitting_id, swatch_number, face)
) STRICT;
CREATE INDEX sitting_face_by_swatch ON sitting_face (swatch_number);
CREATE TRIGGER sitting_face_unchanged BEFORE UPDATE ON sitting_face
BEGIN SELECT RAISE(ABORT, 'what a sitting is about is never changed'); END;
-- A sitting about swatches that are all gone goes with the last of them.
CREATE TRIGGER sitting_without_faces AFTER DELETE ON sitting_face
WHEN NOT EXISTS (SELECT 1 FROM sitting_face WHERE sitting_id = OLD.sitting_id)
BEGIN DELETE FROM sitting WHERE id = OLD.sitting_id; END;

CREATE TABLE choice (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    sitting_id   INTEGER NOT NULL REFERENCES sitting (id) ON DELETE CASCADE,
    client       TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    who          TEXT    NOT NULL CHECK (who <> ''),
    left_swatch  INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    left_face    TEXT    NOT NULL CHECK (left_face IN ('front', 'back')),
    right_swatch INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    right_face   TEXT    NOT NULL CHECK (right_face IN ('front', 'back')),
    chosen       TEXT    NOT NULL CHECK (chosen IN ('left', 'right', 'neither', 'undone')),
    undoes       INTEGER REFERENCES choice (id) ON DELETE CASCADE,
    took_ms      INTEGER NOT NULL CHECK (took_ms >= 0),
    at           TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at  TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    CHECK ((chosen = 'undone') = (undoes IS NOT NULL)),
    CHECK (left_swatch <> right_swatch OR left_face <> right_face)
) STRICT;
CREATE INDEX choice_by_sitting ON choice (sitting_id, id);
CREATE INDEX choice_by_left ON choice (left_swatch);
CREATE INDEX choice_by_right ON choice (right_swatch);
CREATE INDEX choice_by_undoes ON choice (undoes);
CREATE TRIGGER choice_unchanged BEFORE UPDATE ON choice
BEGIN SELECT RAISE(ABORT, 'a choice is never changed'); END;

CREATE TABLE score (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    face          TEXT    NOT NULL CHECK (face IN ('front', 'back')),
    aspect        TEXT    NOT NULL CHECK (aspect IN ('as a whole', 'colour', 'texture', 'coverage')),
    value         INTEGER NOT NULL CHECK (value BETWEEN 1 AND 5),
    who           TEXT    NOT NULL CHECK (who <> ''),
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at   TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX score_by_swatch ON score (swatch_number, id);
CREATE TRIGGER score_unchanged BEFORE UPDATE ON score
BEGIN SELECT RAISE(ABORT, 'a score is never changed'); END;
