package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"aerugo/internal/studio"
)

func scanDevice(r scanner) (d studio.Device, err error) {
	return d, r.Scan(&d.ID, &d.Name, intoTime{&d.Joined}, intoTime{&d.LastSeen}, &d.Revoked)
}

const selectDevice = `SELECT id, name, joined_at, last_seen_at, revoked_at IS NOT NULL FROM device`

// AddDevice lets a device in. Only the hash of its token is kept (16 bytes or more).
func (s *Store) AddDevice(ctx context.Context, name string, tokenHash []byte) (studio.Device, error) {
	if err := checkName(name, "device"); err != nil {
		return studio.Device{}, err
	}
	var id int64
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		id, err = number(ctx, tx, `INSERT INTO device (name, token_hash, joined_at, last_seen_at) VALUES (?1, ?2, ?3, ?3) RETURNING id`, name, tokenHash, stamp(s.now()))
		return err
	})
	if err != nil {
		return studio.Device{}, fault(err, "add device %s", name)
	}
	d, err := scanDevice(s.read.QueryRowContext(ctx, selectDevice+` WHERE id = ?`, id))
	return d, found(err, "device", id)
}

// DeviceByToken returns the device with that token hash, also one shut out
// (Revoked); the Problem is of kind NotFound if there is none.
func (s *Store) DeviceByToken(ctx context.Context, tokenHash []byte) (studio.Device, error) {
	d, err := scanDevice(s.read.QueryRowContext(ctx, selectDevice+` WHERE token_hash = ?`, tokenHash))
	if errors.Is(err, sql.ErrNoRows) {
		return d, studio.Problemf(studio.NotFound, "", "That device has not been let in.")
	}
	return d, fault(err, "look for a device")
}

// TouchDevice notes that a device was here just now. It writes at most once a
// minute for each device, so it may be called for every request.
func (s *Store) TouchDevice(ctx context.Context, id int64) error {
	now := s.now()
	d, err := scanDevice(s.read.QueryRowContext(ctx, selectDevice+` WHERE id = ?`, id))
	if err != nil {
		return found(err, "device", id)
	}
	if now.Sub(d.LastSeen) < time.Minute {
		return nil
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE device SET last_seen_at = ? WHERE id = ?`, stamp(now), id)
		return err
	})
	return fault(err, "note device %d", id)
}

// RevokeDevice shuts a device out for good.
func (s *Store) RevokeDevice(ctx context.Context, id int64) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "device", id, `UPDATE device SET revoked_at = coalesce(revoked_at, ?) WHERE id = ?`, stamp(s.now()), id)
	})
	return fault(err, "shut out device %d", id)
}

// Devices returns every device, those shut out too, in the order they joined.
func (s *Store) Devices(ctx context.Context) ([]studio.Device, error) {
	out, err := list(ctx, s.read, scanDevice, selectDevice+` ORDER BY id`)
	return out, fault(err, "list devices")
}

// Setting returns what is kept under key, empty if nothing is.
func (s *Store) Setting(ctx context.Context, key string) (string, error) {
	var value string
	err := s.read.QueryRowContext(ctx, `SELECT value FROM setting WHERE key = ?`, key).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return value, fault(err, "read setting %s", key)
}

// SaveSetting keeps value under key. Settings travel with an archive, so no
// secret belongs here.
func (s *Store) SaveSetting(ctx context.Context, key, value string) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO setting (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value`, key, value)
		return err
	})
	return fault(err, "save setting %s", key)
}
