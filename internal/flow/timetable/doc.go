// Package timetable plans a bench day: when each operation starts, with so many
// hands, so many places in a chamber, waits that have a least and a longest,
// hours in which someone is there, and lids that are opened as seldom as can be.
//
// Plan finds the earliest finish and says what it can't be below; Replan moves as
// little as possible once something is late. A day that can't fit comes back
// with what stands in its way and what would make it fit. Nothing here reads a
// clock: a Limit counts steps or asks the caller.
package timetable
