-- +goose Up
-- 0014: tests of how a colour lasts, and what was found on each day. A test is never
-- changed; readings are only ever added: one that is 'voided' names the one that did
-- not happen.

CREATE TABLE wear_test (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    client         TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    swatch_number  INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    face           TEXT    NOT NULL CHECK (face IN ('front', 'back')),
    protocol       TEXT    NOT NULL CHECK (protocol <> ''),
    version        INTEGER NOT NULL CHECK (version >= 1),
    sealer         TEXT    NOT NULL CHECK (sealer IN ('none', 'wax', 'oil', 'lacquer')),
    conditions     TEXT    NOT NULL,
    site           TEXT    NOT NULL CHECK (site IN ('', 'C1', 'C2', 'C3', 'C4', 'C5', 'CX')),
    control_swatch INTEGER REFERENCES swatch (number) ON DELETE SET NULL,
    control_face   TEXT    NOT NULL CHECK (control_face IN ('', 'front', 'back')),
    start_at       TEXT    NOT NULL CHECK (start_at GLOB '????-??-??T??:??:??.???Z'),
    by             TEXT    NOT NULL,
    recorded_at    TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX wear_test_by_swatch ON wear_test (swatch_number, id);
CREATE INDEX wear_test_by_control ON wear_test (control_swatch);
CREATE TRIGGER wear_test_unchanged BEFORE UPDATE OF client, swatch_number, face, protocol, version, sealer, conditions, site, control_face, start_at, by, recorded_at ON wear_test
BEGIN SELECT RAISE(ABORT, 'a test is never changed'); END;

CREATE TABLE wear_reading (
    id               INTEGER PRIMARY KEY AUTOINCREMENT,
    test_id          INTEGER NOT NULL REFERENCES wear_test (id) ON DELETE CASCADE,
    client           TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    kind             TEXT    NOT NULL CHECK (kind IN ('before', 'read', 'ended', 'voided')),
    at               TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at      TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by               TEXT    NOT NULL,
    grade            TEXT    NOT NULL,
    count            INTEGER NOT NULL CHECK (count >= 0),
    photo_id         INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    control_photo_id INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    voids            INTEGER REFERENCES wear_reading (id) ON DELETE CASCADE,
    note             TEXT    NOT NULL,
    CHECK ((kind = 'voided') = (voids IS NOT NULL)),
    CHECK (kind <> 'read' OR grade <> '')
) STRICT;
CREATE INDEX wear_reading_by_test ON wear_reading (test_id, id);
CREATE INDEX wear_reading_by_photo ON wear_reading (photo_id);
CREATE INDEX wear_reading_by_control_photo ON wear_reading (control_photo_id);
CREATE INDEX wear_reading_by_voids ON wear_reading (voids);
CREATE TRIGGER wear_reading_unchanged BEFORE UPDATE OF test_id, client, kind, at, recorded_at, by, grade, count, voids, note ON wear_reading
BEGIN SELECT RAISE(ABORT, 'a reading is never changed'); END;
