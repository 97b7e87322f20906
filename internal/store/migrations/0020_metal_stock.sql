-- +goose Up
-- 0020: sheet metal in stock, a day of its own for each lot, and versions of a recipe
-- in the bin. Sheets bought, found or cut off are a stack; what is later cut, counted
-- or thrown away names its stack. All are only ever added. The number of a version
-- that is gone for good never comes up again.

CREATE TABLE sheet_move (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    metal_id    INTEGER NOT NULL REFERENCES metal (id) ON UPDATE CASCADE ON DELETE CASCADE,
    client      TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    kind        TEXT    NOT NULL CHECK (kind IN ('bought', 'found', 'offcut', 'cut', 'thrown away', 'counted', 'taken back')),
    stack_id    INTEGER REFERENCES sheet_move (id) ON UPDATE CASCADE ON DELETE CASCADE,
    of_id       INTEGER REFERENCES sheet_move (id) ON UPDATE CASCADE ON DELETE CASCADE,
    count       INTEGER NOT NULL CHECK (count >= 0),
    width_mm    REAL    NOT NULL CHECK (width_mm >= 0),
    height_mm   REAL    NOT NULL CHECK (height_mm >= 0),
    price       TEXT    CHECK (price GLOB '[0-9]*'),
    lot         TEXT    NOT NULL,
    supplier    TEXT    NOT NULL,
    state       TEXT    NOT NULL CHECK (state IN ('', 'as bought', 'degreased', 'abraded', 'pickled')),
    set_id      INTEGER REFERENCES swatch_set (id) ON DELETE SET NULL,
    pieces      INTEGER NOT NULL CHECK (pieces >= 0),
    at          TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by          TEXT    NOT NULL,
    note        TEXT    NOT NULL,
    CHECK ((kind IN ('bought', 'found', 'offcut')) = (width_mm > 0 AND height_mm > 0)),
    CHECK ((kind IN ('cut', 'thrown away', 'counted')) = (stack_id IS NOT NULL)),
    CHECK (kind <> 'taken back' OR of_id IS NOT NULL)
) STRICT;
CREATE INDEX sheet_move_by_metal ON sheet_move (metal_id, at, id);
CREATE INDEX sheet_move_by_stack ON sheet_move (stack_id);
CREATE INDEX sheet_move_by_of ON sheet_move (of_id);
CREATE INDEX sheet_move_by_set ON sheet_move (set_id);
-- +goose StatementBegin
CREATE TRIGGER sheet_move_unchanged BEFORE UPDATE OF client, kind, count, width_mm, height_mm, price, lot, supplier, state, pieces, at, recorded_at, by, note ON sheet_move
BEGIN SELECT RAISE(ABORT, 'a movement of sheets is never changed'); END;
-- +goose StatementEnd

ALTER TABLE stock_move ADD COLUMN expires_on TEXT CHECK (expires_on GLOB '????-??-??');
DROP TRIGGER stock_move_unchanged;
-- +goose StatementBegin
CREATE TRIGGER stock_move_unchanged BEFORE UPDATE OF client, kind, amount, unit, lot, at, recorded_at, by, note, expires_on ON stock_move
BEGIN SELECT RAISE(ABORT, 'a movement of stock is never changed'); END;
-- +goose StatementEnd

ALTER TABLE recipe ADD COLUMN last_number INTEGER NOT NULL DEFAULT 0 CHECK (last_number >= 0);
ALTER TABLE recipe_version ADD COLUMN binned_at TEXT CHECK (binned_at GLOB '????-??-??T??:??:??.???Z');
DROP TRIGGER recipe_version_unchanged;
-- +goose StatementBegin
CREATE TRIGGER recipe_version_unchanged BEFORE UPDATE OF id, recipe_id, number, steps, over_id, over_state, why, made_at, source_key ON recipe_version
BEGIN SELECT RAISE(ABORT, 'a version of a recipe is never changed'); END;
-- +goose StatementEnd
