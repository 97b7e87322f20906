package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	sqlite3 "modernc.org/sqlite/lib"

	"aerugo/internal/studio"
)

// Records are all records of a studio, by kind, as they travel in an archive.
type Records []Kind

// A Kind is all records of one kind in the order of their key. Each row is a
// JSON object whose fields are named, and ordered, as in the database.
type Kind struct {
	Name string
	Rows []json.RawMessage
}

// table says how one kind of record stands in the database. Columns after a
// colon hold: json, bool, integer, number; without one, text.
type table struct {
	kind, table, order string
	columns            []column
}

type column struct{ name, holds string }

// tables are the kinds in an order in which each refers only to earlier ones
// (overlays and corrections aside). Devices stay behind: a phone is let in to
// one studio folder. A test holds this list against the database.
var tables = []table{
	{"metals", "metal", "id", cols("id:integer name alloy temper thickness_mm:number gauge_words lot note invented:bool binned_at")},
	{"supplies", "supply", "id", cols("id:integer name material strength:number strength_unit lot opened_on expires_on note invented:bool binned_at")},
	{"data_sheets", "data_sheet", "id", cols("id:integer supply_id:integer name sha256 size_bytes:integer added_at by")},
	{"sheet_checks", "sheet_check", "id", cols("id:integer supply_id:integer row text checked:bool at by")},
	{"rooms", "room", "id", cols("id:integer name volume_m3:number ach:number mixing:number hood:bool outdoors:bool invented:bool binned_at")},
	{"chambers", "chamber", "id", cols("id:integer name volume_l:number pad pad_ml:number gap_mm:number tilt_deg:number places:integer note invented:bool binned_at leak_per_h:number open_loss:number room_id:integer inner_length_mm:number inner_width_mm:number inner_height_mm:number")},
	{"hand_amounts", "hand_amount", "id", cols("id:integer word material mean:number sd:number unit weighings:integer")},
	{"recipes", "recipe", "id", cols("id:integer name invented:bool binned_at last_number:integer")},
	{"recipe_versions", "recipe_version", "id", cols("id:integer recipe_id:integer number:integer steps:json over_id:integer over_state why made_at source_key binned_at")},
	{"recipe_origins", "recipe_origin", "id", cols("id:integer recipe_id:integer origin_id versions:json file_name file_sha256 document:json by at")},
	{"pieces", "piece", "id", cols("id:integer name form:json metal_id:integer outside_id:integer inside_id:integer same_faces:bool reference:integer note made_at invented:bool binned_at")},
	{"sets", "swatch_set", "id", cols("id:integer name question shape factors:json replicates:integer blanks:integer seed metal_id:integer width_mm:number height_mm:number chamber_id:integer front_id:integer back_id:integer same_faces:bool made_at invented:bool binned_at class room_id:integer design piece_id:integer")},
	{"counters", "counter", "name", cols("name next:integer")},
	{"swatches", "swatch", "number", cols("number:integer set_id:integer metal_id:integer width_mm:number height_mm:number blank:bool note made_at binned_at outside_mm2:number inside_mm2:number")},
	{"treatments", "treatment", "id", cols("id:integer swatch_number:integer faces layer:integer over_state version_id:integer steps:json settings:json run_order:integer replicate:integer blank:bool block:integer")},
	{"events", "event", "id", cols("id:integer treatment_id:integer client kind step:integer at recorded_at by corrects:integer amount:json room_c:number room_rh:number note")},
	{"chamber_log", "chamber_log", "id", cols("id:integer chamber_id:integer client kind at recorded_at by corrects:integer supply_id:integer strength_wt:number solution_g:number pad_c:number piece_c:number treatment_id:integer face saw cap:json note")},
	{"photos", "photo", "id", cols("id:integer swatch_number:integer face moment taken_at taken_from sha256 format size_bytes:integer width_px:integer height_px:integer profile camera gps_removed:bool client added_at note binned_at through_lid:bool salted:bool")},
	{"photo_changes", "photo_change", "id", cols("id:integer photo_id:integer changed_at was:json")},
	{"measurements", "measurement", "id", cols("id:integer photo_id:integer method made_at marks:json calibrated:bool lab_l:number lab_a:number lab_b:number spread_lab:number colour_name palette:json coverage:number coverage_low:number coverage_high:number coverage_rule glare:number detail:json warnings:json")},
	{"bare_references", "bare_reference", "id", cols("id:integer metal_id:integer photo_id:integer of_what method made_at reading:json")},
	{"paintings", "painting", "id", cols("id:integer photo_id:integer of_what made_at strokes:json trained:json")},
	{"set_judges", "set_judge", "id", cols("id:integer set_id:integer made_at reference_id:integer painting_id:integer")},
	{"grain_counts", "grain_count", "id", cols("id:integer photo_id:integer method made_at marks:json grains:integer grains_low:number grains_high:number covered:number per_cm2:number detail:json")},
	{"weighed_salts", "weighed_salt", "id", cols("id:integer photo_id:integer of_what material made_at mass_g:number sd_g:number area_cm2:number grains:integer covered:number per_cm2:number")},
	{"setups", "setup", "id", cols("id:integer name camera lamp kind target photo_id:integer taken_at made_at fit:json method loo_mean_de00:number loo_p95_de00:number seen:json binned_at")},
	{"target_files", "target_file", "id", cols("id:integer name text added_at binned_at")},
	{"mat_prints", "mat_print", "id", cols("id:integer paper swatches:integer printed_on ruler_mm:number measured_at")},
	{"sittings", "sitting", "id", cols("id:integer question source set_id:integer blind:bool measured:bool seed by made_at closed_at")},
	{"sitting_faces", "sitting_face", "id", cols("id:integer sitting_id:integer swatch_number:integer face")},
	{"choices", "choice", "id", cols("id:integer sitting_id:integer client who left_swatch:integer left_face right_swatch:integer right_face chosen undoes:integer took_ms:integer at recorded_at")},
	{"scores", "score", "id", cols("id:integer client swatch_number:integer face aspect value:integer who at recorded_at")},
	{"bench_days", "bench_day", "id", cols("id:integer name made_at by ended_at")},
	{"bench_plans", "bench_plan", "id", cols("id:integer day_id:integer made_at by why ask:json starts:json finish_at bound_at openings:integer moved:integer moved_min:integer")},
	{"bench_claims", "bench_claim", "id", cols("id:integer day_id:integer treatment_id:integer step:integer person client at by")},
	{"classes", "class", "id", cols("id:integer name aim teacher starts_at minutes:integer heads:integer who skill room_id:integer fumes recipes:json parts:json kit:json risks:json after:json set_id:integer ahead_id:integer day_id:integer follows_id:integer made_at ended_at invented:bool binned_at")},
	{"pack_prices", "pack_price", "id", cols("id:integer supply_id:integer size:number unit price grade keep:number made_at by")},
	{"metal_prices", "metal_price", "id", cols("id:integer metal_id:integer per price width_mm:number height_mm:number loss made_at by")},
	{"stock_moves", "stock_move", "id", cols("id:integer supply_id:integer client kind amount:number unit lot at recorded_at by corrects:integer note expires_on")},
	{"sheet_moves", "sheet_move", "id", cols("id:integer metal_id:integer client kind stack_id:integer of_id:integer count:integer width_mm:number height_mm:number price lot supplier state set_id:integer pieces:integer at recorded_at by note")},
	{"quotes", "quote", "id", cols("id:integer number:integer client set_id:integer made_at by currency day valid_days:integer customer lines:json tax care note basis:json")},
	{"wear_tests", "wear_test", "id", cols("id:integer client swatch_number:integer face protocol version:integer sealer conditions site control_swatch:integer control_face start_at by recorded_at")},
	{"wear_readings", "wear_reading", "id", cols("id:integer test_id:integer client kind at recorded_at by grade count:integer photo_id:integer control_photo_id:integer voids:integer note")},
	{"verdicts", "verdict", "id", cols("id:integer client swatch_number:integer outcome why by at recorded_at")},
	{"class_terms", "class_terms", "class_id", cols("class_id:integer names:bool keep_days:integer link_days:integer")},
	{"seats", "seat", "id", cols("id:integer class_id:integer number:integer name joined_at hand_at photos")},
	{"seat_swatches", "seat_swatch", "id", cols("id:integer seat_id:integer swatch_number:integer")},
	{"seat_photos", "seat_photo", "id", cols("id:integer seat_id:integer photo_id:integer")},
	{"seat_words", "seat_words", "id", cols("id:integer client class_id:integer seat_id:integer swatch_number:integer face words:json covered:number note at recorded_at")},
	{"class_sittings", "class_sitting", "id", cols("id:integer class_id:integer sitting_id:integer")},
	{"places", "place", "id", cols("id:integer client parent_id:integer name kind rows:integer columns:integer note made_at closed_at invented:bool")},
	{"swatch_moves", "swatch_move", "id", cols("id:integer client swatch_number:integer place_id:integer cell_row:integer cell_column:integer due_on at recorded_at by note")},
	{"place_rounds", "place_round", "id", cols("id:integer client place_id:integer by begun_at ended_at")},
	{"sightings", "sighting", "id", cols("id:integer client round_id:integer swatch_number:integer by at")},
	{"settings", "setting", "key", cols("key value")},
}

