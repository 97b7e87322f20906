-- +goose Up
-- 0012: what supplies and metals cost, what is on the shelf, and quotes. All are
-- only ever added: of a supply's or metal's prices the newest counts, a movement
-- of stock that is 'taken back' names the one it takes back. Money and shares are
-- decimal numbers kept as text, so that no binary fraction comes near them.

CREATE TABLE pack_price (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    supply_id INTEGER NOT NULL REFERENCES supply (id) ON UPDATE CASCADE ON DELETE CASCADE,
    size      REAL    NOT NULL CHECK (size > 0),
    unit      TEXT    NOT NULL CHECK (unit IN ('g', 'mL')),
    price     TEXT    NOT NULL CHECK (price GLOB '[0-9]*'),
    grade     TEXT    NOT NULL,
    keep      REAL    NOT NULL CHECK (keep >= 0),
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    by        TEXT    NOT NULL
) STRICT;
CREATE INDEX pack_price_by_supply ON pack_price (supply_id, id);
-- +goose StatementBegin
CREATE TRIGGER pack_price_unchanged BEFORE UPDATE OF size, unit, price, grade, keep, made_at, by ON pack_price
BEGIN SELECT RAISE(ABORT, 'a price is never changed; a new one is added'); END;
-- +goose StatementEnd

CREATE TABLE metal_price (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    metal_id  INTEGER NOT NULL REFERENCES metal (id) ON UPDATE CASCADE ON DELETE CASCADE,
    per       TEXT    NOT NULL CHECK (per IN ('sheet', 'kg')),
    price     TEXT    NOT NULL CHECK (price GLOB '[0-9]*'),
    width_mm  REAL    NOT NULL CHECK (width_mm >= 0),
    height_mm REAL    NOT NULL CHECK (height_mm >= 0),
    loss      TEXT    CHECK (loss GLOB '[0-9]*'),
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    by        TEXT    NOT NULL
) STRICT;
CREATE INDEX metal_price_by_metal ON metal_price (metal_id, id);
-- +goose StatementBegin
CREATE TRIGGER metal_price_unchanged BEFORE UPDATE OF per, price, width_mm, height_mm, loss, made_at, by ON metal_price
BEGIN SELECT RAISE(ABORT, 'a price is never changed; a new one is added'); END;
-- +goose StatementEnd

CREATE TABLE stock_move (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    supply_id   INTEGER NOT NULL REFERENCES supply (id) ON UPDATE CASCADE ON DELETE CASCADE,
    client      TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    kind        TEXT    NOT NULL CHECK (kind IN ('bought', 'used', 'thrown away', 'counted', 'taken back')),
    amount      REAL    NOT NULL CHECK (amount >= 0),
    unit        TEXT    NOT NULL CHECK (unit IN ('g', 'mL', '')),
    lot         TEXT    NOT NULL,
    at          TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by          TEXT    NOT NULL,
    corrects    INTEGER REFERENCES stock_move (id) ON UPDATE CASCADE ON DELETE CASCADE,
    note        TEXT    NOT NULL,
    CHECK ((kind = 'taken back') = (corrects IS NOT NULL))
) STRICT;
CREATE INDEX stock_move_by_supply ON stock_move (supply_id, at, id);
CREATE INDEX stock_move_by_corrects ON stock_move (corrects);
-- +goose StatementBegin
CREATE TRIGGER stock_move_unchanged BEFORE UPDATE OF client, kind, amount, unit, lot, at, recorded_at, by, note ON stock_move
BEGIN SELECT RAISE(ABORT, 'a movement of stock is never changed'); END;
-- +goose StatementEnd

CREATE TABLE quote (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    number     INTEGER NOT NULL UNIQUE CHECK (number >= 1),
    client     TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    set_id     INTEGER REFERENCES swatch_set (id) ON DELETE SET NULL,
    made_at    TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    by         TEXT    NOT NULL,
    currency   TEXT    NOT NULL CHECK (length(currency) = 3),
    day        TEXT    NOT NULL CHECK (day GLOB '????-??-??'),
    valid_days INTEGER NOT NULL CHECK (valid_days >= 1),
    customer   TEXT    NOT NULL CHECK (customer <> ''),
    lines      TEXT    NOT NULL CHECK (json_valid(lines)),
    tax        TEXT    NOT NULL CHECK (tax GLOB '[0-9]*'),
    care       TEXT    NOT NULL,
    note       TEXT    NOT NULL,
    basis      TEXT    NOT NULL CHECK (json_valid(basis))
) STRICT;
CREATE INDEX quote_by_set ON quote (set_id);
-- +goose StatementBegin
CREATE TRIGGER quote_unchanged BEFORE UPDATE OF number, client, made_at, by, currency, day, valid_days, customer, lines, tax, care, note, basis ON quote
BEGIN SELECT RAISE(ABORT, 'a quote is never changed; another one takes its place'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER quote_stays BEFORE DELETE ON quote
BEGIN SELECT RAISE(ABORT, 'a quote is never removed'); END;
-- +goose StatementEnd
