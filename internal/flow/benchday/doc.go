// Package benchday plans a day at the bench from treatments and what happened
// to them so far, says it in the words of the bench, and plans it again when it
// slips.
//
//	Make     what to run, who is there  -> a Sheet: actions by the clock
//	Again    a kept timetable, records  -> the rest of the day, little moved
//	Show     a kept timetable, records  -> the Sheet as it stands now
//	After    a kept timetable, records  -> planned against what was done
//	Calendar a Sheet                    -> a file for a calendar (RFC 5545)
//
// The search is that of package timetable; here treatments become its day.
package benchday
