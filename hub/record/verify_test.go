package record

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"
)

// filled makes a record with a little of everything in it.
func filled(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	r := open(t, dir, Options{})
	run, _ := begin(t, r)
	id, err := r.StartSession(Session{Name: "one", Start: Moment{run.ID, 1}, StartedHow: ByCommand, StartedBy: "the owner"}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.AddReadings([]Reading{temperature("hot-a", 2, 60), temperature("hot-a", 3, 61)})
	if _, err := r.AddMark(Mark{Session: id, Moment: Moment{At: 3}, Text: "in range"}, nil, nil); err != nil {
		t.Fatal(err)
	}
	for i := range int64(3) {
		if err := r.AddEvent(Event{Sequence: i + 1, Moment: Moment{At: 4}}, nil, nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Add(nil, nil, &SessionEnd{id, Moment{run.ID, 5}, ByCommand, "the owner"},
		&PortNote{Moment{At: 5}, "fume-head", "not plugged in", "", "plug it in again"}); err != nil {
		t.Fatal(err)
	}
	if err := r.EndRun(6); err != nil {
		t.Fatal(err)
	}
	closeRecord(t, r)
	return dir
}

func TestVerifyFindsEachFault(t *testing.T) {
	for _, row := range []struct{ damage, where, what string }{
		{`DELETE FROM channels`, "table readings", "points to a row of channels"},
		{`UPDATE runs SET run = 3`, "run 3", "not one more"},
		{`DELETE FROM events WHERE sequence = 2`, "event 3", "1 events before it are missing"},
		{`UPDATE events SET at = 3 WHERE sequence = 2`, "event 2", "lies before event 1"},
		{`DELETE FROM events WHERE sequence = 3`, "event 3", "was synced to the disk and is missing"},
		{`UPDATE runs SET last_at = 2`, "run 1, readings", "one at 3 ns lies after"},
		{`UPDATE runs SET last_at = 3`, "event 1", "after the last thing written"},
		{`UPDATE runs SET ended_at = 1`, "run 1", "ended before"},
		{`UPDATE readings SET quality = 3 WHERE at = 2`, "reading of hot-a in run 1 at 2 ns", "its quality is bad"},
		{`INSERT INTO sessions SELECT 2, 'two', 1, 4, 'by itself', '', 1, 5, 'by itself', '', 0;
			UPDATE sessions SET end_run = NULL, end_at = NULL, ended_how = NULL, ended_by = NULL WHERE session = 1`, "session 1", "was open when"},
		{`UPDATE sessions SET end_at = 99`, "session 1", "ends after"},
		{`UPDATE marks SET at = 0`, "mark 1", "outside session 1"},
	} {
		t.Run(row.damage, func(t *testing.T) {
			dir := filled(t)
			verified(t, dir)
			restore, err := os.ReadFile(filepath.Join(dir, fileName))
			if err != nil {
				t.Fatal(err)
			}
			run(t, dir, "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON;"+row.damage)
			report, err := Verify(t.Context(), dir)
			if err != nil {
				t.Fatal(err)
			}
			found := false
			for _, fault := range report.Faults {
				found = found || strings.HasPrefix(fault.Where, row.where) && strings.Contains(fault.What, row.what)
			}
			if !found || report.Well() {
				t.Errorf("got %v, want %s: %s", report.Faults, row.where, row.what)
			}
			write(t, filepath.Join(dir, fileName), string(restore))
		})
	}
}

// run runs statements on a record behind its back.
func run(t *testing.T, dir, statements string) {
	t.Helper()
	db, err := openDatabase(filepath.Join(dir, fileName), "", sqlite3.OPEN_READWRITE|sqlite3.OPEN_CREATE)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.Exec(statements), db.close()); err != nil {
		t.Fatal(err)
	}
}

func TestVerifyFindsABrokenPage(t *testing.T) {
	dir := filled(t)
	path := filepath.Join(dir, fileName)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for page := 1; page < len(whole)/4096; page++ {
		broken := []byte(string(whole))
		for i := range 64 {
			broken[page*4096+i] ^= 0x5a
		}
		write(t, path, string(broken))
		if report, err := Verify(t.Context(), dir); err == nil && !report.Well() {
			found++
		} else {
			t.Errorf("page %d: nothing found, %v", page+1, err)
		}
	}
	if found == 0 {
		t.Error("no page was tried")
	}
	write(t, path, string(whole))
}

func TestLaterVersionIsLeftAlone(t *testing.T) {
	dir := filled(t)
	run(t, dir, "PRAGMA user_version = 2")
	if _, err := Open(dir, Options{}); !errors.Is(err, ErrNewer) {
		t.Errorf("got %v, want %v", err, ErrNewer)
	}
	if _, err := OpenReader(dir); !errors.Is(err, ErrNewer) {
		t.Errorf("got %v, want %v", err, ErrNewer)
	}
	run(t, dir, "PRAGMA user_version = 1")
}

func TestForeignDatabaseIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	run(t, dir, "CREATE TABLE somebody_elses (x)")
	if _, err := Open(dir, Options{}); !errors.Is(err, errForeign) {
		t.Errorf("got %v, want %v", err, errForeign)
	}
	run(t, dir, "SELECT * FROM somebody_elses")
}

func TestMigrationIsWholeOrNothing(t *testing.T) {
	db, err := openDatabase(filepath.Join(t.TempDir(), fileName), "", sqlite3.OPEN_READWRITE|sqlite3.OPEN_CREATE)
	if err != nil {
		t.Fatal(err)
	}
	defer db.close()
	ctx := context.Background()
	broken := "ALTER TABLE runs ADD COLUMN place TEXT; CREATE TABLE half (x); INSERT INTO nowhere VALUES (1)"
	if err := db.migrate(ctx, append(steps(), broken)); err == nil || !strings.Contains(err.Error(), "step to schema version 2") {
		t.Errorf("got %v", err)
	}
	if version, err := db.version(ctx); version != 1 || err != nil {
		t.Errorf("version %d, %v after a failed step, want 1", version, err)
	}
	if tables, err := db.number(ctx, "SELECT count(*) FROM sqlite_schema WHERE name = 'half'"); tables != 0 || err != nil {
		t.Errorf("half a step was kept: %v", err)
	}
	if err := db.migrate(ctx, append(steps(), "CREATE TABLE half (x)")); err != nil {
		t.Error(err)
	}
	if version, err := db.version(ctx); version != 2 || err != nil {
		t.Errorf("version %d, %v, want 2", version, err)
	}
}

// TestOldSchemasStay pins each step that records have been made with.
func TestOldSchemasStay(t *testing.T) {
	for i, step := range steps() {
		if got := fingerprint(step); got != frozen[i] {
			t.Errorf("schema/%04d.sql has changed (%s): add a new step instead", i+1, got)
		}
	}
}

// frozen holds the SHA-256 of each step.
var frozen = []string{"6cecc3f80f89e807710317623693af26702009c46cae3d1027717c88180afde2"}

func fingerprint(text string) string {
	hash := sha256.Sum256([]byte(text))
	return hex.EncodeToString(hash[:])
}
