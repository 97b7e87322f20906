package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

const (
	format  = "aerugo-studio"
	version = 5
)

// since names the kinds of record that the first archives did not have, by the
// version that brought them: an archive older than that holds none.
var since = map[string]int{
	"rooms": 2, "chamber_log": 2,
	"bare_references": 2, "paintings": 2, "set_judges": 2, "grain_counts": 2, "weighed_salts": 2,
	"setups": 2, "target_files": 2, "mat_prints": 2, "data_sheets": 2, "sheet_checks": 2,
	"pieces":      3,
	"pack_prices": 3, "metal_prices": 3, "stock_moves": 3, "quotes": 3,
	"verdicts":   3,
	"bench_days": 3, "bench_plans": 3, "bench_claims": 3,
	"sittings": 3, "sitting_faces": 3, "choices": 3, "scores": 3,
	"wear_tests": 3, "wear_readings": 3,
	"recipe_origins": 4,
	"places":         4, "swatch_moves": 4, "place_rounds": 4, "sightings": 4,
	"classes":     4,
	"class_terms": 4, "seats": 4, "seat_swatches": 4, "seat_photos": 4, "seat_words": 4, "class_sittings": 4,
	"sheet_moves": 5,
}

// manifest is manifest.json. MadeAt is the only thing in an archive that changes
// when the studio does not.
type manifest struct {
	Format  string         `json:"format"`
	Version int            `json:"version"`
	MadeAt  string         `json:"made_at"`
	Counts  map[string]int `json:"counts"` // by kind of record
	Files   []file         `json:"files"`  // every other file, in the order packed
}

// file is one file of the archive.
type file struct {
	Name   string `json:"name"`
	Size   int64  `json:"size_bytes"`
	SHA256 string `json:"sha256"`
}

func fileOf(name string, data []byte) file {
	h := sha256.Sum256(data)
	return file{name, int64(len(data)), hex.EncodeToString(h[:])}
}

// tableNames are the spreadsheets, in the order packed.
var tableNames = []string{"swatches", "treatments", "events", "measurements"}

// fileName matches a photograph, a data sheet, or a piece's drawing or model: its
// folder, SHA-256 and ending.
var fileName = regexp.MustCompile(`^(photos|sheets|pieces)/([0-9a-f]{64})\.(jpg|png|webp|heic|pdf|svg|dxf|stl|obj|3mf)$`)

// isFile reports whether name is that of such a file.
func isFile(name string) bool {
	m := fileName.FindStringSubmatch(name)
	if m == nil {
		return false
	}
	folder := "pieces"
	switch m[3] {
	case "jpg", "png", "webp", "heic":
		folder = "photos"
	case "pdf":
		folder = "sheets"
	}
	return m[1] == folder
}

// allowed are the names an archive has besides such files.
func allowed() []string {
	names := []string{"manifest.json", "README.txt"}
	for _, k := range store.RecordKinds() {
		names = append(names, "records/"+k+".json")
	}
	for _, t := range tableNames {
		names = append(names, "tables/"+t+".csv")
	}
	return names
}

// kindIn returns the kind of record that a file of an archive holds.
func kindIn(name string) string {
	return strings.TrimSuffix(strings.TrimPrefix(name, "records/"), ".json")
}

// readManifest reads and checks manifest.json by itself.
func readManifest(data []byte) (manifest, error) {
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil || head.Format != format {
		return manifest{}, unusable("It is not an archive of a studio.")
	}
	if head.Version > version {
		return manifest{}, unusable("It was made by a newer Aerugo (archive version %d); this one knows up to %d. Use the newer program.", head.Version, version)
	}
	if head.Version < 1 {
		return manifest{}, unusable("Its version %d is none that was ever made.", head.Version)
	}
	var m manifest
	if err := json.Unmarshal(data, &m); err != nil {
		return manifest{}, unusable("Its manifest can't be read: %v.", err)
	}
	names := allowed()
	seen := map[string]bool{"manifest.json": true}
	for _, f := range m.Files {
		if !slices.Contains(names, f.Name) && !isFile(f.Name) {
			return manifest{}, unusable("Its manifest names %q, which is no file of a studio's archive.", f.Name)
		}
		if seen[f.Name] {
			return manifest{}, unusable("Its manifest names %s twice.", f.Name)
		}
		seen[f.Name] = true
		if p := fileName.FindStringSubmatch(f.Name); p != nil && p[2] != f.SHA256 {
			return manifest{}, unusable("Its manifest gives %s another SHA-256 than its name.", f.Name)
		}
	}
	for _, name := range names {
		if !seen[name] && m.Version >= since[kindIn(name)] {
			return manifest{}, unusable("Its manifest does not name %s.", name)
		}
	}
	return m, nil
}

func unusable(text string, args ...any) error {
	return studio.Problemf(studio.Invalid, "archive", "The archive can't be imported, and nothing was changed. %s", fmt.Sprintf(text, args...))
}
