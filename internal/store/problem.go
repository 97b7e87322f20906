package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"aerugo/internal/studio"
)

// missing is the Problem for a thing that is not there.
func missing(what string, id int64) error {
	return studio.Problemf(studio.NotFound, "", "There is no %s %d in this studio.", what, id)
}

// fault turns err into what the caller should see: a Problem where a person can
// mend it, else err wrapped with what was being done.
func fault(err error, doing string, args ...any) error {
	if err == nil || studio.ProblemIn(err) != nil {
		return err
	}
	doing = fmt.Sprintf(doing, args...)
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%s: %w", doing, err)
	}
	if isDiskFull(err) {
		return studio.Problemf(studio.Machine, "", "The disk is full: nothing was changed; free some space and try again.")
	}
	switch code := sqliteCode(err); {
	case code == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		return studio.Problemf(studio.Conflict, "", "It refers to something that is not in this studio any more; reload the page and choose again.")
	case code&0xff == sqlite3.SQLITE_READONLY:
		return studio.Problemf(studio.Machine, "", "The studio's folder can't be written to; allow writing to it, or copy it to where that is allowed.")
	case code&0xff == sqlite3.SQLITE_CORRUPT, code&0xff == sqlite3.SQLITE_NOTADB:
		return studio.Problemf(studio.Machine, "", "The file studio.db is damaged; close Aerugo and restore the newest backup. (%v)", err)
	case code&0xff == sqlite3.SQLITE_BUSY:
		return studio.Problemf(studio.Machine, "", "Another program keeps studio.db busy; close it and try again.")
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// sqliteCode returns the extended SQLite result code in err's chain, or 0.
func sqliteCode(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}

// isDiskFull reports whether err says that there is no room left.
func isDiskFull(err error) bool {
	return sqliteCode(err)&0xff == sqlite3.SQLITE_FULL || noSpace(err)
}

// inDoubt reports whether, for all that is known, a change may be on the disk
// although err came back: the disk failed while it was being made safe.
func inDoubt(err error) bool { return sqliteCode(err)&0xff == sqlite3.SQLITE_IOERR }

// found turns the error of a look-up by id into the one for the person.
func found(err error, what string, id int64) error {
	if errors.Is(err, sql.ErrNoRows) {
		return missing(what, id)
	}
	return fault(err, "read %s %d", what, id)
}
