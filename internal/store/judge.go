package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"aerugo/internal/studio"
)

// bareDoc is what a bare reference was read as: CIELAB (D50), its covariance (LL,
// La, Lb, aa, ab, bb), and how.
type bareDoc struct {
	Lab       labDoc        `json:"lab"`
	Cov       studio.Spread `json:"covariance_lab2"`
	N         int           `json:"places"`
	SpreadDE  float64       `json:"spread_de00"`
	Corrected string        `json:"corrected_by"`
	Whole     bool          `json:"whole_face,omitempty"`
}

// strokeDoc is one pull of the brush, in mm from the face's top left corner.
type strokeDoc struct {
	Class    string       `json:"class"`
	RadiusMM float64      `json:"radius_mm"`
	Points   [][2]float64 `json:"points_mm"`
}

// groupDoc is the colours of one class.
type groupDoc struct {
	Class     string        `json:"class"`
	Reference bool          `json:"reference,omitempty"`
	N         int           `json:"places"`
	Lab       labDoc        `json:"lab"`
	Cov       studio.Spread `json:"covariance_lab2"`
}

type classErrorDoc struct {
	Class string  `json:"class"`
	N     int     `json:"places"`
	Wrong float64 `json:"wrong"`
}

// trainedDoc is a rule trained from examples.
type trainedDoc struct {
	Of          string          `json:"of"`
	Reference   string          `json:"reference,omitempty"`
	Groups      []groupDoc      `json:"groups"`
	Lambda      float64         `json:"lambda"`
	Gamma       float64         `json:"gamma"`
	Patches     int             `json:"patches"`
	Wrong       float64         `json:"wrong"`
	WrongStroke float64         `json:"wrong_by_stroke"`
	Errors      []classErrorDoc `json:"errors"`
	Calibrated  bool            `json:"calibrated,omitempty"`
}

func trainedToDoc(r studio.TrainedRule) trainedDoc {
	d := trainedDoc{r.Of, r.Reference, []groupDoc{}, r.Lambda, r.Gamma, r.Patches, r.Wrong, r.WrongStroke, []classErrorDoc{}, r.Calibrated}
	for _, g := range r.Groups {
		d.Groups = append(d.Groups, groupDoc{g.Class, g.Reference, g.N, labToDoc(g.Lab), g.Cov})
	}
	for _, e := range r.Errors {
		d.Errors = append(d.Errors, classErrorDoc(e))
	}
	return d
}

func (d trainedDoc) rule() studio.TrainedRule {
	r := studio.TrainedRule{Of: d.Of, Reference: d.Reference, Lambda: d.Lambda, Gamma: d.Gamma, Patches: d.Patches, Wrong: d.Wrong, WrongStroke: d.WrongStroke, Calibrated: d.Calibrated}
	for _, g := range d.Groups {
		r.Groups = append(r.Groups, studio.ColourGroup{Class: g.Class, Reference: g.Reference, N: g.N, Lab: g.Lab.lab(), Cov: g.Cov})
	}
	for _, e := range d.Errors {
		r.Errors = append(r.Errors, studio.ClassError(e))
	}
	return r
}

const bareColumns = `id, metal_id, photo_id, of_what, method, made_at, reading`

func scanBare(r scanner) (b studio.BareReference, err error) {
	var d bareDoc
	err = r.Scan(&b.ID, &b.Metal, intoRef{&b.Photo}, &b.Of, &b.Method, intoTime{&b.Made}, intoJSON{&d})
	b.Lab, b.Cov, b.N, b.SpreadDE, b.Corrected, b.Whole = d.Lab.lab(), d.Cov, d.N, d.SpreadDE, d.Corrected, d.Whole
	return b, err
}

// AddBareReference keeps what a metal looks like bare, beside what was kept
// before. A zero Made becomes now.
func (s *Store) AddBareReference(ctx context.Context, b studio.BareReference) (studio.BareReference, error) {
	reading, err := asJSON(bareDoc{labToDoc(b.Lab), b.Cov, b.N, b.SpreadDE, b.Corrected, b.Whole})
	if err != nil {
		return b, fmt.Errorf("write bare reference of metal %d: %w", b.Metal, err)
	}
	if b.Made.IsZero() {
		b.Made = s.now()
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		if err := mustBeThere(ctx, tx, "metal", b.Metal); err != nil {
			return err
		}
		if err := mustBeThere(ctx, tx, "photograph", b.Photo); err != nil {
			return err
		}
		b, err = scanBare(tx.QueryRowContext(ctx, `INSERT INTO bare_reference (metal_id, photo_id, of_what, method, made_at, reading)
			VALUES (?, ?, ?, ?, ?, ?) RETURNING `+bareColumns, b.Metal, ref(b.Photo), b.Of, b.Method, stamp(b.Made), reading))
		return err
	})
	return b, fault(err, "add bare reference of metal %d", b.Metal)
}

// mustBeThere reports a Problem when no such row exists; id 0 names none.
func mustBeThere(ctx context.Context, tx *sql.Tx, what string, id int64) error {
	table := map[string]string{"metal": "metal", "photograph": "photo", "set": "swatch_set", "bare reference": "bare_reference", "painting": "painting", "room": "room", "supply": "supply", "recipe version": "recipe_version", "piece": "piece", "place": "place", "class": "class", "bench day": "bench_day"}[what]
	key := "id"
	if what == "swatch" {
		table, key = "swatch", "number"
	}
	if id == 0 {
		return nil
	}
	if _, err := number(ctx, tx, `SELECT `+key+` FROM `+table+` WHERE `+key+` = ?`, id); errors.Is(err, sql.ErrNoRows) {
		return missing(what, id)
	} else if err != nil {
		return err
	}
	return nil
}

