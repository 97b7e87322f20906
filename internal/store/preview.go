package store

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"regexp"

	"aerugo/internal/studio"
)

// madeKind is what a made picture may be called.
var madeKind = regexp.MustCompile(`^[a-z0-9-]{1,40}$`)

// madePath returns the place of a picture made from a photograph, named by the
// photograph's bytes so that it cannot be taken for another's.
func (s *Store) madePath(ctx context.Context, photoID int64, kind string) (string, error) {
	if !madeKind.MatchString(kind) {
		return "", studio.Problemf(studio.NotFound, "", "There is no picture called %q.", kind)
	}
	var sha string
	if err := s.read.QueryRowContext(ctx, `SELECT sha256 FROM photo WHERE id = ?`, photoID).Scan(&sha); err != nil {
		return "", found(err, "photograph", photoID)
	}
	return s.path("photos", ".made", fmt.Sprintf("%s-%d-%s", sha[:16], photoID, kind)), nil
}

// SavePreview keeps a picture made from a photograph, called kind (small
// letters, digits and hyphens), so that it need not be made again. Such pictures
// may be lost at any time.
func (s *Store) SavePreview(ctx context.Context, photoID int64, kind string, data []byte) error {
	path, err := s.madePath(ctx, photoID, kind)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.path("photos", ".made"), 0o755); err != nil {
		return fmt.Errorf("keep %s of photograph %d: %w", kind, photoID, err)
	}
	if err := putFile(s.path("photos", ".arriving"), path, bytes.NewReader(data)); err != nil {
		return fmt.Errorf("keep %s of photograph %d: %w", kind, photoID, err)
	}
	return nil
}

// Preview returns a picture kept by [Store.SavePreview]; its Problem is of kind
// NotFound when it has to be made again.
func (s *Store) Preview(ctx context.Context, photoID int64, kind string) ([]byte, error) {
	path, err := s.madePath(ctx, photoID, kind)
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(path)
	if err != nil || len(data) == 0 {
		return nil, studio.Problemf(studio.NotFound, "", "The %s of photograph %d has not been made.", kind, photoID)
	}
	return data, nil
}
