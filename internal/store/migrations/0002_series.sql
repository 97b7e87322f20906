-- +goose Up
-- 0002: photographs of one face through time may be taken through the chamber's lid.

ALTER TABLE photo ADD COLUMN through_lid INTEGER CHECK (through_lid = 1);
