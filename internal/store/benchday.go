package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// hoursDoc is a time in a bench day's ask, as RFC 3339 in UTC.
type hoursDoc struct {
	From time.Time `json:"from"`
	Till time.Time `json:"till"`
	Why  string    `json:"why,omitempty"`
}

type personDoc struct {
	Name  string     `json:"name"`
	There []hoursDoc `json:"there"`
	Away  []hoursDoc `json:"away,omitempty"`
}

type stretchDoc struct {
	Treatment int64 `json:"treatment_id"`
	Step      int   `json:"step"`
	Minutes   int   `json:"longer_min"`
}

// benchAskDoc is what a bench day is to hold.
type benchAskDoc struct {
	People       []personDoc  `json:"people"`
	Treatments   []int64      `json:"treatment_ids"`
	Overnight    bool         `json:"overnight,omitempty"`
	AnyOrder     bool         `json:"any_order,omitempty"`
	DryingPlaces int          `json:"drying_places,omitempty"`
	Stretch      []stretchDoc `json:"stretch,omitempty"`
	LaterMin     int          `json:"later_min,omitempty"`
}

// benchStartDoc is when one piece of work starts.
type benchStartDoc struct {
	Treatment int64     `json:"treatment_id"`
	Step      int       `json:"step"`
	What      string    `json:"what"`
	At        time.Time `json:"at"`
	Minutes   int       `json:"lasts_min"`
}

func hoursToDoc(list []studio.Hours) []hoursDoc {
	var out []hoursDoc
	for _, h := range list {
		out = append(out, hoursDoc{h.From.UTC(), h.Till.UTC(), h.Why})
	}
	return out
}

func hoursOf(docs []hoursDoc) []studio.Hours {
	var out []studio.Hours
	for _, h := range docs {
		out = append(out, studio.Hours{From: h.From.UTC(), Till: h.Till.UTC(), Why: h.Why})
	}
	return out
}

func benchAskToDoc(a studio.BenchAsk) benchAskDoc {
	d := benchAskDoc{Treatments: a.Treatments, Overnight: a.Overnight, AnyOrder: a.AnyOrder, DryingPlaces: a.DryingPlaces, LaterMin: a.LaterMin}
	for _, p := range a.People {
		d.People = append(d.People, personDoc{p.Name, hoursToDoc(p.There), hoursToDoc(p.Away)})
	}
	for _, x := range a.Stretch {
		d.Stretch = append(d.Stretch, stretchDoc(x))
	}
	return d
}

func (d benchAskDoc) ask() studio.BenchAsk {
	a := studio.BenchAsk{Treatments: d.Treatments, Overnight: d.Overnight, AnyOrder: d.AnyOrder, DryingPlaces: d.DryingPlaces, LaterMin: d.LaterMin}
	for _, p := range d.People {
		a.People = append(a.People, studio.BenchPerson{Name: p.Name, There: hoursOf(p.There), Away: hoursOf(p.Away)})
	}
	for _, x := range d.Stretch {
		a.Stretch = append(a.Stretch, studio.BenchStretch(x))
	}
	return a
}

func scanBenchDay(r scanner) (d studio.BenchDay, err error) {
	return d, r.Scan(&d.ID, &d.Name, intoTime{&d.Made}, &d.By, intoTime{&d.Ended})
}

const benchDayColumns = `id, name, made_at, by, ended_at`

// BenchDays returns the bench days, the newest first.
func (s *Store) BenchDays(ctx context.Context) ([]studio.BenchDay, error) {
	out, err := list(ctx, s.read, scanBenchDay, `SELECT `+benchDayColumns+` FROM bench_day ORDER BY id DESC`)
	return out, fault(err, "list bench days")
}

// BenchDay returns one bench day.
func (s *Store) BenchDay(ctx context.Context, id int64) (studio.BenchDay, error) {
	d, err := scanBenchDay(s.read.QueryRowContext(ctx, `SELECT `+benchDayColumns+` FROM bench_day WHERE id = ?`, id))
	return d, found(err, "bench day", id)
}

// AddBenchDay keeps a new bench day with its first plan, both or neither. Zero
// Made times become now.
func (s *Store) AddBenchDay(ctx context.Context, d studio.BenchDay, first studio.BenchPlan) (studio.BenchDay, studio.BenchPlan, error) {
	if err := checkName(d.Name, "bench day"); err != nil {
		return d, first, err
	}
	if err := checkBenchPlan(first); err != nil {
		return d, first, err
	}
	if d.Made.IsZero() {
		d.Made = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if d, err = scanBenchDay(tx.QueryRowContext(ctx, `INSERT INTO bench_day (name, made_at, by) VALUES (?, ?, ?) RETURNING `+benchDayColumns, d.Name, stamp(d.Made), d.By)); err != nil {
			return err
		}
		first.Day = d.ID
		first, err = s.addBenchPlan(ctx, tx, first)
		return err
	})
	return d, first, fault(err, "add bench day %s", d.Name)
}

// EndBenchDay keeps that a bench day is over; the first end counts.
func (s *Store) EndBenchDay(ctx context.Context, id int64, at time.Time) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "bench day", id, `UPDATE bench_day SET ended_at = coalesce(ended_at, ?) WHERE id = ?`, stamp(at), id)
	})
	return fault(err, "end bench day %d", id)
}