func cols(text string) []column {
	var out []column
	for _, word := range bytes.Fields([]byte(text)) {
		name, holds, _ := bytes.Cut(word, []byte(":"))
		out = append(out, column{string(name), string(holds)})
	}
	return out
}

// RecordKinds returns the names of the kinds, in order.
func RecordKinds() []string {
	out := make([]string, len(tables))
	for i, t := range tables {
		out[i] = t.kind
	}
	return out
}

// Snapshot calls use with every record as of one moment. Until use returns, no
// photograph's file is removed, so [Store.OpenPhoto] finds each.
func (s *Store) Snapshot(ctx context.Context, use func(Records) error) error {
	s.files.RLock()
	defer s.files.RUnlock()
	var all Records
	err := s.view(ctx, func(q querier) error {
		for _, t := range tables {
			k, err := t.dump(ctx, q)
			if err != nil {
				return fmt.Errorf("%s: %w", t.kind, err)
			}
			all = append(all, k)
		}
		return nil
	})
	if err != nil {
		return fault(err, "read all records")
	}
	return use(all)
}

func (t table) names() string {
	var b bytes.Buffer
	for i, c := range t.columns {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(c.name)
	}
	return b.String()
}

func (t table) dump(ctx context.Context, q querier) (Kind, error) {
	k := Kind{Name: t.kind, Rows: []json.RawMessage{}}
	rows, err := list(ctx, q, func(r scanner) (json.RawMessage, error) {
		values := make([]any, len(t.columns))
		into := make([]any, len(values))
		for i := range values {
			into[i] = &values[i]
		}
		if err := r.Scan(into...); err != nil {
			return nil, err
		}
		var b bytes.Buffer
		b.WriteByte('{')
		for i, c := range t.columns {
			if values[i] == nil {
				continue // absent is NULL
			}
			if b.Len() > 1 {
				b.WriteByte(',')
			}
			fmt.Fprintf(&b, "%q:", c.name)
			v := values[i]
			switch c.holds {
			case "json":
				v = json.RawMessage(v.(string))
			case "bool":
				v = v.(int64) != 0
			}
			text, err := asJSON(v)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", c.name, err)
			}
			b.WriteString(text)
		}
		b.WriteByte('}')
		return b.Bytes(), nil
	}, `SELECT `+t.names()+` FROM `+t.table+` ORDER BY `+t.order)
	if rows != nil {
		k.Rows = rows
	}
	return k, err
}

