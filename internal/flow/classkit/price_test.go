package classkit

import (
	"testing"

	"github.com/shopspring/decimal"

	"aerugo/internal/flow/cost"
	"aerugo/internal/studio"
)

// By hand: 29 blanks of 50 x 75 mm from a sheet of 1 m² at 200, a tenth cut away:
// 29 x 0.00375 / 0.9 x 200 = 24.166667; 50 g of salt at 2 for 500 g = 0.20; of the kit
// six in five are used, so a sixth is for breakage: 4.061111. 24.366667 / 8 = 3.045833.
func TestCostOfEightByHand(t *testing.T) {
	a := eight()
	a.Supplies = []studio.Supply{{ID: 7, Name: "salt", Material: "sodium-chloride", StrengthUnit: studio.Pure}}
	a.Lessons[0].Version.Steps[3].SupplyID = 7
	lines, err := KitOf(a)
	if err != nil {
		t.Fatal(err)
	}
	loss := decimal.NewFromInt(10)
	got, err := CostOf(a, lines, studio.Rates{Currency: "EUR", Loss: loss},
		map[int64]studio.PackPrice{7: {Supply: 7, Size: 500, Unit: studio.Gram, Price: decimal.NewFromInt(2)}},
		map[int64]studio.MetalPrice{1: {Metal: 1, Per: studio.BySheet, Price: decimal.NewFromInt(200), WidthMM: 1000, HeightMM: 1000}})
	if err != nil {
		t.Fatal(err)
	}
	for what, v := range map[string][2]string{"class": {got.Class.StringFixed(6), "24.366667"}, "each": {got.Each.StringFixed(6), "3.045833"}, "breakage": {got.Breakage.StringFixed(6), "4.061111"}} {
		if v[0] != v[1] {
			t.Errorf("%s: %s, by hand %s", what, v[0], v[1])
		}
	}
	if len(got.Missing) != 6 { // brass, vinegar, ammonium chloride, ammonia, liver of sulfur, wax
		t.Errorf("without a price: %q", got.Missing)
	}
	// 50 g are needed and 20 g are there: 30 g are short, two packs of 25 g.
	list, sum := cost.Shop(WantsOf(a, lines, map[int64]cost.Stock{7: {Known: true, G: 20}}, map[int64]studio.PackPrice{7: {Supply: 7, Size: 25, Unit: studio.Gram, Price: decimal.NewFromInt(2)}}))
	if list[1].Name != "Salt" || list[1].Packs != 2 || !sum.Equal(decimal.NewFromInt(4)) {
		t.Errorf("to buy: %+v, %s", list, sum)
	}
}
