package archive

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"aerugo/internal/store"
)

// What an archive may hold at most; a larger one is refused before it is unpacked.
const (
	maxFiles   = 100_000
	maxRecords = 256 << 20 // bytes of one file that is no photograph
	maxText    = 512 << 20 // bytes of all of those
	maxPhoto   = 256 << 20 // bytes of one photograph
	maxRatio   = 20        // bytes of photographs for each byte of the archive
)

// A Report says what was taken in.
type Report struct {
	Recipes, Sets, Swatches, Treatments, Events, Photos, Measurements int
}

// Import takes the archive in r, of size bytes, into a studio that has no
// recipes, swatches or weighings of its own. Everything is checked first. If it
// returns an error, or is cut short at any moment, the studio is as it was.
// What is wrong with the archive comes back as a *studio.Problem.
func Import(ctx context.Context, s *store.Store, r io.ReaderAt, size int64) (Report, error) {
	in, err := s.BeginIntake(ctx)
	if err != nil {
		return Report{}, err
	}
	defer in.Abort()
	b, err := open(r, size)
	if err != nil {
		return Report{}, err
	}
	all, err := b.records(ctx)
	if err != nil {
		return Report{}, err
	}
	for _, f := range b.manifest.Files {
		if err := ctx.Err(); err != nil {
			return Report{}, fmt.Errorf("import: %w", err)
		}
		name := fileName.FindStringSubmatch(f.Name)
		if name == nil {
			continue
		}
		if err := b.file(in, f, name[2], name[3]); err != nil {
			return Report{}, err
		}
	}
	if err := in.Commit(ctx, all); err != nil {
		return Report{}, err
	}
	n := b.manifest.Counts
	return Report{Recipes: n["recipes"], Sets: n["sets"], Swatches: n["swatches"], Treatments: n["treatments"],
		Events: n["events"], Photos: n["photos"], Measurements: n["measurements"]}, nil
}

// bundle is an archive whose list of files has been checked.
type bundle struct {
	manifest manifest
	files    map[string]*zip.File
}

// open checks that the archive holds exactly the files its manifest names, none
// larger than it may be. Names in the ZIP never become paths on the disk.
func open(r io.ReaderAt, size int64) (*bundle, error) {
	z, err := zip.NewReader(r, size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return nil, unusable("It is no ZIP file, or was cut short.")
	}
	if len(z.File) > maxFiles {
		return nil, unusable("It has %d files; %d are the most.", len(z.File), maxFiles)
	}
	b := &bundle{files: map[string]*zip.File{}}
	for _, f := range z.File {
		if b.files[f.Name] != nil {
			return nil, unusable("It holds %q twice.", f.Name)
		}
		b.files[f.Name] = f
	}
	head := b.files["manifest.json"]
	if head == nil {
		return nil, unusable("It has no manifest.json, so it is not an archive of a studio.")
	}
	data, err := unpack(head, maxRecords)
	if err != nil {
		return nil, err
	}
	if b.manifest, err = readManifest(data); err != nil {
		return nil, err
	}
	named := map[string]bool{"manifest.json": true}
	var text, photos int64
	for _, f := range b.manifest.Files {
		named[f.Name] = true
		z := b.files[f.Name]
		if z == nil {
			return nil, unusable("%s is missing from it.", f.Name)
		}
		if f.Size < 0 || z.UncompressedSize64 != uint64(f.Size) {
			return nil, unusable("%s is not as large as the manifest says.", f.Name)
		}
		limit, sum := int64(maxRecords), &text
		if fileName.MatchString(f.Name) {
			limit, sum = maxPhoto, &photos
		}
		if f.Size > limit {
			return nil, unusable("%s has %d MB; %d are the most.", f.Name, f.Size>>20, limit>>20)
		}
		*sum += f.Size
	}
	for name := range b.files {
		folder := strings.HasSuffix(name, "/") && slices.Contains([]string{"records/", "tables/", "photos/", "sheets/", "pieces/"}, name)
		if !named[name] && !folder { // folders come in when it was packed again by hand
			return nil, unusable("It holds %q, which its manifest does not name.", name)
		}
	}
	if text > maxText || photos/maxRatio > size {
		return nil, unusable("Unpacked it would be far larger than a studio's archive can be.")
	}
	return b, nil
}

// unpack reads a packed file, at most limit bytes of it whatever it claims.
func unpack(f *zip.File, limit int64) ([]byte, error) {
	if f.UncompressedSize64 > uint64(limit) {
		return nil, unusable("%s has %d MB; %d are the most.", f.Name, f.UncompressedSize64>>20, limit>>20)
	}
	r, err := f.Open()
	if err != nil {
		return nil, unusable("%s can't be unpacked: %v.", f.Name, err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, unusable("%s can't be unpacked: %v.", f.Name, err)
	}
	if int64(len(data)) > limit {
		return nil, unusable("%s is larger than it says.", f.Name)
	}
	return data, nil
}

// records unpacks and checks every file that is no photograph.
func (b *bundle) records(ctx context.Context) (store.Records, error) {
	byName := map[string][]byte{}
	for _, f := range b.manifest.Files {
		if fileName.MatchString(f.Name) {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("import: %w", err)
		}
		data, err := unpack(b.files[f.Name], f.Size)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(data)
		if hex.EncodeToString(sum[:]) != f.SHA256 {
			return nil, unusable("%s is damaged: its SHA-256 is not the one it was packed with.", f.Name)
		}
		byName[f.Name] = data
	}
	var all store.Records
	for _, kind := range store.RecordKinds() {
		k := store.Kind{Name: kind}
		if b.manifest.Version < since[kind] {
			all = append(all, k)
			continue
		}
		if err := json.Unmarshal(byName["records/"+kind+".json"], &k.Rows); err != nil {
			return nil, unusable("records/%s.json can't be read: %v.", kind, err)
		}
		if len(k.Rows) != b.manifest.Counts[kind] {
			return nil, unusable("It has %d %s, but its manifest says %d.", len(k.Rows), kind, b.manifest.Counts[kind])
		}
		all = append(all, k)
	}
	return all, nil
}

// file puts one photograph's or data sheet's file aside; its bytes are checked on the way.
func (b *bundle) file(in *store.Intake, f file, sha, ending string) error {
	r, err := b.files[f.Name].Open()
	if err != nil {
		return unusable("%s can't be unpacked: %v.", f.Name, err)
	}
	defer r.Close()
	watched := &watch{r: r}
	err = in.AddFile(sha, ending, watched, f.Size)
	if watched.err != nil {
		return unusable("%s can't be unpacked: %v.", f.Name, watched.err)
	}
	return err
}

// watch remembers why reading stopped, to tell a damaged archive from a disk
// that cannot be written.
type watch struct {
	r   io.Reader
	err error
}

func (w *watch) Read(p []byte) (int, error) {
	n, err := w.r.Read(p)
	if err != nil && err != io.EOF {
		w.err = err
	}
	return n, err
}
