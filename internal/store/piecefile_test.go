package store

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// The file of a piece is kept byte for byte under its SHA-256, comes with backups,
// is missed when it is lost, and goes with the last piece that names it.
func TestPieceKeepsItsFile(t *testing.T) {
	s := fresh(t)
	data := []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
	p := wallLamp()
	p.Form.Kind, p.Form.Format, p.Form.FileName, p.Form.DimsMM = "model", "OBJ", `..\..\lamp".obj`, nil
	kept := must[studio.Piece](t)(s.SavePieceWithFile(ctx, p, data))
	if kept.Form.FileName != "lamp.obj" || kept.Form.Bytes != int64(len(data)) || kept.Form.SHA256 != hashOf(data) {
		t.Errorf("kept as %+v", kept.Form)
	}
	twin := must[studio.Piece](t)(s.SavePieceWithFile(ctx, p, data))
	f := must[*os.File](t)(s.OpenPieceFile(kept.Form.SHA256, "OBJ"))
	got, err := io.ReadAll(f)
	f.Close()
	if err != nil || string(got) != string(data) {
		t.Errorf("the file came back as %q, %v", got, err)
	}
	wantSound(t, s)
	copied := must[string](t)(s.Backup(ctx, filepath.Join(t.TempDir(), "copy")))
	place := filepath.Join("pieces", kept.Form.SHA256[:2], kept.Form.SHA256+".obj")
	if b, err := os.ReadFile(filepath.Join(copied, place)); err != nil || string(b) != string(data) {
		t.Errorf("in the backup: %q, %v", b, err)
	}

	clk := &clock{noon}
	s.now = clk.now
	for i, id := range []int64{kept.ID, twin.ID} {
		if err := s.BinItem(ctx, "piece", id); err != nil {
			t.Fatal(err)
		}
		clk.t = clk.t.Add(40 * 24 * time.Hour)
		must[int](t)(s.PurgeBin(ctx))
		if _, err := os.Stat(s.path(place)); (err == nil) != (i == 0) {
			t.Errorf("after %d pieces are gone, the file: %v", i+1, err)
		}
	}
}

func TestLostPieceFileIsMissed(t *testing.T) {
	s := fresh(t)
	p := wallLamp()
	p.Form.Format = "STL"
	kept := must[studio.Piece](t)(s.SavePieceWithFile(ctx, p, []byte("solid x\nendsolid x\n")))
	if err := os.Remove(s.path(filePath(kept.Form.SHA256, "STL"))); err != nil {
		t.Fatal(err)
	}
	_, err := s.OpenPieceFile(kept.Form.SHA256, "STL")
	wantProblem(t, err, studio.Machine, "is missing")
	if faults := must[[]string](t)(s.Check(ctx)); len(faults) != 1 || !strings.Contains(faults[0], "piece Wall lamp") {
		t.Errorf("Check says %q", faults)
	}
}

// A piece that can't be kept leaves no file behind.
func TestRefusedPieceLeavesNoFile(t *testing.T) {
	s := fresh(t)
	for _, change := range []func(*studio.Piece){
		func(p *studio.Piece) { p.Form.Format = "EXE" },
		func(p *studio.Piece) { p.Name = "" },
		func(p *studio.Piece) { p.MetalID = 99 },
		func(p *studio.Piece) { p.Form.OutsideMM2, p.Form.InsideMM2 = 0, 0 },
	} {
		p := wallLamp()
		p.Form.Format = "STL"
		change(&p)
		if _, err := s.SavePieceWithFile(ctx, p, []byte("x")); studio.ProblemIn(err) == nil {
			t.Errorf("%+v: %v", p, err)
		}
	}
	left, err := filepath.Glob(s.path("pieces", "*", "*"))
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
