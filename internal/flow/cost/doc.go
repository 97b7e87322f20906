// Package cost says what a plan uses, what is on the shelf, what to buy, and
// what a piece costs and sells for.
//
//	Needs, BenchUses    treatments -> grams of each supply
//	StockOf             movements and what the bench used -> what is there
//	Ahead, Enough       what other plans still take -> what is short of a plan
//	Shop                needs, stock, packs -> whole packs to buy
//	StacksOf, SheetCost movements of sheet metal -> sheets there, and what a cut cost
//	HandsOf, YieldOf    records of a recipe -> minutes, and how many come out
//	Reckon              all of these, and rates -> the lines of a price
//	TotalsOf            a quote -> net, tax, total
//
// Money is exact: decimals all the way, no binary fractions in a sum. A quantity
// that was measured or reckoned becomes a decimal once, by [Quantity]; half a
// cent goes to the even neighbour, and only at the end.
package cost

// From says where a number came from.
type From string

// Where numbers come from.
const (
	Entered  From = "entered"
	Recorded From = "from records"
	Reckoned From = "reckoned"
	Assumed  From = "assumed"
)

// worse returns which of two origins is trusted less, for what rests on both.
func worse(a, b From) From {
	order := map[From]int{Entered: 0, Recorded: 1, Reckoned: 2, Assumed: 3}
	if order[b] > order[a] {
		return b
	}
	return a
}
