-- +goose Up
-- 0005: the air: rooms, what a chamber's air does, and each chamber's log.
--
-- leak_per_h and open_loss (a fraction) are 0 where nobody knows them: no lid is tight.
-- A log row is only ever added; 'taken back' names the row it takes back.

CREATE TABLE room (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    name      TEXT    NOT NULL CHECK (name <> ''),
    volume_m3 REAL    NOT NULL CHECK (volume_m3 >= 0),
    ach       REAL    NOT NULL CHECK (ach >= 0),
    mixing    REAL    NOT NULL CHECK (mixing >= 0),
    hood      INTEGER NOT NULL CHECK (hood IN (0, 1)),
    outdoors  INTEGER NOT NULL CHECK (outdoors IN (0, 1)),
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

ALTER TABLE chamber ADD COLUMN leak_per_h REAL NOT NULL DEFAULT 0 CHECK (leak_per_h >= 0);
ALTER TABLE chamber ADD COLUMN open_loss REAL NOT NULL DEFAULT 0 CHECK (open_loss BETWEEN 0 AND 1);
ALTER TABLE chamber ADD COLUMN room_id INTEGER REFERENCES room (id) ON UPDATE CASCADE;

-- strength_wt is in percent by mass, 0 unknown. cap holds JSON.
CREATE TABLE chamber_log (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    chamber_id   INTEGER NOT NULL REFERENCES chamber (id) ON UPDATE CASCADE ON DELETE CASCADE,
    client       TEXT    NOT NULL UNIQUE,
    kind         TEXT    NOT NULL CHECK (kind IN ('charged', 'opened', 'aired', 'read', 'seen', 'weighed', 'taken back')),
    at           TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at  TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by           TEXT    NOT NULL,
    corrects     INTEGER REFERENCES chamber_log (id) ON UPDATE CASCADE ON DELETE CASCADE,
    supply_id    INTEGER REFERENCES supply (id) ON UPDATE CASCADE,
    strength_wt  REAL    NOT NULL CHECK (strength_wt BETWEEN 0 AND 100),
    solution_g   REAL    NOT NULL CHECK (solution_g >= 0),
    pad_c        REAL,
    piece_c      REAL,
    treatment_id INTEGER REFERENCES treatment (id) ON DELETE CASCADE,
    face         TEXT    CHECK (face IN ('front', 'back')),
    saw          TEXT    CHECK (saw IN ('grains left', 'dissolved')),
    cap          TEXT,
    note         TEXT    NOT NULL
) STRICT;

CREATE INDEX chamber_log_by_chamber ON chamber_log (chamber_id, at);

-- +goose StatementBegin
CREATE TRIGGER chamber_log_unchanged BEFORE UPDATE OF client, kind, at, recorded_at, by, strength_wt, solution_g, pad_c, piece_c, face, saw, cap, note ON chamber_log
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never changed'); END;
-- +goose StatementEnd
