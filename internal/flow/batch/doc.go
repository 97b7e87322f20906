// Package batch helps to make many pieces alike: how many to cut and out of which
// sheets, in which fillings of the chamber, whether a piece is like its reference,
// and what changed when the batch drifts.
//
//	Spares     pieces wanted, yield so far     -> pieces to make
//	Cut        a size, a sheet, a saw          -> where each piece lies
//	Fillings   chambers and their places       -> which pieces when
//	LimitsOf   faces the recipe made before    -> how far a good piece may lie off
//	Judge      a face against its reference    -> accept, look yourself, reject
//	Pick       which to photograph, when not all are; Promise: what that tells
//	Watch      readings in the order made      -> charts, and where a drift began
//	Meanwhile  what was so at each piece       -> what changed there too
package batch
