// Package flow draws the order in which the work goes; it holds no code.
//
//	  question                                                     the person asks the next one
//	     │                                                                    ▲
//	     ▼                                                                    │
//	┌─────────┐ Set, Swatch, ┌─────────┐ Event,  ┌─────────┐ Photo,    ┌─────────┐
//	│  plan   │ Treatment    │   run   │ Photo   │ measure │ Look      │  learn  │
//	│         ├─────────────▶│         ├────────▶│         ├──────────▶│         │
//	│ Lay     │              │ Fold    │         │         │           │ Find    │
//	│ Safety  │              │ Board   │         │         │           │ Compare │
//	└─────────┘              └─────────┘         └─────────┘           └─────────┘
//
//	plan     a question becomes swatches: every combination, replicates, blanks, a random order,
//	         steps frozen with their amounts, and a refusal of what could hurt
//	run      what the hands do next, what a tap records, and what really happened
//	measure  from a photograph of a face to colour and coverage, with their uncertainty
//	learn    from looks to a sentence: what changed, by how much, and how sure that is
//
// Stages hand each other the types of studio and never reach back: learn may
// read a plan, plan knows nothing of learn. The loop closes through a person,
// who reads a finding and asks the next question.
package flow
