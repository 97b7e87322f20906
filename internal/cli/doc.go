// Package cli is the command line: it turns typed words into calls of the other
// packages, and their answers into text or JSON.
//
// One file holds one verb. Answers go to standard output; everything else,
// errors first of all, goes to standard error in one line that starts with
// "aerugo: " and says what was wrong and what would be right. The exit status is
// 0 when all went well, 2 for what the person can mend and 1 for what we must.
package cli
