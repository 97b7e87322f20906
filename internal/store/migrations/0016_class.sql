-- +goose Up
-- 0016: classes: what is taught, to whom, when, in which parts. recipes, parts, kit,
-- risks and after hold JSON. set_id is the students' own swatches, ahead_id what is
-- made ahead of the class, day_id the bench day it is made on, follows_id the class
-- that this one goes on with.

CREATE TABLE class (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    name       TEXT    NOT NULL CHECK (name <> ''),
    aim        TEXT    NOT NULL,
    teacher    TEXT    NOT NULL,
    starts_at  TEXT    NOT NULL CHECK (starts_at GLOB '????-??-??T??:??:??.???Z'),
    minutes    INTEGER NOT NULL CHECK (minutes > 0),
    heads      INTEGER NOT NULL CHECK (heads > 0),
    who        TEXT    NOT NULL CHECK (who IN ('adults', '12-17', 'under 12')),
    skill      TEXT    NOT NULL,
    room_id    INTEGER REFERENCES room (id) ON UPDATE CASCADE,
    fumes      TEXT    NOT NULL CHECK (fumes IN ('hood', 'outdoors', 'room')),
    recipes    TEXT    NOT NULL CHECK (json_valid(recipes)),
    parts      TEXT    NOT NULL CHECK (json_valid(parts)),
    kit        TEXT    NOT NULL CHECK (json_valid(kit)),
    risks      TEXT    NOT NULL CHECK (json_valid(risks)),
    after      TEXT    NOT NULL CHECK (json_valid(after)),
    set_id     INTEGER REFERENCES swatch_set (id) ON UPDATE CASCADE ON DELETE SET NULL,
    ahead_id   INTEGER REFERENCES swatch_set (id) ON UPDATE CASCADE ON DELETE SET NULL,
    day_id     INTEGER REFERENCES bench_day (id) ON UPDATE CASCADE ON DELETE SET NULL,
    follows_id INTEGER REFERENCES class (id) ON UPDATE CASCADE ON DELETE SET NULL,
    made_at    TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    ended_at   TEXT    CHECK (ended_at GLOB '????-??-??T??:??:??.???Z'),
    invented   INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at  TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX class_by_start ON class (starts_at);
CREATE INDEX class_by_set ON class (set_id);
CREATE INDEX class_by_ahead ON class (ahead_id);
CREATE INDEX class_by_day ON class (day_id);
CREATE INDEX class_by_follows ON class (follows_id);
