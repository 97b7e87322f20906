-- +goose Up
-- 0017: students of a class. What was done names a seat by its number only; the name a
-- student gave stands in seat.name and nowhere else. Erasing a student takes the seat
-- out with all that hangs on it, and leaves 'a student' in the record.

CREATE TABLE class_terms (
    class_id  INTEGER PRIMARY KEY REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    names     INTEGER NOT NULL CHECK (names IN (0, 1)),
    keep_days INTEGER NOT NULL CHECK (keep_days BETWEEN 0 AND 730),
    link_days INTEGER NOT NULL CHECK (link_days BETWEEN 0 AND keep_days)
) STRICT;

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

CREATE TABLE seat_swatch (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    seat_id       INTEGER NOT NULL REFERENCES seat (id) ON UPDATE CASCADE ON DELETE CASCADE,
    swatch_number INTEGER NOT NULL UNIQUE REFERENCES swatch (number) ON DELETE CASCADE
) STRICT;
CREATE INDEX seat_swatch_by_seat ON seat_swatch (seat_id);

CREATE TABLE seat_photo (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    seat_id  INTEGER NOT NULL REFERENCES seat (id) ON UPDATE CASCADE ON DELETE CASCADE,
    photo_id INTEGER NOT NULL UNIQUE REFERENCES photo (id) ON DELETE CASCADE
) STRICT;
CREATE INDEX seat_photo_by_seat ON seat_photo (seat_id);

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
CREATE TRIGGER seat_words_unchanged BEFORE UPDATE OF client, swatch_number, face, words, covered, at, recorded_at ON seat_words
BEGIN SELECT RAISE(ABORT, 'what was said of a face is never changed'); END;
CREATE TRIGGER seat_words_note_unchanged BEFORE UPDATE OF note ON seat_words WHEN NEW.note <> ''
BEGIN SELECT RAISE(ABORT, 'a note is never changed; with its student it is erased'); END;

CREATE TABLE class_sitting (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    class_id   INTEGER NOT NULL REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    sitting_id INTEGER NOT NULL UNIQUE REFERENCES sitting (id) ON DELETE CASCADE
) STRICT;
CREATE INDEX class_sitting_by_class ON class_sitting (class_id);

-- What lets a phone to its seat, and a class's way in, stay with this folder, as the
-- devices do.
CREATE TABLE seat_key (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    seat_id    INTEGER NOT NULL REFERENCES seat (id) ON UPDATE CASCADE ON DELETE CASCADE,
    token_hash BLOB    NOT NULL UNIQUE CHECK (length(token_hash) >= 16),
    made_at    TEXT    NOT NULL CHECK (made_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX seat_key_by_seat ON seat_key (seat_id);

CREATE TABLE class_door (
    class_id  INTEGER PRIMARY KEY REFERENCES class (id) ON UPDATE CASCADE ON DELETE CASCADE,
    code      TEXT    NOT NULL UNIQUE CHECK (code <> ''),
    opened_at TEXT    NOT NULL CHECK (opened_at GLOB '????-??-??T??:??:??.???Z'),
    closes_at TEXT    NOT NULL CHECK (closes_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

-- A record of what happened is still never changed, but for one thing: the hand of a
-- seat becomes 'a student', and a note of that hand may lose the student's name with it.
DROP TRIGGER event_unchanged;
CREATE TRIGGER event_unchanged BEFORE UPDATE OF id, treatment_id, client, kind, step, at, recorded_at, corrects, amount, room_c, room_rh ON event
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never changed'); END;
CREATE TRIGGER event_hand_unchanged BEFORE UPDATE OF by, note ON event WHEN NOT (OLD.by GLOB 'seat [0-9]*' AND NEW.by = 'a student')
BEGIN SELECT RAISE(ABORT, 'a record of what happened is never changed'); END;
DROP TRIGGER choice_unchanged;
CREATE TRIGGER choice_unchanged BEFORE UPDATE OF id, sitting_id, client, left_swatch, left_face, right_swatch, right_face, chosen, undoes, took_ms, at, recorded_at ON choice
BEGIN SELECT RAISE(ABORT, 'a choice is never changed'); END;
CREATE TRIGGER choice_hand_unchanged BEFORE UPDATE OF who ON choice WHEN NOT (OLD.who GLOB 'seat [0-9]*' AND NEW.who GLOB 'a student*')
BEGIN SELECT RAISE(ABORT, 'a choice is never changed'); END;
