// Package studio holds the words of the trade as types: what is kept, entered,
// planned, photographed and measured in one studio folder.
//
// It does no I/O and computes no chemistry. Everything the store keeps has its
// type here, and stages of the work (plan, run, measure, learn) hand each other
// only these types.
//
//	Metal, Supply, Chamber            what the bench is made of
//	Amount, HandAmount                how much, with its spread
//	Recipe -> Version -> Step         what to do, numbered and never rewritten
//	Set -> Factor, Level              swatches planned together and what varies
//	Swatch -> Treatment -> Event      one piece of metal, one recipe on its face, what really happened
//	Photo -> Measurement              what it looked like, and the numbers read from that
package studio
