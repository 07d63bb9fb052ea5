package record

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// database is one connection with its prepared statements. It is used by one
// goroutine at a time.
type database struct {
	*sqlite3.Conn
	statements map[string]*sqlite3.Stmt
}

// busyPatience is how long a connection waits for another one's lock. Readers
// never block the one writer in WAL mode, so only opening and closing wait.
const busyPatience = 5 * time.Second

// openDatabase opens a connection. The busy time-out comes before anything
// that could meet a lock.
func openDatabase(path, layer string, flags sqlite3.OpenFlag) (*database, error) {
	name := path
	if layer != "" {
		flags |= sqlite3.OPEN_URI
		name = (&url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: "vfs=" + url.QueryEscape(layer)}).String()
	}
	conn, err := sqlite3.OpenFlags(name, flags)
	if err != nil {
		return nil, err
	}
	if err := conn.BusyTimeout(busyPatience); err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	return &database{Conn: conn, statements: map[string]*sqlite3.Stmt{}}, nil
}

// close ends the connection with all its statements.
func (d *database) close() error {
	for _, stmt := range d.statements {
		stmt.Close()
	}
	clear(d.statements)
	return d.Close()
}

// prepared gives a statement that is made once for each connection.
func (d *database) prepared(text string) (*sqlite3.Stmt, error) {
	if stmt := d.statements[text]; stmt != nil {
		return stmt, nil
	}
	stmt, _, err := d.Prepare(text)
	if err != nil {
		return nil, err
	}
	d.statements[text] = stmt
	return stmt, nil
}

// exec runs one statement to its end.
func (d *database) exec(text string, args ...any) error {
	stmt, err := d.prepared(text)
	if err != nil {
		return err
	}
	if err := bind(stmt, args); err != nil {
		return err
	}
	return stmt.Exec()
}

// query calls each for every row, until it returns false.
func (d *database) query(ctx context.Context, text string, args []any, each func(*sqlite3.Stmt) bool) error {
	stmt, err := d.prepared(text)
	if err != nil {
		return err
	}
	if err := bind(stmt, args); err != nil {
		return err
	}
	old := d.SetInterrupt(ctx)
	defer d.SetInterrupt(old)
	for stmt.Step() {
		if !each(stmt) {
			break
		}
	}
	err = stmt.Err()
	if e := stmt.Reset(); err == nil {
		err = e
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// number runs a query that gives one whole number, 0 where it gives no row.
func (d *database) number(ctx context.Context, text string, args ...any) (n int64, err error) {
	err = d.query(ctx, text, args, func(row *sqlite3.Stmt) bool {
		n = row.ColumnInt64(0)
		return false
	})
	return n, err
}

// bind gives a statement its arguments. SQLite keeps a NaN as NULL.
func bind(stmt *sqlite3.Stmt, args []any) error {
	for i, arg := range args {
		var err error
		switch v := arg.(type) {
		case nil:
			err = stmt.BindNull(i + 1)
		case int:
			err = stmt.BindInt(i+1, v)
		case int64:
			err = stmt.BindInt64(i+1, v)
		case time.Duration:
			err = stmt.BindInt64(i+1, int64(v))
		case float64:
			err = stmt.BindFloat(i+1, v)
		case bool:
			err = stmt.BindBool(i+1, v)
		case string:
			err = stmt.BindText(i+1, v)
		case []byte:
			err = stmt.BindBlob(i+1, v)
		default:
			err = fmt.Errorf("record: can't keep a %T", arg)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// inTransaction does all of do or nothing of it. BEGIN IMMEDIATE, so that a
// lock is met before any work is done.
func (d *database) inTransaction(do func() error) error {
	if err := d.Exec("BEGIN IMMEDIATE"); err != nil {
		return err
	}
	err := do()
	if err == nil {
		err = d.Exec("COMMIT")
	}
	if err != nil && !d.GetAutocommit() {
		// What failed already says why; the rollback only clears the way.
		_ = d.Exec("ROLLBACK")
	}
	return err
}
