package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"time"

	"aerugo/internal/studio"
)

// maxPhoto is the largest photograph kept, in bytes.
const maxPhoto = 256 << 20

const photoColumns = `p.id, p.swatch_number, p.face, p.moment, p.taken_at, p.taken_from, p.sha256, p.format, p.size_bytes,
	p.width_px, p.height_px, p.profile, p.camera, p.gps_removed, p.client, p.added_at, p.note, p.binned_at, p.salted, p.through_lid`

// selectPhoto reads photographs, each with its newest measurement if it has any.
const selectPhoto = `SELECT ` + photoColumns + `, ` + measurementColumns + ` FROM photo p
	JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id
	LEFT JOIN measurement m ON m.id = (SELECT max(id) FROM measurement WHERE photo_id = p.id)`

func scanPhoto(r scanner) (p studio.Photo, err error) {
	m, finish := measurementFields()
	err = r.Scan(append([]any{&p.ID, &p.Swatch, &p.Face, &p.Moment, intoTime{&p.Taken}, &p.TakenFrom, &p.SHA256, &p.Format, &p.Bytes,
		&p.Width, &p.Height, &p.Profile, &p.Camera, &p.GPSRemoved, intoWords{&p.Client}, intoTime{&p.Added}, &p.Note, intoTime{&p.BinnedAt}, intoYes{&p.Salted}, intoYes{&p.ThroughLid}}, m...)...)
	p.Measurement = finish()
	return p, err
}

// AddPhoto keeps a photograph and returns it as kept; existed says that it was
// there already, under its Client key or as the same picture of the same face.
// The file is safe on the disk before the record is written. SHA256, Bytes and,
// if zero, Added are set here; the caller has taken out the place (GPS) and read
// the rest. The same picture sent anew (under another key) comes back out of the bin.
func (s *Store) AddPhoto(ctx context.Context, p studio.Photo, data []byte) (kept studio.Photo, existed bool, err error) {
	all, there, err := s.AddPhotos(ctx, []studio.Photo{p}, data)
	if err != nil {
		return studio.Photo{}, false, err
	}
	return all[0], there[0], nil
}

// AddPhotos keeps one photograph of several faces: an entry for each, each with a
// Client key of its own, that share one file. All are kept or none is; otherwise
// it is as [Store.AddPhoto].
func (s *Store) AddPhotos(ctx context.Context, photos []studio.Photo, data []byte) (kept []studio.Photo, existed []bool, err error) {
	if len(data) == 0 || len(data) > maxPhoto {
		return nil, nil, studio.Problemf(studio.Invalid, "photo", "A photograph of %d bytes can't be kept; it must have some, and at most %d MB.", len(data), maxPhoto>>20)
	}
	now, sha := s.now(), hashOf(data)
	photos = slices.Clone(photos)
	for i := range photos {
		p := &photos[i]
		if p.Added.IsZero() {
			p.Added = now
		}
		if p.TakenFrom == "" {
			p.TakenFrom = "entered"
		}
		if err := checkPhoto(*p, now); err != nil {
			return nil, nil, err
		}
		p.SHA256, p.Bytes = sha, int64(len(data))
		if p.Format != photos[0].Format {
			return nil, nil, fmt.Errorf("add photograph %s: one file is of two formats, %s and %s", sha, photos[0].Format, p.Format)
		}
	}
	ids := make([]int64, len(photos))
	existed = make([]bool, len(photos))

	s.files.RLock()
	err = s.keepFileFor(ctx, photos, data)
	if err == nil {
		err = s.change(ctx, func(tx *sql.Tx) (err error) {
			for i, p := range photos {
				if ids[i], existed[i], err = s.insertPhoto(ctx, tx, p); err != nil {
					return err
				}
			}
			return nil
		})
	}
	s.files.RUnlock()
	if err != nil {
		if !inDoubt(err) && len(photos) > 0 {
			s.dropUnnamed(photos[0])
		}
		if isDiskFull(err) {
			return nil, nil, fileFault(err, "")
		}
		return nil, nil, fault(err, "add photograph %s", sha)
	}
	for _, id := range ids {
		p, err := s.Photo(ctx, id)
		if err != nil {
			return nil, nil, err
		}
		kept = append(kept, p)
	}
	return kept, existed, nil
}

