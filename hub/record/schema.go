package record

import (
	"context"
	_ "embed" // for the schema files
	"errors"
	"fmt"

	"github.com/ncruces/go-sqlite3"
)

//go:embed schema/0001.sql
var schema0001 string

// applicationID marks the file as a record of ours in its SQLite header: "SIML".
const applicationID = 0x53494D4C

// steps lists the migrations in order: steps[0] makes version 1 from nothing,
// steps[n] makes version n+1 from version n.
func steps() []string { return []string{schema0001} }

// ErrNewer says that a record was made by a later version of this program.
var ErrNewer = errors.New("made by a later version of this program")

// errForeign says that a file is an SQLite database of something else.
var errForeign = errors.New("not a record of this program")

// version tells which schema version a database has, 0 for an empty one.
func (d *database) version(ctx context.Context) (int, error) {
	application, err := d.number(ctx, "PRAGMA application_id")
	if err != nil {
		return 0, err
	}
	version, err := d.number(ctx, "PRAGMA user_version")
	if err != nil {
		return 0, err
	}
	tables, err := d.number(ctx, "SELECT count(*) FROM sqlite_schema")
	if err != nil {
		return 0, err
	}
	if application != applicationID && (application != 0 || version != 0 || tables != 0) {
		return 0, errForeign
	}
	return int(version), nil
}

// migrate brings a database forward one step at a time, each whole or not at all.
func (d *database) migrate(ctx context.Context, steps []string) error {
	version, err := d.version(ctx)
	if err != nil {
		return err
	}
	if version > len(steps) {
		return fmt.Errorf("schema version %d, this program knows %d: %w", version, len(steps), ErrNewer)
	}
	for ; version < len(steps); version++ {
		if err := d.inTransaction(func() error {
			if err := d.Exec(steps[version]); err != nil {
				return err
			}
			return d.Exec(fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, version+1))
		}); err != nil {
			return fmt.Errorf("step to schema version %d: %w", version+1, err)
		}
	}
	return nil
}

// damaged says whether an error means that the file itself is broken.
func damaged(err error) bool {
	return errors.Is(err, sqlite3.CORRUPT) || errors.Is(err, sqlite3.NOTADB)
}