// load writes the rows of an archive into the table.
func (t table) load(ctx context.Context, tx *sql.Tx, rows []json.RawMessage) error {
	if len(rows) == 0 {
		return nil
	}
	marks, err := t.marks(ctx, tx)
	if err != nil {
		return err
	}
	insert, err := tx.PrepareContext(ctx, `INSERT INTO `+t.table+` (`+t.names()+`) VALUES (`+marks+`)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	for i, row := range rows {
		values, err := t.values(row)
		if err != nil {
			return unusable("Record %d of %s can't be used: %v.", i+1, t.kind, err)
		}
		if _, err := insert.ExecContext(ctx, values...); err != nil {
			if code := sqliteCode(err) & 0xff; code == sqlite3.SQLITE_CONSTRAINT || code == sqlite3.SQLITE_MISMATCH {
				return unusable("Record %d of %s can't be used: %v.", i+1, t.kind, err)
			}
			return fmt.Errorf("record %d of %s: %w", i+1, t.kind, err)
		}
	}
	return nil
}

// marks is where a row's values go in a statement. A column that was added with a
// default gets it where an older archive has no such field.
func (t table) marks(ctx context.Context, tx *sql.Tx) (string, error) {
	type given struct{ column, value string }
	defaults, err := list(ctx, tx, func(r scanner) (g given, err error) { return g, r.Scan(&g.column, &g.value) },
		`SELECT name, dflt_value FROM pragma_table_info(?) WHERE dflt_value IS NOT NULL`, t.table)
	if err != nil {
		return "", err
	}
	var out []string
	for _, c := range t.columns {
		mark := "?"
		for _, g := range defaults {
			if g.column == c.name {
				mark = "coalesce(?, " + g.value + ")"
			}
		}
		out = append(out, mark)
	}
	return strings.Join(out, ", "), nil
}

// values reads one record's fields for the database.
func (t table) values(row json.RawMessage) ([]any, error) {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(row, &fields); err != nil {
		return nil, err
	}
	if fields == nil {
		return nil, errors.New("it is no object")
	}
	values := make([]any, len(t.columns))
	for i, c := range t.columns {
		raw, ok := fields[c.name]
		delete(fields, c.name)
		if !ok || string(raw) == "null" {
			continue
		}
		var err error
		switch c.holds {
		case "json":
			var b bytes.Buffer
			if err = json.Compact(&b, raw); err == nil {
				values[i] = b.String()
			}
		case "bool":
			values[i], err = readAs[bool](raw)
		case "integer":
			var n int64
			if n, err = readAs[int64](raw); err == nil && (n > maxInteger || n < -maxInteger || (n < 1 && c.name == t.order)) {
				err = fmt.Errorf("%d is out of range", n)
			}
			values[i] = n
		case "number":
			values[i], err = readAs[float64](raw)
		default:
			values[i], err = readAs[string](raw)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	for name := range fields {
		return nil, fmt.Errorf("there is no field %q", name)
	}
	return values, nil
}

// maxInteger bounds whole numbers in an archive: every reader of JSON keeps them
// (RFC 8259, section 6), and keys have room to grow.
const maxInteger = 1 << 53

func readAs[T any](raw json.RawMessage) (v T, err error) { return v, json.Unmarshal(raw, &v) }

func unusable(format string, args ...any) error {
	return studio.Problemf(studio.Invalid, "archive", "The archive can't be imported, and nothing was changed. "+format, args...)
}
