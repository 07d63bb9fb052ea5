package record

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// The files of a record in its folder.
const (
	fileName   = "record.db"
	lockName   = "record.lock"
	damageName = "record.damaged" // says that fileName must be set aside
)

// Options says how to open a record. The zero Options is right for a hub.
type Options struct {
	// QueueReadings is how many readings may wait for the disk; more are lost
	// and noted as a gap. 0 means 16384, some minutes of a large bench.
	QueueReadings int
	// QueueEntries is how many entries (events and the like) may wait, in room
	// that readings can't take. 0 means 8192.
	QueueEntries int
	// Reserve is how many bytes of the disk are kept free for events: with
	// fewer, readings are no longer kept. 0 means 64 MiB.
	Reserve uint64
	// OnHealth is told when the record begins or ceases to fail. It is called
	// from the record's own goroutine and must not wait.
	OnHealth func(Health)

	layer           string                       // SQLite file layer, for tests
	free            func(string) (uint64, error) // free space, for tests
	checkpointPages int                          // log pages that make a checkpoint due
}

func (o *Options) fill() {
	if o.QueueReadings == 0 {
		o.QueueReadings = 16384
	}
	if o.QueueEntries == 0 {
		o.QueueEntries = 8192
	}
	if o.Reserve == 0 {
		o.Reserve = 64 << 20
	}
	if o.OnHealth == nil {
		o.OnHealth = func(Health) {}
	}
	if o.free == nil {
		o.free = freeBytes
	}
	if o.checkpointPages == 0 {
		o.checkpointPages = 1000
	}
}

// Record is a record open for writing, by one hub at a time. Its Reader reads
// the same record at any time.
type Record struct {
	*Reader
	dir      string
	options  Options
	lock     *database
	w        *writer
	setAside string

	urgent, pace  chan struct{} // one slot each
	closing, done chan struct{}
	closeOnce     sync.Once
	begun         bool // Begin has started the goroutine; only Begin and Close look

	mu             sync.Mutex // guards all below
	accepting      bool
	queue          []item
	inFlight       int // how many of queue the goroutine is writing
	queuedReadings int
	queuedEntries  int
	alive          time.Duration
	hot            bool
	lastSession    int64
	lastMark       int64
	health         Health
	reported       Health    // what OnHealth was last told
	writingSince   time.Time // zero while the goroutine waits for something to do
}

// ErrInUse says that another hub writes to the record.
var ErrInUse = errors.New("another hub is writing to this record: stop it, or use another data folder")

// Open opens the record in a folder for writing and makes both where there is
// none. A file that is damaged is set aside under another name, never
// overwritten, and a new one begun: SetAside then tells where the old one is.
// It fails with ErrInUse while another hub writes there, and with ErrNewer for
// a record of a later version.
func Open(dir string, options Options) (*Record, error) {
	options.fill()
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("record: can't make the data folder: %w", err)
	}
	lock, err := takeLock(filepath.Join(dir, lockName))
	if err != nil {
		return nil, fmt.Errorf("record: %s: %w", dir, err)
	}
	r := &Record{
		dir: dir, options: options, lock: lock,
		urgent: make(chan struct{}, 1), pace: make(chan struct{}, 1),
		closing: make(chan struct{}), done: make(chan struct{}),
	}
	if err := r.openWriter(); err != nil {
		return nil, errors.Join(fmt.Errorf("record: can't open %s: %w", filepath.Join(dir, fileName), err), lock.close())
	}
	r.Reader = newReader(filepath.Join(dir, fileName), options.layer)
	return r, nil
}

// SetAside gives the path that a damaged record was moved to when this one was
// opened, and "" where nothing was damaged.
func (r *Record) SetAside() string { return r.setAside }

// Dir gives the folder the record is kept in.
func (r *Record) Dir() string { return r.dir }

func (r *Record) openWriter() error {
	path := filepath.Join(r.dir, fileName)
	marker := filepath.Join(r.dir, damageName)
	_, err := os.Stat(marker)
	if err == nil {
		err = errMarked
	} else if errors.Is(err, fs.ErrNotExist) {
		r.w, err = openWriter(path, r.options.layer)
	}
	if !damaged(err) && !errors.Is(err, errMarked) {
		return err
	}
	if r.setAside, err = moveAside(path); err != nil {
		return fmt.Errorf("it is damaged and can't be set aside: %w", err)
	}
	if err := os.Remove(marker); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	r.w, err = openWriter(path, r.options.layer)
	return err
}

var errMarked = errors.New("found damaged while it was in use")

// openWriter opens the one connection that writes.
func openWriter(path, layer string) (*writer, error) {
	db, err := openDatabase(path, layer, sqlite3.OPEN_READWRITE|sqlite3.OPEN_CREATE)
	if err != nil {
		return nil, err
	}
	w := &writer{database: db, channels: map[string]int64{}, newest: map[int64]time.Duration{}}
	if err := w.prepare(context.Background()); err != nil {
		return nil, errors.Join(err, db.close())
	}
	return w, nil
}

func (w *writer) prepare(ctx context.Context) error {
	// The version first: another program's database, or a later version's, must
	// be left as it is.
	if version, err := w.version(ctx); err != nil {
		return err
	} else if known := len(steps()); version > known {
		return fmt.Errorf("schema version %d, this program knows %d: %w", version, known, ErrNewer)
	}
	if err := w.Exec(`PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL;
		PRAGMA foreign_keys = ON; PRAGMA journal_size_limit = 16777216`); err != nil {
		return err
	}
	if err := w.migrate(ctx, steps()); err != nil {
		return err
	}
	// A look at the newest rows finds a file cut short or overwritten, without
	// reading all of it.
	for _, table := range []string{"runs", "events", "sessions", "marks"} {
		if _, err := w.number(ctx, "SELECT max(rowid) FROM "+table); err != nil {
			return err
		}
	}
	_, err := w.number(ctx, "SELECT at FROM readings ORDER BY run DESC, at DESC LIMIT 1")
	w.WALHook(func(_ *sqlite3.Conn, _ string, pages int) error {
		w.logPages = pages
		return nil
	})
	return err
}

// takeLock holds an exclusive SQLite lock for as long as the process lives,
// which works alike on every system and ends with the process.
func takeLock(path string) (*database, error) {
	lock, err := openDatabase(path, "", sqlite3.OPEN_READWRITE|sqlite3.OPEN_CREATE)
	if err != nil {
		return nil, err
	}
	err = lock.BusyTimeout(0)
	if err == nil {
		err = lock.Exec("BEGIN EXCLUSIVE")
	}
	if errors.Is(err, sqlite3.BUSY) {
		err = ErrInUse
	}
	if err != nil {
		return nil, errors.Join(err, lock.close())
	}
	return lock, nil
}

// moveAside renames a record with its log to the first free name and gives that.
func moveAside(path string) (string, error) {
	for n := 1; ; n++ {
		aside := fmt.Sprintf("%s-damaged-%d", path, n)
		if _, err := os.Lstat(aside); err == nil {
			continue
		}
		// The log goes first: without its log the file alone would look whole.
		for _, suffix := range []string{"-wal", ""} {
			if err := os.Rename(path+suffix, aside+suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", err
			}
		}
		// The index of the log is rebuilt by whoever opens the file.
		if err := os.Remove(path + "-shm"); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		return aside, nil
	}
}
