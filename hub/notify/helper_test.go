//go:build unix

package notify

import (
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestMain lets the test binary play the part of a player: called by the name
// of one, it behaves as the file <name>.mode beside it says.
func TestMain(m *testing.M) {
	if mode, err := os.ReadFile(os.Args[0] + ".mode"); err == nil {
		os.Exit(actAsPlayer(os.Args[0], string(mode), os.Args[len(os.Args)-1]))
	}
	os.Exit(m.Run())
}

func actAsPlayer(self, mode, file string) int {
	// A line for each start: process, then file.
	started, err := os.OpenFile(self+".started", os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return 1
	}
	fmt.Fprintf(started, "%d %s\n", os.Getpid(), filepath.Base(file))
	switch mode {
	case "plays":
		length, err := wavLength(file)
		if err != nil {
			fmt.Fprintln(os.Stderr, "not a sound:", err)
			return 1
		}
		time.Sleep(length)
		return 0
	case "no device":
		fmt.Fprint(os.Stderr, "library: cannot find card '0'\n\x1b[31mopen error: no such device\n")
		return 1
	case "wrong soon":
		if strings.HasPrefix(filepath.Base(file), "probe") {
			return 0
		}
		time.Sleep(50 * time.Millisecond)
		return 3
	case "hangs", "hangs with a child":
		if mode == "hangs with a child" {
			grandchild := exec.Command("sleep", "600")
			grandchild.Stderr = os.Stderr
			if err := grandchild.Start(); err != nil {
				return 1
			}
			fmt.Fprintf(started, "%d grandchild\n", grandchild.Process.Pid)
		}
		time.Sleep(10 * time.Minute)
	}
	return 2
}

func wavLength(file string) (time.Duration, error) {
	f, err := os.Open(file)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	header := make([]byte, 44)
	if _, err := io.ReadFull(f, header); err != nil {
		return 0, err
	}
	size, rate := binary.LittleEndian.Uint32(header[40:]), binary.LittleEndian.Uint32(header[28:])
	return time.Duration(size) * time.Second / time.Duration(rate), nil
}

// fakePlayers is a folder of players that are this test binary by other names.
type fakePlayers struct {
	t      testing.TB
	folder string
}

func newFakePlayers(t testing.TB) *fakePlayers {
	t.Setenv("TMPDIR", t.TempDir())
	return &fakePlayers{t: t, folder: t.TempDir()}
}

// add installs a player, or changes how it behaves.
func (f *fakePlayers) add(name, mode string) Player {
	f.t.Helper()
	self, err := os.Executable()
	if err != nil {
		f.t.Fatal(err)
	}
	path := filepath.Join(f.folder, name)
	if err := os.WriteFile(path+".mode", []byte(mode), 0o600); err != nil {
		f.t.Fatal(err)
	}
	if err := os.Symlink(self, path); err != nil && !os.IsExist(err) {
		f.t.Fatal(err)
	}
	return Player{Name: name, Path: path}
}

func (f *fakePlayers) lookPath(name string) (string, error) {
	path := filepath.Join(f.folder, name)
	if _, err := os.Lstat(path); err != nil {
		return "", exec.ErrNotFound
	}
	return path, nil
}

// started waits until the player has been started with the file at least n
// times and gives the process numbers.
func (f *fakePlayers) started(name, file string, n int) []int {
	f.t.Helper()
	for range 500 {
		var pids []int
		text, _ := os.ReadFile(filepath.Join(f.folder, name+".started"))
		for line := range strings.Lines(string(text)) {
			if pid, what, ok := strings.Cut(strings.TrimSpace(line), " "); ok && what == file {
				number, err := strconv.Atoi(pid)
				if err != nil {
					f.t.Fatal(err)
				}
				pids = append(pids, number)
			}
		}
		if len(pids) >= n {
			return pids
		}
		time.Sleep(10 * time.Millisecond)
	}
	f.t.Fatalf("%s was not started %d times with %s", name, n, file)
	return nil
}

// leftovers lists what is left in the folder for temporary files.
func (f *fakePlayers) leftovers() []string {
	left, err := filepath.Glob(filepath.Join(os.TempDir(), "simmerline-sound-*"))
	if err != nil {
		f.t.Fatal(err)
	}
	return left
}
