-- +goose Up
-- 0004: what counts as bare metal (kept references, painted examples, and which
-- of them a set uses), and salt counted on faces. These are only ever added.

-- Salt lies on the face, before fuming; NULL: it does not.
ALTER TABLE photo ADD COLUMN salted INTEGER CHECK (salted = 1);

-- reading holds JSON: CIELAB (D50), its spread, and how it was read.
CREATE TABLE bare_reference (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    metal_id INTEGER NOT NULL REFERENCES metal (id) ON DELETE CASCADE ON UPDATE CASCADE,
    photo_id INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    of_what  TEXT    NOT NULL,
    method   TEXT    NOT NULL,
    made_at  TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    reading  TEXT    NOT NULL CHECK (json_valid(reading))
) STRICT;
CREATE INDEX bare_reference_by_metal ON bare_reference (metal_id, id);
CREATE INDEX bare_reference_by_photo ON bare_reference (photo_id);
CREATE TRIGGER bare_reference_unchanged BEFORE UPDATE OF of_what, method, made_at, reading ON bare_reference
BEGIN SELECT RAISE(ABORT, 'a bare reference is never changed'); END;

-- strokes (places in mm on the face) and trained hold JSON.
CREATE TABLE painting (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    of_what  TEXT    NOT NULL,
    made_at  TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    strokes  TEXT    NOT NULL CHECK (json_valid(strokes)),
    trained  TEXT    NOT NULL CHECK (json_valid(trained))
) STRICT;
CREATE INDEX painting_by_photo ON painting (photo_id, id);
CREATE TRIGGER painting_unchanged BEFORE UPDATE OF of_what, made_at, strokes, trained ON painting
BEGIN SELECT RAISE(ABORT, 'painted examples are never changed'); END;

CREATE TABLE set_judge (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    set_id       INTEGER NOT NULL REFERENCES swatch_set (id) ON DELETE CASCADE,
    made_at      TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    reference_id INTEGER REFERENCES bare_reference (id) ON DELETE SET NULL,
    painting_id  INTEGER REFERENCES painting (id) ON DELETE SET NULL
) STRICT;
CREATE INDEX set_judge_by_set ON set_judge (set_id, id);
CREATE INDEX set_judge_by_reference ON set_judge (reference_id);
CREATE INDEX set_judge_by_painting ON set_judge (painting_id);

-- covered is a fraction of the part that was read; grains_low and grains_high
-- are the 95 % interval of grains.
CREATE TABLE grain_count (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id    INTEGER NOT NULL REFERENCES photo (id) ON DELETE CASCADE,
    method      TEXT    NOT NULL,
    made_at     TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    marks       TEXT    NOT NULL CHECK (json_valid(marks)),
    grains      INTEGER NOT NULL CHECK (grains >= 0),
    grains_low  REAL    NOT NULL CHECK (grains_low >= 0),
    grains_high REAL    NOT NULL CHECK (grains_high >= grains_low),
    covered     REAL    NOT NULL CHECK (covered BETWEEN 0 AND 1),
    per_cm2     REAL    NOT NULL CHECK (per_cm2 >= 0),
    detail      TEXT    NOT NULL CHECK (json_valid(detail))
) STRICT;
CREATE INDEX grain_count_by_photo ON grain_count (photo_id, id);
CREATE TRIGGER grain_count_unchanged BEFORE UPDATE ON grain_count
BEGIN SELECT RAISE(ABORT, 'a count of grains is never changed'); END;

CREATE TABLE weighed_salt (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    of_what  TEXT    NOT NULL,
    material TEXT    NOT NULL CHECK (material <> ''),
    made_at  TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    mass_g   REAL    NOT NULL CHECK (mass_g > 0),
    sd_g     REAL    NOT NULL CHECK (sd_g >= 0),
    area_cm2 REAL    NOT NULL CHECK (area_cm2 > 0),
    grains   INTEGER NOT NULL CHECK (grains >= 1),
    covered  REAL    NOT NULL CHECK (covered > 0 AND covered <= 1),
    per_cm2  REAL    NOT NULL CHECK (per_cm2 >= 0)
) STRICT;
CREATE INDEX weighed_salt_by_photo ON weighed_salt (photo_id);
