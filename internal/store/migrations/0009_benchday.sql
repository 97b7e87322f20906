-- +goose Up
-- 0009: bench days: what is to run, who is there, and when each step starts.
--
-- A day's plans are only ever added, the last counts; ask and starts hold JSON.
-- Of a step's claims the newest counts; an empty person gives it back.

CREATE TABLE bench_day (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    name     TEXT    NOT NULL CHECK (name <> ''),
    made_at  TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    by       TEXT    NOT NULL,
    ended_at TEXT    CHECK (ended_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE bench_plan (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    day_id    INTEGER NOT NULL REFERENCES bench_day (id) ON UPDATE CASCADE ON DELETE CASCADE,
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    by        TEXT    NOT NULL,
    why       TEXT    NOT NULL,
    ask       TEXT    NOT NULL,
    starts    TEXT    NOT NULL,
    finish_at TEXT    CHECK (finish_at GLOB '????-??-??T??:??:??.???Z'),
    bound_at  TEXT    CHECK (bound_at GLOB '????-??-??T??:??:??.???Z'),
    openings  INTEGER NOT NULL CHECK (openings >= 0),
    moved     INTEGER NOT NULL CHECK (moved >= 0),
    moved_min INTEGER NOT NULL CHECK (moved_min >= 0)
) STRICT;
CREATE INDEX bench_plan_by_day ON bench_plan (day_id, id);
-- +goose StatementBegin
CREATE TRIGGER bench_plan_unchanged BEFORE UPDATE OF made_at, by, why, ask, starts, finish_at, bound_at, openings, moved, moved_min ON bench_plan
BEGIN SELECT RAISE(ABORT, 'a plan of a bench day is never changed'); END;
-- +goose StatementEnd

CREATE TABLE bench_claim (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    day_id       INTEGER NOT NULL REFERENCES bench_day (id) ON UPDATE CASCADE ON DELETE CASCADE,
    treatment_id INTEGER NOT NULL REFERENCES treatment (id) ON DELETE CASCADE,
    step         INTEGER NOT NULL CHECK (step >= 0),
    person       TEXT    NOT NULL,
    client       TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    at           TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by           TEXT    NOT NULL
) STRICT;
CREATE INDEX bench_claim_by_day ON bench_claim (day_id, id);
CREATE INDEX bench_claim_by_treatment ON bench_claim (treatment_id);
-- +goose StatementBegin
CREATE TRIGGER bench_claim_unchanged BEFORE UPDATE OF treatment_id, step, person, client, at, by ON bench_claim
BEGIN SELECT RAISE(ABORT, 'a claim is never changed'); END;
-- +goose StatementEnd