const benchPlanColumns = `id, day_id, made_at, by, why, ask, starts, finish_at, bound_at, openings, moved, moved_min`

func scanBenchPlan(r scanner) (p studio.BenchPlan, err error) {
	var ask benchAskDoc
	var starts []benchStartDoc
	err = r.Scan(&p.ID, &p.Day, intoTime{&p.Made}, &p.By, &p.Why, intoJSON{&ask}, intoJSON{&starts}, intoTime{&p.Finish}, intoTime{&p.Bound}, &p.Openings, &p.Moved, &p.MovedMin)
	p.Ask = ask.ask()
	for _, x := range starts {
		x.At = x.At.UTC()
		p.Starts = append(p.Starts, studio.BenchStart(x))
	}
	return p, err
}

// AddBenchPlan keeps another plan of a bench day. A zero Made time becomes now.
func (s *Store) AddBenchPlan(ctx context.Context, p studio.BenchPlan) (studio.BenchPlan, error) {
	if err := checkBenchPlan(p); err != nil {
		return p, err
	}
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		p, err = s.addBenchPlan(ctx, tx, p)
		return err
	})
	return p, fault(err, "add a plan to bench day %d", p.Day)
}

func checkBenchPlan(p studio.BenchPlan) error {
	if err := p.Ask.Check(); err != nil {
		return err
	}
	for _, x := range p.Starts {
		if x.Treatment < 1 || x.Step < 0 || x.At.IsZero() || x.Minutes < 0 || x.What == "" {
			return studio.Problemf(studio.Invalid, "starts", "A start of treatment %d can't be kept: it needs a step, a time and how long it takes.", x.Treatment)
		}
	}
	return nil
}

func (s *Store) addBenchPlan(ctx context.Context, tx *sql.Tx, p studio.BenchPlan) (studio.BenchPlan, error) {
	if _, err := number(ctx, tx, `SELECT id FROM bench_day WHERE id = ?`, p.Day); errors.Is(err, sql.ErrNoRows) {
		return p, missing("bench day", p.Day)
	} else if err != nil {
		return p, err
	}
	if p.Made.IsZero() {
		p.Made = s.now()
	}
	ask, err := asJSON(benchAskToDoc(p.Ask))
	if err != nil {
		return p, err
	}
	starts := make([]benchStartDoc, len(p.Starts))
	for i, x := range p.Starts {
		x.At = x.At.UTC()
		starts[i] = benchStartDoc(x)
	}
	kept, err := asJSON(starts)
	if err != nil {
		return p, err
	}
	return scanBenchPlan(tx.QueryRowContext(ctx, `INSERT INTO bench_plan (day_id, made_at, by, why, ask, starts, finish_at, bound_at, openings, moved, moved_min)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+benchPlanColumns,
		p.Day, stamp(p.Made), p.By, p.Why, ask, kept, stamp(p.Finish), stamp(p.Bound), p.Openings, p.Moved, p.MovedMin))
}

// BenchPlans returns the plans of a bench day, the first first.
func (s *Store) BenchPlans(ctx context.Context, day int64) ([]studio.BenchPlan, error) {
	out, err := list(ctx, s.read, scanBenchPlan, `SELECT `+benchPlanColumns+` FROM bench_plan WHERE day_id = ? ORDER BY id`, day)
	return out, fault(err, "list plans of bench day %d", day)
}

// LastBenchPlan returns the plan of a bench day that counts.
func (s *Store) LastBenchPlan(ctx context.Context, day int64) (studio.BenchPlan, error) {
	p, err := scanBenchPlan(s.read.QueryRowContext(ctx, `SELECT `+benchPlanColumns+` FROM bench_plan WHERE day_id = ? ORDER BY id DESC LIMIT 1`, day))
	return p, found(err, "plan of bench day", day)
}

const benchClaimColumns = `id, day_id, treatment_id, step, person, client, at, by`

func scanBenchClaim(r scanner) (c studio.BenchClaim, err error) {
	return c, r.Scan(&c.ID, &c.Day, &c.Treatment, &c.Step, &c.Person, &c.Client, intoTime{&c.At}, &c.By)
}

// AddBenchClaims keeps who takes which steps, all or none; an empty Person gives
// one back. A claim whose Client key is there already is not kept a second time.
func (s *Store) AddBenchClaims(ctx context.Context, claims []studio.BenchClaim) error {
	for _, c := range claims {
		if strings.TrimSpace(c.Client) == "" || c.Step < 0 || c.At.IsZero() || len(c.Person) > 60 {
			return studio.Problemf(studio.Invalid, "client", "That tap can't be kept; reload the page and tap again.")
		}
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		for _, c := range claims {
			if _, err := tx.ExecContext(ctx, `INSERT INTO bench_claim (day_id, treatment_id, step, person, client, at, by) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (client) DO NOTHING`,
				c.Day, c.Treatment, c.Step, c.Person, c.Client, stamp(c.At), c.By); err != nil {
				return err
			}
		}
		return nil
	})
	return fault(err, "add %d claims", len(claims))
}

// BenchClaims returns who took which step of a bench day, the first first.
func (s *Store) BenchClaims(ctx context.Context, day int64) ([]studio.BenchClaim, error) {
	out, err := list(ctx, s.read, scanBenchClaim, `SELECT `+benchClaimColumns+` FROM bench_claim WHERE day_id = ? ORDER BY id`, day)
	return out, fault(err, "list claims of bench day %d", day)
}
