package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"aerugo/internal/studio"
)

// The JSON documents of a class, as [studio.Class] holds them.
type (
	classRecipeDoc struct {
		VersionID int64 `json:"version_id"`
		PerHead   int   `json:"per_head,omitempty"`
		Shown     int   `json:"shown,omitempty"`
		MetalID   int64 `json:"metal_id,omitempty"`
	}
	classPartDoc struct {
		Kind      studio.PartKind   `json:"kind"`
		Words     string            `json:"words,omitempty"`
		Minutes   int               `json:"minutes"`
		VersionID int64             `json:"version_id,omitempty"`
		From      int               `json:"from_step,omitempty"`
		To        int               `json:"to_step,omitempty"`
		Where     studio.ClassWhere `json:"where,omitempty"`
	}
	kitLineDoc struct {
		What  string  `json:"what"`
		Count float64 `json:"count"`
		Unit  string  `json:"unit,omitempty"`
		Per   int     `json:"per,omitempty"`
		Spare float64 `json:"spare"`
		Own   bool    `json:"own,omitempty"`
		Left  bool    `json:"left,omitempty"`
	}
	riskLineDoc struct {
		Key      string `json:"key"`
		Hazard   string `json:"hazard,omitempty"`
		WhoHow   string `json:"who_how,omitempty"`
		Now      string `json:"now,omitempty"`
		More     string `json:"more,omitempty"`
		By       string `json:"by,omitempty"`
		Till     string `json:"till,omitempty"`
		DoneWhen string `json:"done_when,omitempty"`
	}
	classWasteDoc struct {
		What  string  `json:"what"`
		MassG float64 `json:"mass_g"`
	}
	classAfterDoc struct {
		Incident  string          `json:"incident,omitempty"`
		Surprised string          `json:"surprised,omitempty"`
		Note      string          `json:"note,omitempty"`
		Waste     []classWasteDoc `json:"waste,omitempty"`
		Fetched   []int64         `json:"fetched,omitempty"`
		Done      []string        `json:"done,omitempty"`
	}
)

func recipesToDoc(list []studio.ClassRecipe) []classRecipeDoc {
	out := make([]classRecipeDoc, len(list))
	for i, r := range list {
		out[i] = classRecipeDoc(r)
	}
	return out
}

func partsToDoc(list []studio.ClassPart) []classPartDoc {
	out := make([]classPartDoc, len(list))
	for i, p := range list {
		out[i] = classPartDoc(p)
	}
	return out
}

func kitToDoc(list []studio.KitLine) []kitLineDoc {
	out := make([]kitLineDoc, len(list))
	for i, k := range list {
		out[i] = kitLineDoc(k)
	}
	return out
}

func risksToDoc(list []studio.RiskLine) []riskLineDoc {
	out := make([]riskLineDoc, len(list))
	for i, r := range list {
		out[i] = riskLineDoc(r)
	}
	return out
}

func afterToDoc(a studio.ClassAfter) classAfterDoc {
	d := classAfterDoc{Incident: a.Incident, Surprised: a.Surprised, Note: a.Note, Fetched: a.Fetched, Done: a.Done}
	for _, w := range a.Waste {
		d.Waste = append(d.Waste, classWasteDoc(w))
	}
	return d
}

func (d classAfterDoc) after() studio.ClassAfter {
	a := studio.ClassAfter{Incident: d.Incident, Surprised: d.Surprised, Note: d.Note, Fetched: d.Fetched, Done: d.Done}
	for _, w := range d.Waste {
		a.Waste = append(a.Waste, studio.ClassWaste(w))
	}
	return a
}

const classColumns = `id, name, aim, teacher, starts_at, minutes, heads, who, skill, room_id, fumes, recipes, parts, kit, risks, after,
	set_id, ahead_id, day_id, follows_id, made_at, ended_at, invented, binned_at`