// keepFileFor writes the file that photographs share, unless all of them are there.
func (s *Store) keepFileFor(ctx context.Context, photos []studio.Photo, data []byte) error {
	fresh := false
	for _, p := range photos {
		there, err := s.samePhoto(ctx, s.read, p)
		if err != nil {
			return err
		}
		if there == 0 {
			if _, err := s.Swatch(ctx, p.Swatch); err != nil {
				return err
			}
			fresh = true
		}
	}
	if !fresh {
		return nil
	}
	return fileFault(s.keepFile(photos[0], data), "keep file of photograph %s", photos[0].SHA256)
}

// insertPhoto records a photograph whose file is safe, unless it is there: the
// same upload may have come twice at once.
func (s *Store) insertPhoto(ctx context.Context, tx *sql.Tx, p studio.Photo) (id int64, existed bool, err error) {
	if id, err = s.samePhoto(ctx, tx, p); err != nil {
		return 0, false, err
	}
	if id != 0 {
		_, err = tx.ExecContext(ctx, `UPDATE photo SET binned_at = NULL WHERE id = ? AND binned_at IS NOT NULL AND client IS NOT ?`, id, words(p.Client))
		return id, true, err
	}
	id, err = number(ctx, tx, `INSERT INTO photo (swatch_number, face, moment, taken_at, taken_from, sha256, format, size_bytes, width_px,
		height_px, profile, camera, gps_removed, client, added_at, note, salted, through_lid) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
		p.Swatch, p.Face, p.Moment, stamp(p.Taken), p.TakenFrom, p.SHA256, p.Format, p.Bytes, p.Width,
		p.Height, p.Profile, p.Camera, p.GPSRemoved, words(p.Client), stamp(p.Added), p.Note, yes(p.Salted), yes(p.ThroughLid))
	return id, false, err
}

// samePhoto returns the id of the photograph that p is, or 0.
func (s *Store) samePhoto(ctx context.Context, q querier, p studio.Photo) (int64, error) {
	var id int64
	var sha string
	err := q.QueryRowContext(ctx, `SELECT id, sha256 FROM photo WHERE client = ?`, words(p.Client)).Scan(&id, &sha)
	if err == nil && sha != p.SHA256 {
		return 0, studio.Problemf(studio.Conflict, "client", "Another photograph was sent under the same key; reload the page and send this one again.")
	}
	if errors.Is(err, sql.ErrNoRows) {
		id, err = number(ctx, q, `SELECT id FROM photo WHERE swatch_number = ? AND face = ? AND sha256 = ?`, p.Swatch, p.Face, p.SHA256)
	}
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return id, err
}

// keepFile writes the photograph's file, unless it is there whole.
func (s *Store) keepFile(p studio.Photo, data []byte) error {
	path := s.path("photos", photoPath(p.SHA256, p.Format))
	if sha, _, err := fileHash(path); err == nil && sha == p.SHA256 {
		return nil
	}
	return putFile(s.path("photos", ".arriving"), path, bytes.NewReader(data))
}

// dropUnnamed removes the file of a photograph that could not be recorded, so
// that it takes no room. If others are busy with files it stays, and is put
// aside at the next opening.
func (s *Store) dropUnnamed(p studio.Photo) {
	if !s.files.TryLock() {
		return
	}
	defer s.files.Unlock()
	if n, err := number(context.Background(), s.read, `SELECT count(*) FROM photo WHERE sha256 = ?`, p.SHA256); err == nil && n == 0 {
		_ = os.Remove(s.path("photos", photoPath(p.SHA256, p.Format)))
	}
}

func checkPhoto(p studio.Photo, now time.Time) error {
	if p.Face != studio.Front && p.Face != studio.Back {
		return studio.Problemf(studio.Invalid, "face", "Say whether the photograph shows the front or the back.")
	}
	if !slices.Contains(studio.Moments, p.Moment) {
		return studio.Problemf(studio.Invalid, "moment", "Say whether the face is bare, under way or finished.")
	}
	if p.Taken.IsZero() {
		return studio.Problemf(studio.Invalid, "taken", "Say when the photograph was taken.")
	}
	if p.Taken.After(now.Add(2 * time.Minute)) {
		return studio.Problemf(studio.Invalid, "taken", "The photograph was taken on %s, which is in the future; it is %s now. Write when it was taken.",
			p.Taken.UTC().Format("2006-01-02 15:04 MST"), now.UTC().Format("2006-01-02 15:04 MST"))
	}
	if p.Taken.Year() < 1950 {
		return studio.Problemf(studio.Invalid, "taken", "The year %d can't be right; write when the photograph was taken.", p.Taken.Year())
	}
	switch p.TakenFrom {
	case "photo", "entered", "arrival":
	default:
		return studio.Problemf(studio.Invalid, "taken", "%q is not where a time can come from; it is photo, entered or arrival.", p.TakenFrom)
	}
	if _, ok := extensions[p.Format]; !ok {
		return studio.Problemf(studio.Invalid, "photo", "A %s file can't be kept as a photograph; send a JPEG, PNG, WebP or HEIC.", p.Format)
	}
	if len(p.Client) > 120 {
		return studio.Problemf(studio.Invalid, "client", "The photograph's key is too long; reload the page and send it again.")
	}
	if len(p.Note) > 4000 {
		return studio.Problemf(studio.Invalid, "note", "The note has %d characters; 4000 are the most.", len(p.Note))
	}
	return nil
}

// Photo returns one photograph's entry, also from the bin.
func (s *Store) Photo(ctx context.Context, id int64) (studio.Photo, error) {
	p, err := scanPhoto(s.read.QueryRowContext(ctx, selectPhoto+` WHERE p.id = ?`, id))
	return p, found(err, "photograph", id)
}

// PhotosOf returns the photographs of a swatch that are not in the bin, in the
// order they were taken.
func (s *Store) PhotosOf(ctx context.Context, swatch int64) ([]studio.Photo, error) {
	out, err := list(ctx, s.read, scanPhoto, selectPhoto+` WHERE p.swatch_number = ? AND p.binned_at IS NULL ORDER BY p.taken_at, p.id`, swatch)
	return out, fault(err, "list photographs of swatch %d", swatch)
}

// PhotoData returns the photograph's file as it was kept.
func (s *Store) PhotoData(ctx context.Context, id int64) ([]byte, error) {
	p, err := s.Photo(ctx, id)
	if err != nil {
		return nil, err
	}
	f, err := s.OpenPhoto(p.SHA256, p.Format)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(f)
	if err != nil {
		return nil, fmt.Errorf("read photograph %d: %w", id, err)
	}
	return data, nil
}

// OpenPhoto opens the file of a photograph by its SHA-256 and format.
func (s *Store) OpenPhoto(sha, format string) (io.ReadCloser, error) {
	if len(sha) != 64 || extensions[format] == "" {
		return nil, fmt.Errorf("open photograph %q: not the name of a photograph", sha)
	}
	path := photoPath(sha, format)
	f, err := os.Open(s.path("photos", path))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, studio.Problemf(studio.Machine, "", "The file photos/%s is missing from the studio's folder; copy it back from the newest backup.", path)
	}
	if err != nil {
		return nil, fmt.Errorf("open photograph %s: %w", sha, err)
	}
	return f, nil
}

// Together returns, for each photograph of several faces, the others' ids: the
// entries that share its file. What is in the bin, or on a swatch that is, is left out.
func (s *Store) Together(ctx context.Context) (map[int64][]int64, error) {
	const visible = `SELECT p.id, p.sha256 FROM photo p JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id
		WHERE p.binned_at IS NULL AND ` + listed
	pairs, err := list(ctx, s.read, func(r scanner) (ids [2]int64, err error) { return ids, r.Scan(&ids[0], &ids[1]) },
		`WITH seen AS (`+visible+`) SELECT a.id, b.id FROM seen a JOIN seen b ON b.sha256 = a.sha256 AND b.id <> a.id ORDER BY a.id, b.id`)
	if err != nil {
		return nil, fault(err, "list photographs of several faces")
	}
	out := map[int64][]int64{}
	for _, ids := range pairs {
		out[ids[0]] = append(out[ids[0]], ids[1])
	}
	return out, nil
}

// SharedWith returns the other photographs, not in the bin, that share the file
// of one.
func (s *Store) SharedWith(ctx context.Context, p studio.Photo) ([]studio.Photo, error) {
	out, err := list(ctx, s.read, scanPhoto, selectPhoto+` WHERE p.sha256 = ? AND p.id <> ? AND p.binned_at IS NULL AND `+listed+` ORDER BY p.id`, p.SHA256, p.ID)
	return out, fault(err, "list what shares photograph %d", p.ID)
}

// UpdatePhoto puts right what is said of a photograph: its swatch, face, moment,
// when it was taken, how, and the note. What was said before is kept beside it.
func (s *Store) UpdatePhoto(ctx context.Context, p studio.Photo) error {
	now := s.now()
	if err := checkPhoto(p, now); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		old, err := scanPhoto(tx.QueryRowContext(ctx, selectPhoto+` WHERE p.id = ?`, p.ID))
		if err != nil {
			return found(err, "photograph", p.ID)
		}
		if _, err := number(ctx, tx, `SELECT number FROM swatch WHERE number = ?`, p.Swatch); err != nil {
			return found(err, "swatch", p.Swatch)
		}
		twice, err := number(ctx, tx, `SELECT count(*) FROM photo WHERE swatch_number = ? AND face = ? AND sha256 = ? AND id <> ?`, p.Swatch, p.Face, old.SHA256, p.ID)
		if err != nil {
			return err
		}
		if twice > 0 {
			return studio.Problemf(studio.Conflict, "swatch", "The %s of swatch %d has this very photograph already; put one of the two in the bin.", p.Face, p.Swatch)
		}
		was, err := asJSON(changeDoc{old.Swatch, string(old.Face), string(old.Moment), old.Taken.UTC().Format(timeLayout), old.TakenFrom, old.Note, old.Salted, old.ThroughLid})
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO photo_change (photo_id, changed_at, was) VALUES (?, ?, ?)`, p.ID, stamp(now), was); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `UPDATE photo SET swatch_number = ?, face = ?, moment = ?, taken_at = ?, taken_from = ?, note = ?, salted = ?, through_lid = ? WHERE id = ?`,
			p.Swatch, p.Face, p.Moment, stamp(p.Taken), p.TakenFrom, p.Note, yes(p.Salted), yes(p.ThroughLid), p.ID)
		return err
	})
	return fault(err, "put photograph %d right", p.ID)
}

