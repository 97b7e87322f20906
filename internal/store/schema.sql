-- Made from migrations/ by: go test ./internal/store -run TestSchemaIsAsWritten -update

CREATE TRIGGER bare_reference_unchanged BEFORE UPDATE OF of_what, method, made_at, reading ON bare_reference
BEGIN SELECT RAISE(ABORT, 'a bare reference is never changed'); END;

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

CREATE TRIGGER bench_claim_unchanged BEFORE UPDATE OF treatment_id, step, person, client, at, by ON bench_claim
BEGIN SELECT RAISE(ABORT, 'a claim is never changed'); END;

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

CREATE TABLE bench_day (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    name     TEXT    NOT NULL CHECK (name <> ''),
    made_at  TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    by       TEXT    NOT NULL,
    ended_at TEXT    CHECK (ended_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TRIGGER bench_plan_unchanged BEFORE UPDATE OF made_at, by, why, ask, starts, finish_at, bound_at, openings, moved, moved_min ON bench_plan
BEGIN SELECT RAISE(ABORT, 'a plan of a bench day is never changed'); END;

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

CREATE TABLE chamber (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    name      TEXT    NOT NULL CHECK (name <> ''),
    volume_l  REAL    NOT NULL CHECK (volume_l > 0),
    pad       TEXT    NOT NULL,
    pad_ml    REAL    NOT NULL CHECK (pad_ml >= 0),
    gap_mm    REAL    NOT NULL CHECK (gap_mm >= 0),
    tilt_deg  REAL    NOT NULL CHECK (tilt_deg BETWEEN 0 AND 90),
    places    INTEGER NOT NULL CHECK (places >= 1),
    note      TEXT    NOT NULL,
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
, leak_per_h REAL NOT NULL DEFAULT 0 CHECK (leak_per_h >= 0), open_loss REAL NOT NULL DEFAULT 0 CHECK (open_loss BETWEEN 0 AND 1), room_id INTEGER REFERENCES room (id) ON UPDATE CASCADE, inner_length_mm REAL NOT NULL DEFAULT 0 CHECK (inner_length_mm >= 0), inner_width_mm REAL NOT NULL DEFAULT 0 CHECK (inner_width_mm >= 0), inner_height_mm REAL NOT NULL DEFAULT 0 CHECK (inner_height_mm >= 0)) STRICT;

CREATE TRIGGER chamber_log_unchanged BEFORE UPDATE OF client, kind, at, recorded_at, by, strength_wt, solution_g, pad_c, piece_c, face, saw, cap, note ON chamber_log
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never changed'); END;

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

CREATE TRIGGER choice_hand_unchanged BEFORE UPDATE OF who ON choice WHEN NOT (OLD.who GLOB 'seat [0-9]*' AND NEW.who GLOB 'a student*')
BEGIN SELECT RAISE(ABORT, 'a choice is never changed'); END;

CREATE TRIGGER choice_unchanged BEFORE UPDATE OF id, sitting_id, client, left_swatch, left_face, right_swatch, right_face, chosen, undoes, took_ms, at, recorded_at ON choice
BEGIN SELECT RAISE(ABORT, 'a choice is never changed'); END;

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

CREATE INDEX choice_by_left ON choice (left_swatch);

CREATE INDEX choice_by_right ON choice (right_swatch);

CREATE INDEX choice_by_sitting ON choice (sitting_id, id);

CREATE INDEX choice_by_undoes ON choice (undoes);

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

CREATE INDEX class_by_ahead ON class (ahead_id);

CREATE INDEX class_by_day ON class (day_id);

CREATE INDEX class_by_follows ON class (follows_id);

CREATE INDEX class_by_set ON class (set_id);

CREATE INDEX class_by_start ON class (starts_at);

CREATE TABLE class_door (
    class_id  INTEGER PRIMARY KEY REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    code      TEXT    NOT NULL UNIQUE CHECK (code <> ''),
    opened_at TEXT    NOT NULL CHECK (opened_at GLOB '????-??-??T??:??:??.???Z'),
    closes_at TEXT    NOT NULL CHECK (closes_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE class_sitting (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    class_id   INTEGER NOT NULL REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    sitting_id INTEGER NOT NULL UNIQUE REFERENCES sitting (id) ON DELETE CASCADE
) STRICT;

CREATE INDEX class_sitting_by_class ON class_sitting (class_id);

CREATE TABLE class_terms (
    class_id  INTEGER PRIMARY KEY REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    names     INTEGER NOT NULL CHECK (names IN (0, 1)),
    keep_days INTEGER NOT NULL CHECK (keep_days BETWEEN 0 AND 730),
    link_days INTEGER NOT NULL CHECK (link_days BETWEEN 0 AND keep_days)
) STRICT;

CREATE TRIGGER counter_grows BEFORE UPDATE ON counter WHEN NEW.next < OLD.next
BEGIN SELECT RAISE(ABORT, 'a swatch number is never given out twice'); END;

CREATE TABLE counter (
    name TEXT    PRIMARY KEY CHECK (name = 'swatch'),
    next INTEGER NOT NULL CHECK (next >= 1)
) STRICT;

CREATE TRIGGER data_sheet_unchanged BEFORE UPDATE OF name, sha256, size_bytes, added_at, by ON data_sheet
BEGIN SELECT RAISE(ABORT, 'a kept data sheet is never changed'); END;

CREATE TABLE data_sheet (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    supply_id  INTEGER NOT NULL REFERENCES supply (id) ON UPDATE CASCADE ON DELETE CASCADE,
    name       TEXT    NOT NULL CHECK (name <> ''),
    sha256     TEXT    NOT NULL CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    size_bytes INTEGER NOT NULL CHECK (size_bytes > 0),
    added_at   TEXT    NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z'),
    by         TEXT    NOT NULL,
    UNIQUE (supply_id, sha256)
) STRICT;

CREATE TABLE device (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT    NOT NULL CHECK (name <> ''),
    token_hash   BLOB    NOT NULL UNIQUE CHECK (length(token_hash) >= 16),
    joined_at    TEXT    NOT NULL CHECK (joined_at GLOB '????-??-??T??:??:??.???Z'),
    last_seen_at TEXT    NOT NULL CHECK (last_seen_at GLOB '????-??-??T??:??:??.???Z'),
    revoked_at   TEXT    CHECK (revoked_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TRIGGER event_hand_unchanged BEFORE UPDATE OF by, note ON event WHEN NOT (OLD.by GLOB 'seat [0-9]*' AND NEW.by = 'a student')
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never changed'); END;

CREATE TRIGGER event_stays BEFORE DELETE ON event
WHEN NOT EXISTS (SELECT 1 FROM treatment JOIN purging USING (swatch_number) WHERE treatment.id = OLD.treatment_id)
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never removed'); END;

CREATE TRIGGER event_unchanged BEFORE UPDATE OF id, treatment_id, client, kind, step, at, recorded_at, corrects, amount, room_c, room_rh ON event
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never changed'); END;

CREATE TABLE event (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    treatment_id INTEGER NOT NULL REFERENCES treatment (id),
    client       TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    kind         TEXT    NOT NULL CHECK (kind IN ('began', 'done', 'changed', 'noted', 'stopped', 'corrected', 'voided')),
    step         INTEGER NOT NULL,
    at           TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at  TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by           TEXT    NOT NULL,
    corrects     INTEGER REFERENCES event (id),
    amount       TEXT    CHECK (json_valid(amount)),
    room_c       REAL,
    room_rh      REAL    CHECK (room_rh BETWEEN 0 AND 1),
    note         TEXT    NOT NULL
) STRICT;

CREATE INDEX event_by_treatment ON event (treatment_id, at, id);

CREATE TRIGGER grain_count_unchanged BEFORE UPDATE ON grain_count
BEGIN SELECT RAISE(ABORT, 'a count of grains is never changed'); END;

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

CREATE TABLE hand_amount (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    word      TEXT    NOT NULL CHECK (word IN ('light', 'medium', 'heavy')),
    material  TEXT    NOT NULL,
    mean      REAL    NOT NULL CHECK (mean >= 0),
    sd        REAL    NOT NULL CHECK (sd >= 0),
    unit      TEXT    NOT NULL CHECK (unit IN ('g/m2', 'mL/m2', 'g', 'mL')),
    weighings INTEGER NOT NULL CHECK (weighings >= 0),
    UNIQUE (word, material)
) STRICT;

CREATE TRIGGER mat_print_unchanged BEFORE UPDATE OF paper, swatches, printed_on, ruler_mm, measured_at ON mat_print
BEGIN SELECT RAISE(ABORT, 'a measured print is never changed'); END;

CREATE TABLE mat_print (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    paper       TEXT    NOT NULL CHECK (paper IN ('A4', 'Letter')),
    swatches    INTEGER NOT NULL CHECK (swatches IN (1, 2)),
    printed_on  TEXT    NOT NULL CHECK (printed_on GLOB '????-??-??'),
    ruler_mm    REAL    NOT NULL CHECK (ruler_mm BETWEEN 98 AND 102),
    measured_at TEXT    NOT NULL CHECK (measured_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TRIGGER measurement_unchanged BEFORE UPDATE ON measurement
BEGIN SELECT RAISE(ABORT, 'a measurement is never changed'); END;

CREATE TABLE measurement (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id      INTEGER NOT NULL REFERENCES photo (id),
    method        TEXT    NOT NULL,
    made_at       TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    marks         TEXT    NOT NULL CHECK (json_valid(marks)),
    calibrated    INTEGER NOT NULL CHECK (calibrated IN (0, 1)),
    lab_l         REAL    NOT NULL,
    lab_a         REAL    NOT NULL,
    lab_b         REAL    NOT NULL,
    spread_lab    REAL    NOT NULL CHECK (spread_lab >= 0),
    colour_name   TEXT    NOT NULL,
    palette       TEXT    NOT NULL CHECK (json_valid(palette)),
    coverage      REAL    CHECK (coverage BETWEEN 0 AND 1),
    coverage_low  REAL    CHECK (coverage_low BETWEEN 0 AND 1),
    coverage_high REAL    CHECK (coverage_high BETWEEN 0 AND 1),
    coverage_rule TEXT,
    glare         REAL    NOT NULL CHECK (glare BETWEEN 0 AND 1),
    detail        TEXT    NOT NULL CHECK (json_valid(detail)), -- scale, correction, texture, pooling
    warnings      TEXT    NOT NULL CHECK (json_valid(warnings)),
    CHECK ((coverage IS NULL) = (coverage_low IS NULL) AND (coverage IS NULL) = (coverage_high IS NULL)
       AND (coverage IS NULL) = (coverage_rule IS NULL))
) STRICT;

CREATE INDEX measurement_by_photo ON measurement (photo_id, id);

CREATE TABLE metal (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT    NOT NULL CHECK (name <> ''),
    alloy        TEXT    NOT NULL,
    temper       TEXT    NOT NULL,
    thickness_mm REAL    NOT NULL CHECK (thickness_mm > 0),
    gauge_words  TEXT    NOT NULL,
    lot          TEXT    NOT NULL,
    note         TEXT    NOT NULL,
    invented     INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at    TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TRIGGER metal_price_unchanged BEFORE UPDATE OF per, price, width_mm, height_mm, loss, made_at, by ON metal_price
BEGIN SELECT RAISE(ABORT, 'a price is never changed; a new one is added'); END;

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

CREATE TRIGGER pack_price_unchanged BEFORE UPDATE OF size, unit, price, grade, keep, made_at, by ON pack_price
BEGIN SELECT RAISE(ABORT, 'a price is never changed; a new one is added'); END;

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

CREATE TRIGGER painting_unchanged BEFORE UPDATE OF of_what, made_at, strokes, trained ON painting
BEGIN SELECT RAISE(ABORT, 'painted examples are never changed'); END;

CREATE TABLE painting (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id INTEGER REFERENCES photo (id) ON DELETE SET NULL,
    of_what  TEXT    NOT NULL,
    made_at  TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    strokes  TEXT    NOT NULL CHECK (json_valid(strokes)),
    trained  TEXT    NOT NULL CHECK (json_valid(trained))
) STRICT;

CREATE INDEX painting_by_photo ON painting (photo_id, id);

CREATE TABLE photo (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number),
    face          TEXT    NOT NULL CHECK (face IN ('front', 'back')),
    moment        TEXT    NOT NULL CHECK (moment IN ('bare', 'under way', 'finished')),
    taken_at      TEXT    NOT NULL CHECK (taken_at GLOB '????-??-??T??:??:??.???Z'),
    taken_from    TEXT    NOT NULL CHECK (taken_from IN ('photo', 'entered', 'arrival')),
    sha256        TEXT    NOT NULL CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    format        TEXT    NOT NULL CHECK (format IN ('JPEG', 'PNG', 'WebP', 'HEIC')),
    size_bytes    INTEGER NOT NULL CHECK (size_bytes > 0),
    width_px      INTEGER NOT NULL CHECK (width_px >= 0),
    height_px     INTEGER NOT NULL CHECK (height_px >= 0),
    profile       TEXT    NOT NULL,
    camera        TEXT    NOT NULL,
    gps_removed   INTEGER NOT NULL CHECK (gps_removed IN (0, 1)),
    client        TEXT    UNIQUE CHECK (client <> ''),
    added_at      TEXT    NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z'),
    note          TEXT    NOT NULL,
    binned_at     TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z'), through_lid INTEGER CHECK (through_lid = 1), salted INTEGER CHECK (salted = 1),
    UNIQUE (swatch_number, face, sha256)
) STRICT;

CREATE INDEX photo_by_sha256 ON photo (sha256);

CREATE TABLE photo_change (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id   INTEGER NOT NULL REFERENCES photo (id),
    changed_at TEXT    NOT NULL CHECK (changed_at GLOB '????-??-??T??:??:??.???Z'),
    was        TEXT    NOT NULL CHECK (json_valid(was))
) STRICT;

CREATE INDEX photo_change_by_photo ON photo_change (photo_id);

CREATE TABLE piece (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT    NOT NULL CHECK (name <> ''),
    form         TEXT    NOT NULL CHECK (json_valid(form)),
    metal_id     INTEGER REFERENCES metal (id),
    outside_id   INTEGER REFERENCES recipe_version (id),
    inside_id    INTEGER REFERENCES recipe_version (id),
    same_faces   INTEGER NOT NULL CHECK (same_faces IN (0, 1)),
    reference    INTEGER REFERENCES swatch (number),
    note         TEXT    NOT NULL,
    made_at      TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    invented     INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at    TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE place (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    client    TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    parent_id INTEGER REFERENCES place (id) ON DELETE SET NULL ON UPDATE CASCADE,
    name      TEXT    NOT NULL CHECK (name <> ''),
    kind      TEXT    NOT NULL CHECK (kind IN ('keeps', 'lent', 'gone')),
    rows      INTEGER NOT NULL CHECK (rows BETWEEN 0 AND 26),
    columns   INTEGER NOT NULL CHECK (columns BETWEEN 0 AND 26),
    note      TEXT    NOT NULL,
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    closed_at TEXT    CHECK (closed_at GLOB '????-??-??T??:??:??.???Z'),
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1)),
    CHECK ((rows = 0) = (columns = 0)),
    CHECK (parent_id IS NULL OR parent_id <> id)
) STRICT;

CREATE INDEX place_by_parent ON place (parent_id);

CREATE TABLE place_round (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    client   TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    place_id INTEGER NOT NULL REFERENCES place (id) ON DELETE CASCADE ON UPDATE CASCADE,
    by       TEXT    NOT NULL,
    begun_at TEXT    NOT NULL CHECK (begun_at GLOB '????-??-??T??:??:??.???Z'),
    ended_at TEXT    CHECK (ended_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX place_round_by_place ON place_round (place_id, id);

CREATE TABLE purging (
    swatch_number INTEGER PRIMARY KEY
) STRICT;

CREATE TRIGGER quote_stays BEFORE DELETE ON quote
BEGIN SELECT RAISE(ABORT, 'a quote is never removed'); END;

CREATE TRIGGER quote_unchanged BEFORE UPDATE OF number, client, made_at, by, currency, day, valid_days, customer, lines, tax, care, note, basis ON quote
BEGIN SELECT RAISE(ABORT, 'a quote is never changed; another one takes its place'); END;

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

CREATE TABLE recipe (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    name      TEXT    NOT NULL CHECK (name <> ''),
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
, last_number INTEGER NOT NULL DEFAULT 0 CHECK (last_number >= 0)) STRICT;

CREATE TRIGGER recipe_origin_unchanged BEFORE UPDATE ON recipe_origin
BEGIN SELECT RAISE(ABORT, 'where a recipe came from is never changed'); END;

CREATE TABLE recipe_origin (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    recipe_id   INTEGER NOT NULL UNIQUE REFERENCES recipe (id) ON DELETE CASCADE,
    origin_id   TEXT    NOT NULL CHECK (origin_id <> ''),
    versions    TEXT    NOT NULL CHECK (json_valid(versions)),
    file_name   TEXT    NOT NULL,
    file_sha256 TEXT    NOT NULL CHECK (length(file_sha256) = 64),
    document    TEXT    NOT NULL CHECK (json_valid(document)),
    by          TEXT    NOT NULL,
    at          TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX recipe_origin_by_origin ON recipe_origin (origin_id);

CREATE TRIGGER recipe_version_unchanged BEFORE UPDATE OF id, recipe_id, number, steps, over_id, over_state, why, made_at, source_key ON recipe_version
BEGIN SELECT RAISE(ABORT, 'a version of a recipe is never changed'); END;

CREATE TABLE recipe_version (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    recipe_id  INTEGER NOT NULL REFERENCES recipe (id),
    number     INTEGER NOT NULL CHECK (number >= 1),
    steps      TEXT    NOT NULL CHECK (json_valid(steps)),
    over_id    INTEGER REFERENCES recipe_version (id),
    over_state TEXT    NOT NULL CHECK (over_state IN ('', 'dry', 'still wet')),
    why        TEXT    NOT NULL,
    made_at    TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'), source_key TEXT NOT NULL DEFAULT '', binned_at TEXT CHECK (binned_at GLOB '????-??-??T??:??:??.???Z'),
    UNIQUE (recipe_id, number)
) STRICT;

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

CREATE TABLE schema_history (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	);

CREATE TRIGGER score_unchanged BEFORE UPDATE ON score
BEGIN SELECT RAISE(ABORT, 'a score is never changed'); END;

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

CREATE TABLE seat (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    class_id  INTEGER NOT NULL REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    number    INTEGER NOT NULL CHECK (number BETWEEN 1 AND 62),
    name      TEXT    CHECK (name <> ''),
    joined_at TEXT    CHECK (joined_at GLOB '????-??-??T??:??:??.???Z'),
    hand_at   TEXT    CHECK (hand_at GLOB '????-??-??T??:??:??.???Z'),
    photos    TEXT    NOT NULL CHECK (photos IN ('studio', 'gone')),
    UNIQUE (class_id, number)
) STRICT;

CREATE TABLE seat_key (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    seat_id    INTEGER NOT NULL REFERENCES seat (id) ON UPDATE CASCADE ON DELETE CASCADE,
    token_hash BLOB    NOT NULL UNIQUE CHECK (length(token_hash) >= 16),
    made_at    TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX seat_key_by_seat ON seat_key (seat_id);

CREATE TABLE seat_photo (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    seat_id  INTEGER NOT NULL REFERENCES seat (id) ON UPDATE CASCADE ON DELETE CASCADE,
    photo_id INTEGER NOT NULL UNIQUE REFERENCES photo (id) ON DELETE CASCADE
) STRICT;

CREATE INDEX seat_photo_by_seat ON seat_photo (seat_id);

CREATE TABLE seat_swatch (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    seat_id       INTEGER NOT NULL REFERENCES seat (id) ON UPDATE CASCADE ON DELETE CASCADE,
    swatch_number INTEGER NOT NULL UNIQUE REFERENCES swatch (number) ON DELETE CASCADE
) STRICT;

CREATE INDEX seat_swatch_by_seat ON seat_swatch (seat_id);

CREATE TRIGGER seat_words_note_unchanged BEFORE UPDATE OF note ON seat_words WHEN NEW.note <> ''
BEGIN SELECT RAISE(ABORT, 'a note is never changed; with its student it is erased'); END;

CREATE TRIGGER seat_words_unchanged BEFORE UPDATE OF client, swatch_number, face, words, covered, at, recorded_at ON seat_words
BEGIN SELECT RAISE(ABORT, 'what was said of a face is never changed'); END;

CREATE TABLE seat_words (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    class_id      INTEGER NOT NULL REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    seat_id       INTEGER REFERENCES seat (id) ON UPDATE CASCADE ON DELETE SET NULL,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    face          TEXT    NOT NULL CHECK (face IN ('front', 'back')),
    words         TEXT    NOT NULL CHECK (json_valid(words)),
    covered       REAL    CHECK (covered BETWEEN 0 AND 1),
    note          TEXT    NOT NULL,
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at   TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX seat_words_by_class ON seat_words (class_id, id);

CREATE INDEX seat_words_by_seat ON seat_words (seat_id);

CREATE INDEX seat_words_by_swatch ON seat_words (swatch_number);

CREATE TABLE set_judge (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    set_id       INTEGER NOT NULL REFERENCES swatch_set (id) ON DELETE CASCADE,
    made_at      TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    reference_id INTEGER REFERENCES bare_reference (id) ON DELETE SET NULL,
    painting_id  INTEGER REFERENCES painting (id) ON DELETE SET NULL
) STRICT;

CREATE INDEX set_judge_by_painting ON set_judge (painting_id);

CREATE INDEX set_judge_by_reference ON set_judge (reference_id);

CREATE INDEX set_judge_by_set ON set_judge (set_id, id);

CREATE TABLE setting (
    key   TEXT PRIMARY KEY CHECK (key <> ''),
    value TEXT NOT NULL
) STRICT;

CREATE TRIGGER setup_unchanged BEFORE UPDATE OF name, camera, lamp, kind, target, taken_at, made_at, fit, method, loo_mean_de00, loo_p95_de00, seen ON setup
BEGIN SELECT RAISE(ABORT, 'a kept setup is never changed'); END;

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

CREATE TRIGGER sheet_check_unchanged BEFORE UPDATE OF row, text, checked, at, by ON sheet_check
BEGIN SELECT RAISE(ABORT, 'a tick is never changed'); END;

CREATE TABLE sheet_check (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    supply_id INTEGER NOT NULL REFERENCES supply (id) ON UPDATE CASCADE ON DELETE CASCADE,
    row       TEXT    NOT NULL CHECK (row <> ''),
    text      TEXT    NOT NULL,
    checked   INTEGER NOT NULL CHECK (checked IN (0, 1)),
    at        TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by        TEXT    NOT NULL
) STRICT;

CREATE INDEX sheet_check_by_supply ON sheet_check (supply_id, id);

CREATE TRIGGER sheet_move_unchanged BEFORE UPDATE OF client, kind, count, width_mm, height_mm, price, lot, supplier, state, pieces, at, recorded_at, by, note ON sheet_move
BEGIN SELECT RAISE(ABORT, 'a movement of sheets is never changed'); END;

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

CREATE INDEX sheet_move_by_of ON sheet_move (of_id);

CREATE INDEX sheet_move_by_set ON sheet_move (set_id);

CREATE INDEX sheet_move_by_stack ON sheet_move (stack_id);

CREATE TRIGGER sighting_unchanged BEFORE UPDATE OF client, swatch_number, by, at ON sighting
BEGIN SELECT RAISE(ABORT, 'a sighting is never changed'); END;

CREATE TABLE sighting (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    round_id      INTEGER NOT NULL REFERENCES place_round (id) ON DELETE CASCADE,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    by            TEXT    NOT NULL,
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX sighting_by_round ON sighting (round_id, swatch_number);

CREATE INDEX sighting_by_swatch ON sighting (swatch_number);

CREATE TRIGGER sitting_unchanged BEFORE UPDATE OF question, source, set_id, blind, measured, seed, by, made_at ON sitting
BEGIN SELECT RAISE(ABORT, 'a sitting is never changed'); END;

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

CREATE TRIGGER sitting_face_unchanged BEFORE UPDATE ON sitting_face
BEGIN SELECT RAISE(ABORT, 'what a sitting is about is never changed'); END;

CREATE TRIGGER sitting_without_faces AFTER DELETE ON sitting_face
WHEN NOT EXISTS (SELECT 1 FROM sitting_face WHERE sitting_id = OLD.sitting_id)
BEGIN DELETE FROM sitting WHERE id = OLD.sitting_id; END;

CREATE TABLE sitting_face (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    sitting_id    INTEGER NOT NULL REFERENCES sitting (id) ON DELETE CASCADE,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    face          TEXT    NOT NULL CHECK (face IN ('front', 'back')),
    UNIQUE (sitting_id, swatch_number, face)
) STRICT;

CREATE INDEX sitting_face_by_swatch ON sitting_face (swatch_number);

CREATE TRIGGER stock_move_unchanged BEFORE UPDATE OF client, kind, amount, unit, lot, at, recorded_at, by, note, expires_on ON stock_move
BEGIN SELECT RAISE(ABORT, 'a movement of stock is never changed'); END;

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
    note        TEXT    NOT NULL, expires_on TEXT CHECK (expires_on GLOB '????-??-??'),
    CHECK ((kind = 'taken back') = (corrects IS NOT NULL))
) STRICT;

CREATE INDEX stock_move_by_corrects ON stock_move (corrects);

CREATE INDEX stock_move_by_supply ON stock_move (supply_id, at, id);

CREATE TABLE supply (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    name          TEXT    NOT NULL CHECK (name <> ''),
    material      TEXT    NOT NULL CHECK (material <> ''),
    strength      REAL    NOT NULL CHECK (strength >= 0),
    strength_unit TEXT    NOT NULL CHECK (strength_unit IN ('wt%', 'vol%', 'g/L', 'pure')),
    lot           TEXT    NOT NULL,
    opened_on     TEXT    CHECK (opened_on GLOB '????-??-??'),
    expires_on    TEXT    CHECK (expires_on GLOB '????-??-??'),
    note          TEXT    NOT NULL,
    invented      INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at     TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE swatch (
    number    INTEGER PRIMARY KEY CHECK (number >= 1),
    set_id    INTEGER NOT NULL REFERENCES swatch_set (id),
    metal_id  INTEGER REFERENCES metal (id),
    width_mm  REAL    NOT NULL CHECK (width_mm > 0),
    height_mm REAL    NOT NULL CHECK (height_mm > 0),
    blank     INTEGER NOT NULL CHECK (blank IN (0, 1)),
    note      TEXT    NOT NULL,
    made_at   TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    binned_at TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
, outside_mm2 REAL NOT NULL DEFAULT 0 CHECK (outside_mm2 >= 0), inside_mm2 REAL NOT NULL DEFAULT 0 CHECK (inside_mm2 >= 0)) STRICT;

CREATE INDEX swatch_by_set ON swatch (set_id);

CREATE TRIGGER swatch_move_unchanged BEFORE UPDATE OF client, swatch_number, cell_row, cell_column, due_on, at, recorded_at, by, note ON swatch_move
BEGIN SELECT RAISE(ABORT, 'a move is never changed'); END;

CREATE TABLE swatch_move (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    client        TEXT    NOT NULL UNIQUE CHECK (client <> ''),
    swatch_number INTEGER NOT NULL REFERENCES swatch (number) ON DELETE CASCADE,
    place_id      INTEGER REFERENCES place (id) ON DELETE CASCADE ON UPDATE CASCADE,
    cell_row      INTEGER NOT NULL CHECK (cell_row BETWEEN 0 AND 26),
    cell_column   INTEGER NOT NULL CHECK (cell_column BETWEEN 0 AND 26),
    due_on        TEXT    CHECK (due_on GLOB '????-??-??'),
    at            TEXT    NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    recorded_at   TEXT    NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??.???Z'),
    by            TEXT    NOT NULL,
    note          TEXT    NOT NULL,
    CHECK ((cell_row = 0) = (cell_column = 0))
) STRICT;

CREATE INDEX swatch_move_by_place ON swatch_move (place_id);

CREATE INDEX swatch_move_by_swatch ON swatch_move (swatch_number, id);

CREATE TABLE swatch_set (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    name       TEXT    NOT NULL CHECK (name <> ''),
    question   TEXT    NOT NULL,
    shape      TEXT    NOT NULL CHECK (shape IN ('ladder', 'grid', 'loose')),
    factors    TEXT    NOT NULL CHECK (json_valid(factors)),
    replicates INTEGER NOT NULL CHECK (replicates >= 0),
    blanks     INTEGER NOT NULL CHECK (blanks >= 0),
    seed       TEXT    NOT NULL CHECK (seed <> '' AND seed NOT GLOB '*[^0-9]*'),
    metal_id   INTEGER REFERENCES metal (id),
    width_mm   REAL    NOT NULL CHECK (width_mm >= 0),
    height_mm  REAL    NOT NULL CHECK (height_mm >= 0),
    chamber_id INTEGER REFERENCES chamber (id),
    front_id   INTEGER REFERENCES recipe_version (id),
    back_id    INTEGER REFERENCES recipe_version (id),
    same_faces INTEGER NOT NULL CHECK (same_faces IN (0, 1)),
    made_at    TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z'),
    invented   INTEGER NOT NULL CHECK (invented IN (0, 1)),
    binned_at  TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
, class TEXT NOT NULL DEFAULT '' CHECK (class IN ('', 'adults', '12-17', 'under 12')), room_id INTEGER REFERENCES room (id) ON UPDATE CASCADE, design TEXT NOT NULL DEFAULT '' CHECK (design IN ('', 'fraction', 'screening', 'curve', 'square', 'scattered', 'chosen', 'proposed')), piece_id INTEGER REFERENCES piece (id)) STRICT;

CREATE TRIGGER target_file_unchanged BEFORE UPDATE OF name, text, added_at ON target_file
BEGIN SELECT RAISE(ABORT, 'a kept target is never changed'); END;

CREATE TABLE target_file (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    name      TEXT    NOT NULL CHECK (name <> ''),
    text      TEXT    NOT NULL CHECK (text <> ''),
    added_at  TEXT    NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z'),
    binned_at TEXT    CHECK (binned_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE treatment (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    swatch_number INTEGER NOT NULL REFERENCES swatch (number),
    faces         TEXT    NOT NULL CHECK (faces IN ('front', 'back', 'both')),
    layer         INTEGER NOT NULL CHECK (layer >= 1),
    over_state    TEXT    NOT NULL CHECK (over_state IN ('', 'dry', 'still wet')),
    version_id    INTEGER REFERENCES recipe_version (id),
    steps         TEXT    NOT NULL CHECK (json_valid(steps)),
    settings      TEXT    NOT NULL CHECK (json_valid(settings)),
    run_order     INTEGER NOT NULL,
    replicate     INTEGER NOT NULL,
    blank         INTEGER NOT NULL CHECK (blank IN (0, 1)), block INTEGER NOT NULL DEFAULT 0 CHECK (block >= 0),
    UNIQUE (swatch_number, faces, layer)
) STRICT;

CREATE TRIGGER verdict_unchanged BEFORE UPDATE ON verdict
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed'); END;

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

CREATE TRIGGER wear_reading_unchanged BEFORE UPDATE OF test_id, client, kind, at, recorded_at, by, grade, count, voids, note ON wear_reading
BEGIN SELECT RAISE(ABORT, 'a reading is never changed'); END;

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

CREATE INDEX wear_reading_by_control_photo ON wear_reading (control_photo_id);

CREATE INDEX wear_reading_by_photo ON wear_reading (photo_id);

CREATE INDEX wear_reading_by_test ON wear_reading (test_id, id);

CREATE INDEX wear_reading_by_voids ON wear_reading (voids);

CREATE TRIGGER wear_test_unchanged BEFORE UPDATE OF client, swatch_number, face, protocol, version, sealer, conditions, site, control_face, start_at, by, recorded_at ON wear_test
BEGIN SELECT RAISE(ABORT, 'a test is never changed'); END;

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

CREATE INDEX wear_test_by_control ON wear_test (control_swatch);

CREATE INDEX wear_test_by_swatch ON wear_test (swatch_number, id);

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
