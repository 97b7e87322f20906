package archive

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// packedAt is the time of every file in an archive, so that the same studio
// packs to the same bytes: the earliest a ZIP can hold.
var packedAt = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

const readme = `A studio kept with Aerugo: test swatches of patinas on copper, brass and bronze.

manifest.json   what is in this file: counts, and size and SHA-256 of each file
records/        every record, one file for each kind, as JSON
tables/         the same for spreadsheets (CSV, UTF-8): swatches, treatments
                with their settings, events, measurements
photos/         the photographs as they were kept, named by their SHA-256
sheets/         safety data sheets of supplies (PDF), named in the same way
pieces/         drawings and models of pieces, named in the same way

To take it into Aerugo, open a new, empty folder as a studio and import this
file there. The JSON is for taking in, the CSV for reading: a cell of text that
begins with = + - or @ has an apostrophe in front, so that no spreadsheet takes
it for a formula.

Times are UTC. Names of columns end in their unit; fractions run from 0 to 1;
lab_l, lab_a, lab_b are CIELAB under D50. What was put into the bin has a
binned_at. Phones that were let in are not here: they join again.
`

// Export writes the whole studio to w as one ZIP file. A photograph whose file is
// missing or has changed stops it with a *studio.Problem, and what was written
// to w is then of no use.
func Export(ctx context.Context, s *store.Store, w io.Writer) error {
	return s.Snapshot(ctx, func(all store.Records) error {
		m := manifest{Format: format, Version: version, MadeAt: s.Now().UTC().Format(time.RFC3339), Counts: map[string]int{}}
		contents := map[string][]byte{"README.txt": []byte(readme)}
		names := []string{"README.txt"}
		add := func(name string, data []byte) {
			names = append(names, name)
			contents[name] = data
		}
		for _, k := range all {
			m.Counts[k.Name] = len(k.Rows)
			add("records/"+k.Name+".json", recordsFile(k.Rows))
		}
		tables, err := tablesOf(all)
		if err != nil {
			return fmt.Errorf("write tables: %w", err)
		}
		for _, name := range tableNames {
			add("tables/"+name+".csv", tables[name])
		}
		for _, name := range names {
			m.Files = append(m.Files, fileOf(name, contents[name]))
		}
		photos, err := photosOf(all)
		if err != nil {
			return err
		}
		for _, p := range photos {
			m.Files = append(m.Files, file{p.name, p.Size, p.SHA256})
		}
		head, err := json.MarshalIndent(m, "", "  ")
		if err != nil {
			return fmt.Errorf("write manifest: %w", err)
		}
		z := zip.NewWriter(w)
		if err := pack(z, "manifest.json", append(head, '\n')); err != nil {
			return err
		}
		for _, name := range names {
			if err := pack(z, name, contents[name]); err != nil {
				return err
			}
		}
		for _, p := range photos {
			if err := ctx.Err(); err != nil {
				return fmt.Errorf("export: %w", err)
			}
			if err := packPhoto(z, s, p); err != nil {
				return err
			}
		}
		return z.Close()
	})
}

// recordsFile writes rows as a JSON array with a line for each.
func recordsFile(rows []json.RawMessage) []byte {
	var b bytes.Buffer
	b.WriteString("[")
	for i, row := range rows {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
		b.Write(row)
	}
	b.WriteString("\n]\n")
	return b.Bytes()
}

func pack(z *zip.Writer, name string, data []byte) error {
	f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: packedAt})
	if err == nil {
		_, err = f.Write(data)
	}
	if err != nil {
		return fmt.Errorf("pack %s: %w", name, err)
	}
	return nil
}

// photo is what the archive needs of the record of a photograph, a data sheet or a
// piece's drawing or model.
type photo struct {
	SHA256 string `json:"sha256"`
	Format string `json:"format"`
	Size   int64  `json:"size_bytes"`
	name   string
}

var endings = map[string]string{"JPEG": "jpg", "PNG": "png", "WebP": "webp", "HEIC": "heic"}

// photosOf returns the files of photographs, then of data sheets, then of pieces, in
// the order of their records, each once.
func photosOf(all store.Records) ([]photo, error) {
	rows, err := rowsOf[photo](all, "photos")
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	var out []photo
	for _, p := range rows {
		p.name = "photos/" + p.SHA256 + "." + endings[p.Format]
		if !isFile(p.name) {
			return nil, fmt.Errorf("pack photograph %q of format %q: it has no file name", p.SHA256, p.Format)
		}
		if !seen[p.name] {
			out = append(out, p)
		}
		seen[p.name] = true
	}
	sheets, err := rowsOf[photo](all, "data_sheets")
	if err != nil {
		return nil, err
	}
	for _, p := range sheets {
		p.Format, p.name = "PDF", "sheets/"+p.SHA256+".pdf"
		if !isFile(p.name) {
			return nil, fmt.Errorf("pack data sheet %q: it has no file name", p.SHA256)
		}
		if !seen[p.name] {
			out = append(out, p)
		}
		seen[p.name] = true
	}
	type piece struct {
		Form struct {
			SHA256, Format string
			Bytes          int64
		}
	}
	pieces, err := rowsOf[piece](all, "pieces")
	if err != nil {
		return nil, err
	}
	for _, x := range pieces {
		if x.Form.SHA256 == "" {
			continue
		}
		p := photo{SHA256: x.Form.SHA256, Format: x.Form.Format, Size: x.Form.Bytes}
		p.name = "pieces/" + p.SHA256 + "." + studio.FormFormats[p.Format]
		if !isFile(p.name) {
			return nil, fmt.Errorf("pack file %q of a piece, of format %q: it has no file name", p.SHA256, p.Format)
		}
		if !seen[p.name] {
			out = append(out, p)
		}
		seen[p.name] = true
	}
	return out, nil
}

// packPhoto packs such a file as it is (it would not get smaller), and makes
// sure that it is what was kept.
func packPhoto(z *zip.Writer, s *store.Store, p photo) error {
	open := func() (io.ReadCloser, error) { return s.OpenPhoto(p.SHA256, p.Format) }
	if p.Format == "PDF" {
		open = func() (io.ReadCloser, error) { return s.OpenSheet(p.SHA256) }
	}
	if studio.FormFormats[p.Format] != "" {
		open = func() (io.ReadCloser, error) { return s.OpenPieceFile(p.SHA256, p.Format) }
	}
	r, err := open()
	if err != nil {
		return err
	}
	defer r.Close()
	f, err := z.CreateHeader(&zip.FileHeader{Name: p.name, Method: zip.Store, Modified: packedAt})
	if err != nil {
		return fmt.Errorf("pack %s: %w", p.name, err)
	}
	sum := sha256.New()
	size, err := io.Copy(io.MultiWriter(f, sum), r)
	if err != nil {
		return fmt.Errorf("pack %s: %w", p.name, err)
	}
	if hex.EncodeToString(sum.Sum(nil)) != p.SHA256 || size != p.Size {
		return studio.Problemf(studio.Machine, "", "The file %s is damaged, so the archive can't be made; copy it back from a backup first.", p.name)
	}
	return nil
}

// rowsOf reads the fields that T names of every record of a kind.
func rowsOf[T any](all store.Records, kind string) ([]T, error) {
	for _, k := range all {
		if k.Name != kind {
			continue
		}
		out := make([]T, len(k.Rows))
		for i, row := range k.Rows {
			if err := json.Unmarshal(row, &out[i]); err != nil {
				return nil, fmt.Errorf("read record %d of %s: %w", i+1, kind, err)
			}
		}
		return out, nil
	}
	return nil, fmt.Errorf("there are no %s", kind)
}
