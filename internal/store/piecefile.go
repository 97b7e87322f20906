package store

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"

	"aerugo/internal/studio"
)

// pieceFiles is the drawings and models that pieces name, in SQL.
const pieceFiles = `SELECT form ->> 'sha256' AS sha256, form ->> 'format' AS format, coalesce(form ->> 'bytes', 0) AS bytes FROM piece WHERE form ->> 'sha256' <> ''`

// SavePieceWithFile keeps a piece as [Store.SavePiece] does, with the drawing or
// model it was made from. The file is safe on the disk before the record is
// written; its name, size and SHA-256 are put into the form.
func (s *Store) SavePieceWithFile(ctx context.Context, p studio.Piece, data []byte) (studio.Piece, error) {
	p.Form.SHA256, p.Form.Bytes = hashOf(data), int64(len(data))
	p.Form.FileName = sheetName(p.Form.FileName)
	if err := p.Check(); err != nil {
		return p, err
	}
	s.files.RLock()
	place := s.path(filePath(p.Form.SHA256, p.Form.Format))
	var err error
	if sha, _, lost := fileHash(place); lost != nil || sha != p.Form.SHA256 {
		err = fileFault(putFile(s.path("photos", ".arriving"), place, bytes.NewReader(data)), "keep file of piece %s", p.Name)
	}
	kept := p
	if err == nil {
		kept, err = s.SavePiece(ctx, p)
	}
	s.files.RUnlock()
	if err != nil && !inDoubt(err) {
		s.dropUnnamedForm(p.Form)
	}
	return kept, fault(err, "save piece %s with its file", p.Name)
}

// dropUnnamedForm removes the file of a piece that could not be recorded.
func (s *Store) dropUnnamedForm(f studio.Form) {
	if !s.files.TryLock() {
		return
	}
	defer s.files.Unlock()
	if n, err := number(context.Background(), s.read, `SELECT count(*) FROM (`+pieceFiles+`) WHERE sha256 = ?`, f.SHA256); err == nil && n == 0 {
		_ = os.Remove(s.path(filePath(f.SHA256, f.Format)))
	}
}

// OpenPieceFile opens the drawing or model of a piece by its SHA-256 and format.
func (s *Store) OpenPieceFile(sha, format string) (*os.File, error) {
	if len(sha) != 64 || studio.FormFormats[format] == "" {
		return nil, errors.New("open piece file: not the name of one")
	}
	f, err := os.Open(s.path(filePath(sha, format)))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, studio.Problemf(studio.Machine, "", "The file pieces/%s/%s.%s is missing from the studio's folder; copy it back from the newest backup.", sha[:2], sha, studio.FormFormats[format])
	}
	return f, err
}
