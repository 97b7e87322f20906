// Package taste reads what people like from choices between two faces, and asks
// for the choice that tells most next.
//
//	choices ──► Fit ──► OrderOf       who is liked best, with intervals, and what can't be told
//	   │         └────► CausesOf      which setting of a set is preferred
//	   ├──► Ahead                     the pairs to show next to one person
//	   └──► AgreementOf, HandOf       how far people agree, and whether each keeps an order
//	scores ───► ScoreCauses           which setting of a set scores higher
package taste
