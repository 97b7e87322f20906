package archive

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// The fields of records that the tables show.
type (
	named struct {
		ID   int64  `json:"id"`
		Name string `json:"name"`
	}
	versionRow struct {
		ID       int64 `json:"id"`
		RecipeID int64 `json:"recipe_id"`
		Number   int   `json:"number"`
	}
	swatchRow struct {
		Number   int64   `json:"number"`
		SetID    int64   `json:"set_id"`
		MetalID  int64   `json:"metal_id"`
		Width    float64 `json:"width_mm"`
		Height   float64 `json:"height_mm"`
		Blank    bool    `json:"blank"`
		Note     string  `json:"note"`
		MadeAt   string  `json:"made_at"`
		BinnedAt string  `json:"binned_at"`
	}
	settingRow struct {
		Factor string `json:"factor"`
		Kind   string `json:"kind"`
		Level  struct {
			Label  string  `json:"label"`
			Number float64 `json:"number"`
			Unit   string  `json:"unit"`
		} `json:"level"`
	}
	treatmentRow struct {
		ID        int64  `json:"id"`
		Swatch    int64  `json:"swatch_number"`
		Faces     string `json:"faces"`
		Layer     int    `json:"layer"`
		Over      string `json:"over_state"`
		VersionID int64  `json:"version_id"`
		Steps     []struct {
			Kind string `json:"kind"`
		} `json:"steps"`
		Settings  []settingRow `json:"settings"`
		Order     int          `json:"run_order"`
		Replicate int          `json:"replicate"`
		Blank     bool         `json:"blank"`
	}
	eventRow struct {
		ID         int64  `json:"id"`
		Treatment  int64  `json:"treatment_id"`
		Kind       string `json:"kind"`
		Step       int    `json:"step"`
		At         string `json:"at"`
		RecordedAt string `json:"recorded_at"`
		By         string `json:"by"`
		Corrects   int64  `json:"corrects"`
		Amount     *struct {
			Value float64 `json:"value"`
			SD    float64 `json:"sd"`
			Unit  string  `json:"unit"`
			Hand  string  `json:"hand"`
		} `json:"amount"`
		RoomC  *float64 `json:"room_c"`
		RoomRH *float64 `json:"room_rh"`
		Note   string   `json:"note"`
	}
	photoRow struct {
		ID     int64  `json:"id"`
		Swatch int64  `json:"swatch_number"`
		Face   string `json:"face"`
		Moment string `json:"moment"`
		Taken  string `json:"taken_at"`
		SHA256 string `json:"sha256"`
	}
	measurementRow struct {
		ID         int64    `json:"id"`
		Photo      int64    `json:"photo_id"`
		Method     string   `json:"method"`
		MadeAt     string   `json:"made_at"`
		Calibrated bool     `json:"calibrated"`
		L          float64  `json:"lab_l"`
		A          float64  `json:"lab_a"`
		B          float64  `json:"lab_b"`
		Spread     float64  `json:"spread_lab"`
		Name       string   `json:"colour_name"`
		Coverage   *float64 `json:"coverage"`
		Low        *float64 `json:"coverage_low"`
		High       *float64 `json:"coverage_high"`
		Rule       string   `json:"coverage_rule"`
		Glare      float64  `json:"glare"`
	}
)

// text guards a cell against being taken for a formula by a spreadsheet.
func text(s string) string {
	if s == "" {
		return s
	}
	switch s[0] {
	case '=', '+', '-', '@', '\t', '\r':
		return "'" + s
	}
	return s
}

func whole[T int | int64](n T) string { return strconv.FormatInt(int64(n), 10) }

func id(n int64) string {
	if n == 0 {
		return ""
	}
	return whole(n)
}