// A FaceKey names one face of one swatch.
type FaceKey struct {
	Swatch int64
	Face   studio.Face
}

// newestPhotos reads the newest photograph, by when it was taken, of every face;
// those of salt before fuming do not show how it turned out.
const newestPhotos = `SELECT swatch_number, face, id, taken_at FROM (
	SELECT p.swatch_number, p.face, p.id, p.taken_at, row_number() OVER (PARTITION BY p.swatch_number, p.face ORDER BY p.taken_at DESC, p.id DESC) AS place
	FROM photo p JOIN swatch w ON w.number = p.swatch_number JOIN swatch_set x ON x.id = w.set_id
	WHERE p.binned_at IS NULL AND p.salted IS NULL AND ` + listed + `) WHERE place = 1`

type newestPhoto struct {
	face  FaceKey
	id    int64
	taken time.Time
}

func scanNewest(r scanner) (n newestPhoto, err error) {
	return n, r.Scan(&n.face.Swatch, &n.face.Face, &n.id, intoTime{&n.taken})
}

// PhotoTimes returns when each photographed face was last photographed, without
// what is in the bin.
func (s *Store) PhotoTimes(ctx context.Context) (map[FaceKey]time.Time, error) {
	rows, err := list(ctx, s.read, scanNewest, newestPhotos)
	out := make(map[FaceKey]time.Time, len(rows))
	for _, n := range rows {
		out[n.face] = n.taken
	}
	return out, fault(err, "list times of photographs")
}

// NewestPhotos returns the id of the newest photograph of each photographed
// face, without what is in the bin.
func (s *Store) NewestPhotos(ctx context.Context) (map[FaceKey]int64, error) {
	rows, err := list(ctx, s.read, scanNewest, newestPhotos)
	out := make(map[FaceKey]int64, len(rows))
	for _, n := range rows {
		out[n.face] = n.id
	}
	return out, fault(err, "list newest photographs")
}
