-- +goose Up
-- 0007: how the settings of a set were chosen, and which filling of the chamber
-- (or day) of the plan a treatment belongs to; '' and 0 where nobody said.

ALTER TABLE swatch_set ADD COLUMN design TEXT NOT NULL DEFAULT '' CHECK (design IN ('', 'fraction', 'screening', 'curve', 'square', 'scattered', 'chosen', 'proposed'));
ALTER TABLE treatment ADD COLUMN block INTEGER NOT NULL DEFAULT 0 CHECK (block >= 0);