// BareReferences returns the bare references kept of a metal, newest first.
func (s *Store) BareReferences(ctx context.Context, metal int64) ([]studio.BareReference, error) {
	out, err := list(ctx, s.read, scanBare, `SELECT `+bareColumns+` FROM bare_reference WHERE metal_id = ? ORDER BY id DESC`, metal)
	return out, fault(err, "list bare references of metal %d", metal)
}

// BareReference returns one bare reference.
func (s *Store) BareReference(ctx context.Context, id int64) (studio.BareReference, error) {
	b, err := scanBare(s.read.QueryRowContext(ctx, `SELECT `+bareColumns+` FROM bare_reference WHERE id = ?`, id))
	return b, found(err, "bare reference", id)
}

const paintingColumns = `id, photo_id, of_what, made_at, strokes, trained`

func scanPainting(r scanner) (p studio.Painting, err error) {
	var strokes []strokeDoc
	var trained trainedDoc
	err = r.Scan(&p.ID, intoRef{&p.Photo}, &p.Of, intoTime{&p.Made}, intoJSON{&strokes}, intoJSON{&trained})
	for _, d := range strokes {
		x := studio.Stroke{Class: d.Class, RadiusMM: d.RadiusMM}
		for _, q := range d.Points {
			x.Points = append(x.Points, studio.Point{X: q[0], Y: q[1]})
		}
		p.Strokes = append(p.Strokes, x)
	}
	p.Rule = trained.rule()
	return p, err
}

// AddPainting keeps examples painted on a photograph with the rule trained from
// them. A zero Made becomes now.
func (s *Store) AddPainting(ctx context.Context, p studio.Painting) (studio.Painting, error) {
	if err := studio.CheckStrokes(p.Strokes); err != nil {
		return p, err
	}
	docs := []strokeDoc{}
	for _, x := range p.Strokes {
		d := strokeDoc{Class: x.Class, RadiusMM: x.RadiusMM}
		for _, q := range x.Points {
			d.Points = append(d.Points, [2]float64{q.X, q.Y})
		}
		docs = append(docs, d)
	}
	strokes, err := asJSON(docs)
	if err != nil {
		return p, fmt.Errorf("write examples on photograph %d: %w", p.Photo, err)
	}
	trained, err := asJSON(trainedToDoc(p.Rule))
	if err != nil {
		return p, fmt.Errorf("write rule of photograph %d: %w", p.Photo, err)
	}
	if p.Made.IsZero() {
		p.Made = s.now()
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		if err := mustBeThere(ctx, tx, "photograph", p.Photo); err != nil {
			return err
		}
		p, err = scanPainting(tx.QueryRowContext(ctx, `INSERT INTO painting (photo_id, of_what, made_at, strokes, trained)
			VALUES (?, ?, ?, ?, ?) RETURNING `+paintingColumns, ref(p.Photo), p.Of, stamp(p.Made), strokes, trained))
		return err
	})
	return p, fault(err, "add examples on photograph %d", p.Photo)
}

// PaintingOf returns the newest examples painted on a photograph, and false when
// there are none.
func (s *Store) PaintingOf(ctx context.Context, photo int64) (studio.Painting, bool, error) {
	p, err := scanPainting(s.read.QueryRowContext(ctx, `SELECT `+paintingColumns+` FROM painting WHERE photo_id = ? ORDER BY id DESC LIMIT 1`, photo))
	if errors.Is(err, sql.ErrNoRows) {
		return p, false, nil
	}
	return p, err == nil, fault(err, "read examples on photograph %d", photo)
}

// Painting returns painted examples by their id.
func (s *Store) Painting(ctx context.Context, id int64) (studio.Painting, error) {
	p, err := scanPainting(s.read.QueryRowContext(ctx, `SELECT `+paintingColumns+` FROM painting WHERE id = ?`, id))
	return p, found(err, "painting", id)
}

const judgeColumns = `id, set_id, made_at, reference_id, painting_id`

func scanJudge(r scanner) (j studio.SetJudge, err error) {
	return j, r.Scan(&j.ID, &j.Set, intoTime{&j.Made}, intoRef{&j.Reference}, intoRef{&j.Painting})
}

// AddSetJudge keeps by what a set's photographs are judged from now on. A zero
// Made becomes now.
func (s *Store) AddSetJudge(ctx context.Context, j studio.SetJudge) (studio.SetJudge, error) {
	if j.Made.IsZero() {
		j.Made = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		for _, x := range []struct {
			what string
			id   int64
		}{{"set", j.Set}, {"bare reference", j.Reference}, {"painting", j.Painting}} {
			if err := mustBeThere(ctx, tx, x.what, x.id); err != nil {
				return err
			}
		}
		j, err = scanJudge(tx.QueryRowContext(ctx, `INSERT INTO set_judge (set_id, made_at, reference_id, painting_id) VALUES (?, ?, ?, ?) RETURNING `+judgeColumns,
			j.Set, stamp(j.Made), ref(j.Reference), ref(j.Painting)))
		return err
	})
	return j, fault(err, "add judge of set %d", j.Set)
}

// SetJudge returns by what a set is judged; its ID is 0 when nothing was said.
func (s *Store) SetJudge(ctx context.Context, set int64) (studio.SetJudge, error) {
	j, err := scanJudge(s.read.QueryRowContext(ctx, `SELECT `+judgeColumns+` FROM set_judge WHERE set_id = ? ORDER BY id DESC LIMIT 1`, set))
	if errors.Is(err, sql.ErrNoRows) {
		return studio.SetJudge{Set: set}, nil
	}
	return j, fault(err, "read judge of set %d", set)
}