func real(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func maybe(v *float64) string {
	if v == nil {
		return ""
	}
	return real(*v)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// byKey returns the rows of a kind by what key says.
func byKey[T any](all store.Records, kind string, key func(T) int64) (map[int64]T, error) {
	rows, err := rowsOf[T](all, kind)
	if err != nil {
		return nil, err
	}
	out := make(map[int64]T, len(rows))
	for _, r := range rows {
		out[key(r)] = r
	}
	return out, nil
}

// tablesOf writes the spreadsheets, by name.
func tablesOf(all store.Records) (map[string][]byte, error) {
	ofName := func(n named) int64 { return n.ID }
	metals, err := byKey(all, "metals", ofName)
	if err != nil {
		return nil, err
	}
	sets, err := byKey(all, "sets", ofName)
	if err != nil {
		return nil, err
	}
	recipes, err := byKey(all, "recipes", ofName)
	if err != nil {
		return nil, err
	}
	versions, err := byKey(all, "recipe_versions", func(v versionRow) int64 { return v.ID })
	if err != nil {
		return nil, err
	}
	treatments, err := rowsOf[treatmentRow](all, "treatments")
	if err != nil {
		return nil, err
	}
	swatches, err := rowsOf[swatchRow](all, "swatches")
	if err != nil {
		return nil, err
	}
	events, err := rowsOf[eventRow](all, "events")
	if err != nil {
		return nil, err
	}
	photos, err := byKey(all, "photos", func(p photoRow) int64 { return p.ID })
	if err != nil {
		return nil, err
	}
	measurements, err := rowsOf[measurementRow](all, "measurements")
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}

	rows := [][]string{{"number", "set", "metal", "width_mm", "height_mm", "blank", "made_at", "binned_at", "note"}}
	setOf := map[int64]string{}
	for _, w := range swatches {
		setOf[w.Number] = sets[w.SetID].Name
		rows = append(rows, []string{whole(w.Number), text(sets[w.SetID].Name), text(metals[w.MetalID].Name), real(w.Width), real(w.Height),
			yes(w.Blank), w.MadeAt, w.BinnedAt, text(w.Note)})
	}
	out["swatches"] = sheet(rows)

	out["treatments"] = sheet(treatmentTable(treatments, setOf, versions, recipes))

	steps := map[int64]treatmentRow{}
	for _, t := range treatments {
		steps[t.ID] = t
	}
	rows = [][]string{{"id", "treatment_id", "swatch_number", "kind", "step_number", "step", "at", "recorded_at", "by", "corrects",
		"amount", "amount_sd", "amount_unit", "amount_word", "room_c", "room_rh", "note"}}
	for _, e := range events {
		t := steps[e.Treatment]
		kind := ""
		if e.Step >= 0 && e.Step < len(t.Steps) {
			kind = t.Steps[e.Step].Kind
		}
		amount := []string{"", "", "", ""}
		if a := e.Amount; a != nil {
			amount = []string{real(a.Value), real(a.SD), text(a.Unit), text(a.Hand)}
		}
		row := []string{whole(e.ID), whole(e.Treatment), whole(t.Swatch), text(e.Kind), whole(e.Step + 1), text(kind), e.At, e.RecordedAt, text(e.By), id(e.Corrects)}
		rows = append(rows, append(append(row, amount...), maybe(e.RoomC), maybe(e.RoomRH), text(e.Note)))
	}
	out["events"] = sheet(rows)

	rows = [][]string{{"id", "photo_id", "swatch_number", "face", "moment", "taken_at", "method", "made_at", "calibrated", "lab_l", "lab_a", "lab_b",
		"spread_lab", "colour_name", "coverage", "coverage_low", "coverage_high", "coverage_rule", "glare", "photo_sha256"}}
	for _, m := range measurements {
		p := photos[m.Photo]
		rows = append(rows, []string{whole(m.ID), whole(m.Photo), whole(p.Swatch), text(p.Face), text(p.Moment), p.Taken, text(m.Method), m.MadeAt,
			yes(m.Calibrated), real(m.L), real(m.A), real(m.B), real(m.Spread), text(m.Name), maybe(m.Coverage), maybe(m.Low), maybe(m.High),
			text(m.Rule), real(m.Glare), p.SHA256})
	}
	out["measurements"] = sheet(rows)
	return out, nil
}

// treatmentTable has a column for each factor that any treatment has a level of.
func treatmentTable(treatments []treatmentRow, setOf map[int64]string, versions map[int64]versionRow, recipes map[int64]named) [][]string {
	heading := func(s settingRow) string {
		if s.Level.Unit == "" {
			return s.Factor
		}
		return fmt.Sprintf("%s (%s)", s.Factor, s.Level.Unit)
	}
	var factors []string
	for _, t := range treatments {
		for _, s := range t.Settings {
			if !slices.Contains(factors, heading(s)) {
				factors = append(factors, heading(s))
			}
		}
	}
	slices.Sort(factors)
	head := []string{"id", "swatch_number", "set", "faces", "layer", "over", "recipe", "recipe_version", "replicate", "run_order", "blank"}
	for _, f := range factors {
		head = append(head, text(f))
	}
	rows := [][]string{head}
	for _, t := range treatments {
		v := versions[t.VersionID]
		row := []string{whole(t.ID), whole(t.Swatch), text(setOf[t.Swatch]), text(t.Faces), whole(t.Layer), text(t.Over), text(recipes[v.RecipeID].Name),
			id(int64(v.Number)), whole(t.Replicate), whole(t.Order), yes(t.Blank)}
		levels := make([]string, len(factors))
		for _, s := range t.Settings {
			i := slices.Index(factors, heading(s))
			if studio.FactorKind(s.Kind).Numeric() {
				levels[i] = real(s.Level.Number)
			} else {
				levels[i] = text(s.Level.Label)
			}
		}
		rows = append(rows, append(row, levels...))
	}
	return rows
}

// sheet writes rows as RFC 4180 says.
func sheet(rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	_ = w.WriteAll(rows) // a buffer does not fail
	return b.Bytes()
}
