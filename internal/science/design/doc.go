// Package design makes plans that can answer a question: which settings to give
// to each swatch so that causes can be told apart, and what the plan can not tell.
//
//	Fractional, PlackettBurman, BoxBehnken, Composite,
//	Latin, GraecoLatin, L9, L18, Factorial             plans by construction
//	SpaceFilling                                        plans that leave no gap
//	Optimal                                             plans searched for one model
//	Plan.Efficiency, Plan.Mixed, Plan.Blind, SwatchesToSee  what a plan is worth
//	Plan.Bench                                          repeats, blanks, order
//
// A run is a row of codes, one for each factor: a continuous factor runs from -1
// (low) to 1 (high), a category is the number of its level from 0. Chance comes
// from the caller's generator, so that a kept seed gives the same plan again.
package design
