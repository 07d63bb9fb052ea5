package record

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"
)

// layer is a file layer for SQLite that keeps a log of every change to a file,
// so that the state of the disk after any number of them can be built again,
// and that can be told to fail.
type layer struct {
	vfs.VFSFilename
	name string

	mu   sync.Mutex // guards both below
	log  []change
	fail func(change) error // nil lets everything through
}

// change is one change to a file, by its base name.
type change struct {
	kind changeKind
	file string
	at   int64 // offset of a write, or size of a truncation
	data []byte
}

type changeKind int

const (
	written changeKind = iota
	truncated
	synced
	deleted
)

func newLayer(t testing.TB) *layer {
	os, ok := vfs.Find("os").(vfs.VFSFilename)
	if !ok {
		t.Fatal("the system's file layer can't be wrapped")
	}
	l := &layer{VFSFilename: os}
	l.name = fmt.Sprintf("%s-%p", t.Name(), l)
	vfs.Register(l.name, l)
	t.Cleanup(func() { vfs.Unregister(l.name) })
	return l
}

// note logs a change, unless it is to fail.
func (l *layer) note(c change) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.fail != nil {
		if err := l.fail(c); err != nil {
			return err
		}
	}
	c.file = filepath.Base(c.file)
	c.data = append([]byte(nil), c.data...)
	l.log = append(l.log, c)
	return nil
}

func (l *layer) failWith(f func(change) error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fail = f
}

func (l *layer) length() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.log)
}

func (l *layer) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	file, flags, err := l.VFSFilename.OpenFilename(name, flags)
	if err != nil {
		return nil, flags, err
	}
	return &layerFile{File: file, layer: l, name: name.String()}, flags, nil
}

func (l *layer) Delete(name string, syncDir bool) error {
	if err := l.note(change{kind: deleted, file: name}); err != nil {
		return err
	}
	return l.VFSFilename.Delete(name, syncDir)
}

type layerFile struct {
	vfs.File
	layer *layer
	name  string
}

func (f *layerFile) WriteAt(p []byte, at int64) (int, error) {
	if err := f.layer.note(change{kind: written, file: f.name, at: at, data: p}); err != nil {
		return 0, err
	}
	return f.File.WriteAt(p, at)
}

func (f *layerFile) Truncate(size int64) error {
	if err := f.layer.note(change{kind: truncated, file: f.name, at: size}); err != nil {
		return err
	}
	return f.File.Truncate(size)
}

func (f *layerFile) Sync(vfs.SyncFlag) error {
	// The log of changes is all that these tests look at; a real sync would only
	// take long.
	return f.layer.note(change{kind: synced, file: f.name})
}

// SharedMemory lets connections share the index of the log, as on a real disk.
func (f *layerFile) SharedMemory() vfs.SharedMemory {
	return f.File.(vfs.FileSharedMemory).SharedMemory()
}

// disk is the content of files by name.
type disk map[string][]byte

func (d disk) apply(c change) {
	switch c.kind {
	case written:
		content := d[c.file]
		if end := int(c.at) + len(c.data); end > len(content) {
			content = append(content, make([]byte, end-len(content))...)
		}
		copy(content[c.at:], c.data)
		d[c.file] = content
	case truncated:
		content := d[c.file]
		if int(c.at) > len(content) {
			content = append(content, make([]byte, int(c.at)-len(content))...)
		}
		d[c.file] = content[:c.at]
	case deleted:
		delete(d, c.file)
	}
}

// save writes the disk's files into a new folder.
func (d disk) save(t testing.TB, dir string) {
	t.Helper()
	for name, content := range d {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// killed gives the disk when the process was killed in the middle of change n:
// all before it has happened, and of itself the first torn bytes.
func killed(log []change, n, torn int) disk {
	d := disk{}
	for _, c := range log[:n] {
		d.apply(c)
	}
	if n < len(log) && log[n].kind == written {
		c := log[n]
		c.data = c.data[:min(torn, len(c.data))]
		d.apply(c)
	}
	return d
}

// powerCut gives the disk when the power failed just before change n: what was
// synced is there; of every change after that chance decides whether it got to
// the disk, whole or torn at a sector, in any order across files.
func powerCut(log []change, n int, chance func(n int) int) disk {
	durable := make([]bool, n)
	for i, c := range log[:n] {
		switch c.kind {
		case deleted:
			durable[i] = true // SQLite has the folder synced with it
		case synced:
			for j := range i {
				if log[j].file == c.file {
					durable[j] = true
				}
			}
		}
	}
	d := disk{}
	for i, c := range log[:n] {
		if durable[i] {
			d.apply(c)
			continue
		}
		switch chance(3) {
		case 0: // it never got there
		case 1:
			d.apply(c)
		case 2:
			const sector = 512
			if sectors := len(c.data) / sector; c.kind == written && sectors > 0 {
				c.data = c.data[:sector*chance(sectors)]
			}
			d.apply(c)
		}
	}
	return d
}

// dice is a xorshift generator, so that a seed tells all that chance did.
type dice uint64

func (d *dice) roll(n int) int {
	*d ^= *d << 13
	*d ^= *d >> 7
	*d ^= *d << 17
	return int(uint64(*d) >> 16 % uint64(n))
}

var errDisk = errors.Join(sqlite3.IOERR, errors.New("the test's disk fails"))