func scanClass(r scanner) (c studio.Class, err error) {
	var recipes []classRecipeDoc
	var parts []classPartDoc
	var kit []kitLineDoc
	var risks []riskLineDoc
	var after classAfterDoc
	err = r.Scan(&c.ID, &c.Name, &c.Aim, &c.Teacher, intoTime{&c.Starts}, &c.Minutes, &c.Heads, &c.Who, &c.Skill, intoRef{&c.RoomID}, &c.Where,
		intoJSON{&recipes}, intoJSON{&parts}, intoJSON{&kit}, intoJSON{&risks}, intoJSON{&after},
		intoRef{&c.SetID}, intoRef{&c.AheadID}, intoRef{&c.DayID}, intoRef{&c.FollowsID}, intoTime{&c.Made}, intoTime{&c.Ended}, &c.Invented, intoTime{&c.BinnedAt})
	for _, x := range recipes {
		c.Recipes = append(c.Recipes, studio.ClassRecipe(x))
	}
	for _, x := range parts {
		c.Parts = append(c.Parts, studio.ClassPart(x))
	}
	for _, x := range kit {
		c.Kit = append(c.Kit, studio.KitLine(x))
	}
	for _, x := range risks {
		c.Risks = append(c.Risks, studio.RiskLine(x))
	}
	c.After = after.after()
	return c, err
}

// Classes returns the classes that are not in the bin, by their beginning.
func (s *Store) Classes(ctx context.Context) ([]studio.Class, error) {
	out, err := list(ctx, s.read, scanClass, `SELECT `+classColumns+` FROM class WHERE binned_at IS NULL ORDER BY starts_at, id`)
	return out, fault(err, "list classes")
}

// Class returns one class, also from the bin.
func (s *Store) Class(ctx context.Context, id int64) (studio.Class, error) {
	c, err := scanClass(s.read.QueryRowContext(ctx, `SELECT `+classColumns+` FROM class WHERE id = ?`, id))
	return c, found(err, "class", id)
}

// ClassOfSet returns the class whose own swatches, or those made ahead of it, a
// set holds; a Problem of kind NotFound when there is none.
func (s *Store) ClassOfSet(ctx context.Context, set int64) (studio.Class, error) {
	c, err := scanClass(s.read.QueryRowContext(ctx, `SELECT `+classColumns+` FROM class WHERE (set_id = ?1 OR ahead_id = ?1) AND binned_at IS NULL ORDER BY id LIMIT 1`, set))
	return c, found(err, "class of set", set)
}

// SaveClass keeps a class: a new one when its ID is 0, else in place of what was
// kept. A zero Made becomes now. To change one part of a class that somebody else
// may be writing in, use [Store.ChangeClass].
func (s *Store) SaveClass(ctx context.Context, c studio.Class) (studio.Class, error) {
	if err := c.Check(); err != nil {
		return c, err
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		c, err = s.writeClass(ctx, tx, c)
		return err
	})
	return c, fault(err, "save class %s", c.Name)
}

// ChangeClass reads a class, lets change write in it and keeps it, in one
// transaction; when change returns an error nothing is kept.
func (s *Store) ChangeClass(ctx context.Context, id int64, change func(*studio.Class) error) (studio.Class, error) {
	var c studio.Class
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if c, err = scanClass(tx.QueryRowContext(ctx, `SELECT `+classColumns+` FROM class WHERE id = ?`, id)); err != nil {
			return found(err, "class", id)
		}
		if err = change(&c); err != nil {
			return err
		}
		c.ID = id
		if err = c.Check(); err != nil {
			return err
		}
		c, err = s.writeClass(ctx, tx, c)
		return err
	})
	return c, fault(err, "change class %d", id)
}

// EndClass keeps that a class is over; the first end counts.
func (s *Store) EndClass(ctx context.Context, id int64, at time.Time) error {
	_, err := s.ChangeClass(ctx, id, func(c *studio.Class) error {
		if c.Ended.IsZero() {
			c.Ended = at
		}
		return nil
	})
	return err
}

