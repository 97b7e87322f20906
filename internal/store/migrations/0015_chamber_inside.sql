-- +goose Up
-- 0015: the free room inside a chamber, over the pad; 0 where nobody has measured it.

ALTER TABLE chamber ADD COLUMN inner_length_mm REAL NOT NULL DEFAULT 0 CHECK (inner_length_mm >= 0);
ALTER TABLE chamber ADD COLUMN inner_width_mm REAL NOT NULL DEFAULT 0 CHECK (inner_width_mm >= 0);
ALTER TABLE chamber ADD COLUMN inner_height_mm REAL NOT NULL DEFAULT 0 CHECK (inner_height_mm >= 0);
