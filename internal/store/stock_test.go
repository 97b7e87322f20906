package store

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

func dec(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func TestNewestPriceCounts(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := studio.PackPrice{Supply: b.salt.ID, Size: 500, Unit: studio.Gram, Price: dec("4.20"), Grade: "technical", Keep: 100, By: "Ann"}
	must[studio.PackPrice](t)(s.AddPackPrice(ctx, p))
	p.Price = dec("0.1")
	kept := must[studio.PackPrice](t)(s.AddPackPrice(ctx, p))
	got := must[map[int64]studio.PackPrice](t)(s.PackPrices(ctx))
	if len(got) != 1 || !got[b.salt.ID].Price.Equal(dec("0.1")) || got[b.salt.ID].ID != kept.ID || !kept.Made.Equal(noon) {
		t.Errorf("%+v", got)
	}
	loss := dec("12.5")
	must[studio.MetalPrice](t)(s.AddMetalPrice(ctx, studio.MetalPrice{Metal: b.metal.ID, Per: studio.BySheet, Price: dec("57"), WidthMM: 600, HeightMM: 1000}))
	must[studio.MetalPrice](t)(s.AddMetalPrice(ctx, studio.MetalPrice{Metal: b.metal.ID, Per: studio.ByKilogram, Price: dec("12.345678"), Loss: &loss}))
	m := must[map[int64]studio.MetalPrice](t)(s.MetalPrices(ctx))[b.metal.ID]
	if m.Per != studio.ByKilogram || !m.Price.Equal(dec("12.345678")) || m.Loss == nil || !m.Loss.Equal(loss) {
		t.Errorf("%+v", m)
	}
	p.Supply = 99
	_, err := s.AddPackPrice(ctx, p)
	wantProblem(t, err, studio.NotFound, "supply 99")
	_, err = s.AddMetalPrice(ctx, studio.MetalPrice{Per: studio.ByKilogram})
	wantProblem(t, err, studio.NotFound, "metal 0")
	p.Supply, p.Price = b.salt.ID, decimal.New(1, 12)
	_, err = s.AddPackPrice(ctx, p)
	wantProblem(t, err, studio.Invalid, "price of a pack")
	if _, err := s.write.ExecContext(ctx, `UPDATE pack_price SET price = '1'`); err == nil {
		t.Error("a price was changed")
	}
}

func TestStockIsOnlyAddedToAndCountsOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	m := studio.StockMove{Supply: b.salt.ID, Client: "k", Kind: studio.Bought, Amount: 500.5, Unit: studio.Gram, Lot: "A", At: noon.Add(-time.Hour), By: "Ann"}
	kept := must[studio.StockMove](t)(s.AddStockMove(ctx, m))
	again := m
	again.Amount = 9
	same(t, "sent twice", must[studio.StockMove](t)(s.AddStockMove(ctx, again)), kept)
	back := must[studio.StockMove](t)(s.AddStockMove(ctx, studio.StockMove{Supply: b.salt.ID, Client: "k2", Kind: studio.Uncounted, Corrects: kept.ID, At: noon, Amount: 7, Unit: studio.Gram}))
	same(t, "movements", must[map[int64][]studio.StockMove](t)(s.StockMoves(ctx))[b.salt.ID], []studio.StockMove{kept, back})
	_, err := s.AddStockMove(ctx, studio.StockMove{Supply: b.salt.ID, Client: "k3", Kind: studio.Uncounted, Corrects: back.ID, At: noon})
	wantProblem(t, err, studio.Conflict, "not one of this supply's")
	m.Client, m.At = "k4", noon.Add(time.Hour)
	_, err = s.AddStockMove(ctx, m)
	wantProblem(t, err, studio.Invalid, "in the future")
	m.At, m.Kind, m.Client = noon, studio.Counted, "k"
	_, err = s.AddStockMove(ctx, m)
	wantProblem(t, err, studio.Conflict, "another record")
	if _, err := s.write.ExecContext(ctx, `UPDATE stock_move SET amount = 1`); err == nil {
		t.Error("a movement was changed")
	}
}

func TestQuotesAreNumberedAndStay(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	day := time.Date(2026, 3, 14, 0, 0, 0, 0, time.Local)
	q := studio.Quote{Client: "a", SetID: b.set.ID, By: "Ann", Currency: "EUR", Day: day, ValidDays: 30, Customer: "A. Buyer", Tax: dec("21"), Care: "dust", Basis: []string{"work"},
		Lines: []studio.QuoteLine{{Text: "Lamp", Quantity: dec("6"), Each: dec("24.97")}}}
	one := must[studio.Quote](t)(s.AddQuote(ctx, q))
	if one.Number != 1 || !one.Day.Equal(day) || !one.Lines[0].Each.Equal(dec("24.97")) || !one.Made.Equal(noon) {
		t.Errorf("%+v", one)
	}
	if again := must[studio.Quote](t)(s.AddQuote(ctx, q)); again.ID != one.ID {
		t.Errorf("sent twice it is %+v", again)
	}
	q.Client, q.Number = "b", 777 // the store counts
	if two := must[studio.Quote](t)(s.AddQuote(ctx, q)); two.Number != 2 {
		t.Errorf("%+v", two)
	}
	q.Client, q.SetID = "c", 99
	_, err := s.AddQuote(ctx, q)
	wantProblem(t, err, studio.NotFound, "set 99")
	for _, bad := range []string{`UPDATE quote SET customer = 'x'`, `DELETE FROM quote`} {
		if _, err := s.write.ExecContext(ctx, bad); err == nil {
			t.Errorf("%s was done", bad)
		}
	}
	// a quote stays when its batch is gone for good
	clk := &clock{noon}
	s.now = clk.now
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	clk.t = noon.Add(40 * 24 * time.Hour)
	must[int](t)(s.PurgeBin(ctx))
	left := must[[]studio.Quote](t)(s.Quotes(ctx))
	if len(left) != 2 || left[0].SetID != 0 || left[0].Number != 2 {
		t.Errorf("%+v", left)
	}
	wantSound(t, s)
}

func TestRatesAreKept(t *testing.T) {
	s := fresh(t)
	if _, set, err := s.Rates(ctx); set || err != nil {
		t.Errorf("rates nobody gave: %v, %v", set, err)
	}
	r := studio.Rates{Currency: "JPY", Hour: dec("3000"), Margin: dec("25"), Loss: dec("10")}
	if err := s.SaveRates(ctx, r); err != nil {
		t.Fatal(err)
	}
	got, set, err := s.Rates(ctx)
	if err != nil || !set || got.Currency != "JPY" || !got.Hour.Equal(r.Hour) || !got.Loss.Equal(r.Loss) {
		t.Errorf("%+v, %v, %v", got, set, err)
	}
	r.Margin = dec("100")
	wantProblem(t, s.SaveRates(ctx, r), studio.Invalid, "margin")
	if err := s.SaveSetting(ctx, ratesKey, `{"currency":"EUR","hour":"1e999999999"}`); err != nil {
		t.Fatal(err)
	}
	if _, set, err := s.Rates(ctx); set || err != nil {
		t.Errorf("forged rates: %v, %v", set, err)
	}
}
