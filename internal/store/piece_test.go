package store

import (
	"math"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// wallLamp is a piece that uses nothing on the bench.
func wallLamp() studio.Piece {
	return studio.Piece{Name: "Wall lamp", Form: studio.Form{Kind: "bowl", DimsMM: map[string]float64{"rim": 90.5}, Up: [3]float64{0, 0, 1}, OutsideMM2: 12000, InsideMM2: 11500.5,
		SheetMM2: 13000, SizeMM: [3]float64{181, 181, 60}, By: "frusta 1", Doubts: []string{"a gap"}}, SameFaces: true, Note: "for a library"}
}

func TestPieceIsKeptAndChanged(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := wallLamp()
	p.MetalID, p.OutsideID, p.SameFaces, p.Reference = b.metal.ID, b.recipe.Latest.ID, false, b.pieces[0].Number
	kept := must[studio.Piece](t)(s.SavePiece(ctx, p))
	p.ID, p.Made = kept.ID, noon
	same(t, "piece", kept, p)
	p.Name, p.Form.InsideMM2 = "Wall lamp, small", 9000
	same(t, "changed piece", must[studio.Piece](t)(s.SavePiece(ctx, p)), p)
	same(t, "pieces", must[[]studio.Piece](t)(s.Pieces(ctx)), []studio.Piece{p})

	_, err := s.SavePiece(ctx, studio.Piece{Name: "Nothing", Form: studio.Form{Kind: "disc"}})
	wantProblem(t, err, studio.Invalid, "The piece has no area; write its sizes.")
	gone := p
	gone.OutsideID = 99
	_, err = s.SavePiece(ctx, gone)
	wantProblem(t, err, studio.NotFound, "recipe version 99")
	gone = p
	gone.ID = 99
	_, err = s.SavePiece(ctx, gone)
	wantProblem(t, err, studio.NotFound, "piece 99")
}

// A batch is a set whose swatches have the areas of the piece; its piece stays
// when it is thrown away, and so do the metal and the recipe of a piece.
func TestBatchHoldsItsPiece(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := wallLamp()
	p.MetalID, p.OutsideID, p.Reference = b.metal.ID, b.recipe.Latest.ID, b.pieces[1].Number
	p = must[studio.Piece](t)(s.SavePiece(ctx, p))
	set, made, err := s.AddSet(ctx, studio.Set{Name: "Six lamps", Shape: studio.Loose, Replicates: 1, MetalID: b.metal.ID, PieceID: p.ID, WidthMM: 181, HeightMM: 181},
		[]NewSwatch{{Swatch: studio.Swatch{MetalID: b.metal.ID, WidthMM: 181, HeightMM: 181, OutsideMM2: 12000, InsideMM2: 11500.5}}})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "batches", must[[]studio.Set](t)(s.Batches(ctx, p.ID)), []studio.Set{set})
	if f := made[0]; math.Abs(f.FaceM2(studio.Front)-0.012) > 1e-15 || math.Abs(f.FaceM2(studio.Back)-0.0115005) > 1e-15 || math.Abs(f.FacesM2(studio.OnBoth)-0.0235005) > 1e-15 {
		t.Errorf("areas are %v, %v", f.FaceM2(studio.Front), f.FaceM2(studio.Back))
	}
	if plain := b.pieces[0]; math.Abs(plain.FacesM2(studio.OnBoth)-0.007) > 1e-15 {
		t.Errorf("a swatch's two faces are %v m2", plain.FacesM2(studio.OnBoth))
	}
	clk := &clock{noon}
	s.now = clk.now
	for _, x := range []struct {
		kind string
		id   int64
	}{{"piece", p.ID}, {"set", b.set.ID}, {"metal", b.metal.ID}, {"recipe", b.recipe.ID}} {
		if err := s.BinItem(ctx, x.kind, x.id); err != nil {
			t.Fatal(err)
		}
	}
	clk.t = noon.Add(40 * 24 * time.Hour)
	must[int](t)(s.PurgeBin(ctx))
	left := must[studio.Piece](t)(s.Piece(ctx, p.ID))
	if left.Reference != 0 || left.MetalID != b.metal.ID || left.OutsideID != b.recipe.Latest.ID {
		t.Errorf("the piece is left as %+v", left)
	}
	wantSound(t, s)
}