// writeClass writes a class that was checked.
func (s *Store) writeClass(ctx context.Context, tx *sql.Tx, c studio.Class) (studio.Class, error) {
	type need struct {
		what string
		id   int64
	}
	needs := []need{{"room", c.RoomID}, {"set", c.SetID}, {"set", c.AheadID}, {"bench day", c.DayID}, {"class", c.FollowsID}}
	for _, r := range c.Recipes {
		needs = append(needs, need{"recipe version", r.VersionID}, need{"metal", r.MetalID})
	}
	for _, p := range c.Parts {
		needs = append(needs, need{"recipe version", p.VersionID})
	}
	for _, n := range needs {
		if err := mustBeThere(ctx, tx, n.what, n.id); err != nil {
			return c, err
		}
	}
	if c.ID != 0 {
		if err := mustBeThere(ctx, tx, "class", c.ID); err != nil {
			return c, err
		}
	}
	if c.Made.IsZero() {
		c.Made = s.now()
	}
	var docs [5]string
	for i, d := range []any{recipesToDoc(c.Recipes), partsToDoc(c.Parts), kitToDoc(c.Kit), risksToDoc(c.Risks), afterToDoc(c.After)} {
		text, err := asJSON(d)
		if err != nil {
			return c, fmt.Errorf("write class %s: %w", c.Name, err)
		}
		docs[i] = text
	}
	var id any
	if c.ID != 0 {
		id = c.ID
	}
	return scanClass(tx.QueryRowContext(ctx, `INSERT INTO class (`+classColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, aim = excluded.aim, teacher = excluded.teacher, starts_at = excluded.starts_at, minutes = excluded.minutes,
			heads = excluded.heads, who = excluded.who, skill = excluded.skill, room_id = excluded.room_id, fumes = excluded.fumes, recipes = excluded.recipes,
			parts = excluded.parts, kit = excluded.kit, risks = excluded.risks, after = excluded.after, set_id = excluded.set_id, ahead_id = excluded.ahead_id,
			day_id = excluded.day_id, follows_id = excluded.follows_id, ended_at = excluded.ended_at
		RETURNING `+classColumns,
		id, c.Name, c.Aim, c.Teacher, stamp(c.Starts), c.Minutes, c.Heads, c.Who, c.Skill, ref(c.RoomID), c.Where, docs[0], docs[1], docs[2], docs[3], docs[4],
		ref(c.SetID), ref(c.AheadID), ref(c.DayID), ref(c.FollowsID), stamp(c.Made), stamp(c.Ended), c.Invented, stamp(c.BinnedAt)))
}

// deleteClasses removes the classes chosen by a condition. Their students are erased
// first, as they were promised.
func deleteClasses(ctx context.Context, tx *sql.Tx, where string, args ...any) (int, error) {
	seats, err := list(ctx, tx, scanSeat, `SELECT `+seatColumns+` FROM seat WHERE class_id IN (SELECT id FROM class WHERE `+where+`) ORDER BY id`, args...)
	if err != nil {
		return 0, fmt.Errorf("seats: %w", err)
	}
	for _, x := range seats {
		if err := eraseSeat(ctx, tx, x); err != nil {
			return 0, fmt.Errorf("seat %d: %w", x.ID, err)
		}
	}
	done, err := tx.ExecContext(ctx, `DELETE FROM class WHERE `+where, args...)
	if err != nil {
		return 0, fmt.Errorf("classes: %w", err)
	}
	n, err := done.RowsAffected()
	return int(n), err
}

// checkClassRefs reports what a class of an archive names that is not in it: what
// stands in JSON, no foreign key holds.
func checkClassRefs(ctx context.Context, tx *sql.Tx) error {
	n, err := number(ctx, tx, `SELECT coalesce((SELECT class.id FROM class, json_each(recipes) j WHERE NOT EXISTS (SELECT 1 FROM recipe_version v WHERE v.id = j.value ->> 'version_id')
			OR (coalesce(j.value ->> 'metal_id', 0) <> 0 AND NOT EXISTS (SELECT 1 FROM metal m WHERE m.id = j.value ->> 'metal_id'))
		UNION ALL SELECT class.id FROM class, json_each(parts) j WHERE coalesce(j.value ->> 'version_id', 0) <> 0 AND NOT EXISTS (SELECT 1 FROM recipe_version v WHERE v.id = j.value ->> 'version_id') LIMIT 1), 0)`)
	if err != nil {
		return err
	}
	if n != 0 {
		return unusable("The class %d names a recipe or a metal that is not in it.", n)
	}
	return nil
}
