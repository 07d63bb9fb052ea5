//go:build linux

package poll

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/lines"
	"simmerline/sensors/serialport"
)

// These tests go through real pseudo-terminals, so they run in real time and
// wait on what is told, not on sleeps.

// terminals is a bench whose one socket takes pseudo-terminals; a link in a
// folder leads to what is plugged in, as the system's own links do.
type terminals struct {
	t      *testing.T
	folder string
	told   chan sensors.Batch
}

const boardLink = "usb-Pennywhistle_Tile_Board_PENNY01-if00"

func newTerminals(t *testing.T) *terminals {
	return &terminals{t: t, folder: t.TempDir(), told: make(chan sensors.Batch, 1000)}
}

func (w *terminals) options() Options {
	config := sensors.PortConfig{
		Name: "board-1", Address: sensors.Address{ByID: boardLink, Interface: -1},
		Serial: sensors.SerialConfig{Baud: 115200, DataBits: 8, StopBits: 1},
		Lines:  &sensors.LinesConfig{Channels: []sensors.LineChannel{{Channel: probe(), Key: "hot"}}},
	}
	driver, err := lines.New(*config.Lines)
	if err != nil {
		w.t.Fatal(err)
	}
	clk := clock.NewSystem()
	// An empty tree, so that this machine's own ports are of no matter.
	finder := serialport.Finder{Root: w.t.TempDir(), ByID: w.folder}
	return Options{
		Config: config, Driver: driver, Clock: clk, Present: serialport.Present,
		Deliver: func(b sensors.Batch) { w.told <- b },
		Open: func() (Port, string, error) {
			device, err := finder.Resolve(config.Address)
			if err != nil {
				return nil, "", err
			}
			port, err := serialport.Open(device, config.Serial, clk)
			if err != nil {
				return nil, device, err
			}
			return port, device, nil
		},
	}
}

// plug makes a pseudo-terminal and the link to it; closing the master is the
// pulled plug.
func (w *terminals) plug() (master *os.File, device string) {
	w.t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		w.t.Skipf("no pseudo-terminals here: %v", err)
	}
	device = slave.Name()
	slave.Close()
	link := filepath.Join(w.folder, boardLink)
	os.Remove(link)
	if err := os.Symlink(device, link); err != nil {
		w.t.Fatal(err)
	}
	return master, device
}

// until waits for a batch that is wanted, and gives all that came up to it.
func (w *terminals) until(what string, wanted func(sensors.Batch) bool) []sensors.Batch {
	w.t.Helper()
	deadline := time.NewTimer(20 * time.Second)
	defer deadline.Stop()
	var seen []sensors.Batch
	for {
		select {
		case b := <-w.told:
			seen = append(seen, b)
			if wanted(b) {
				return seen
			}
		case <-deadline.C:
			w.t.Fatalf("waited for %s in vain; told: %+v", what, seen)
		}
	}
}

func inState(state sensors.PortState, device string) func(sensors.Batch) bool {
	return func(b sensors.Batch) bool {
		return b.Status != nil && b.Status.State == state && b.Status.Device == device
	}
}

func withGood(celsius float64) func(sensors.Batch) bool {
	return func(b sensors.Batch) bool {
		for _, r := range b.Readings {
			if r.Quality == sensors.QualityGood && r.Value.Number() == celsius {
				return true
			}
		}
		return false
	}
}

func openFiles(t *testing.T) int {
	t.Helper()
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return len(entries)
}

// TestRealTimeReplugs unplugs and plugs in again fifty times, each time under
// another node behind the same link.
func TestRealTimeReplugs(t *testing.T) {
	w := newTerminals(t)
	o := w.options()
	b := &bench{options: o, ended: make(chan error, 1)}
	files, goroutines := openFiles(t), runtime.NumGoroutine()
	b.run(t)
	w.until("the missing board", inState(sensors.PortMissing, ""))
	rounds := 50
	if testing.Short() {
		rounds = 5
	}
	slow := 0
	for i := range rounds {
		plugged := o.Clock.Now()
		master, device := w.plug()
		opened := w.until("the open", inState(sensors.PortOpen, device))
		if took := opened[len(opened)-1].At - plugged; took > time.Second {
			slow++
			t.Logf("round %d: open after %v", i, took)
		}
		celsius := 40 + float64(i)/2
		// The first line may be cut, so the driver drops what comes before a
		// line's end.
		fmt.Fprintf(master, "=1\nhot=%.1f\n", celsius)
		seen := w.until("the reading", withGood(celsius))
		for _, batch := range append(opened, seen[:len(seen)-1]...) {
			for _, r := range batch.Readings {
				t.Errorf("round %d: %v %v was told of a board that had said nothing", i, r.Quality, r.Value)
			}
		}
		master.Close()
		lost := w.until("the loss", inState(sensors.PortMissing, ""))
		bad := 0
		for _, batch := range lost {
			for _, r := range batch.Readings {
				if r.Quality == sensors.QualityBad && r.Reason == sensors.ReasonUnplugged {
					bad++
				} else {
					t.Errorf("round %d: %v %v after the unplug", i, r.Quality, r.Value)
				}
			}
		}
		if bad != 1 {
			t.Errorf("round %d: the channel turned bad %d times", i, bad)
		}
		if reopens := lost[len(lost)-1].Status.Reopens; reopens != uint64(i) {
			t.Errorf("round %d: %d reopens", i, reopens)
		}
	}
	// Half a second between two looks; a loaded machine may miss it now and then.
	if slow > rounds/10 {
		t.Errorf("%d of %d times a board was not in use a second after it was plugged in", slow, rounds)
	}
	b.stop()
	if err := <-b.ended; err != nil {
		t.Error(err)
	}
	// A goroutine that has sent its last word may still be on its way out.
	for begun := time.Now(); runtime.NumGoroutine() > goroutines; runtime.Gosched() {
		if time.Since(begun) > 5*time.Second {
			t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), goroutines)
			break
		}
	}
	if now := openFiles(t); now > files+2 { // the runtime's own poller opens two
		t.Errorf("%d open files, %d before", now, files)
	}
}

// TestRealTimeTwoHubs shows that a second hub is told what is wrong.
func TestRealTimeTwoHubs(t *testing.T) {
	w := newTerminals(t)
	master, device := w.plug()
	defer master.Close()
	first := &bench{options: w.options(), ended: make(chan error, 1)}
	first.run(t)
	w.until("the open", inState(sensors.PortOpen, device))
	second := &bench{options: w.options(), ended: make(chan error, 1)}
	second.run(t)
	seen := w.until("the second hub's refusal", func(b sensors.Batch) bool { return b.Status != nil })
	if s := seen[len(seen)-1].Status; s.State != sensors.PortOpening || !strings.Contains(s.Detail, "another program") {
		t.Errorf("the second hub says %v: %s", s.State, s.Detail)
	}
	first.stop()
	if err := <-first.ended; err != nil {
		t.Error(err)
	}
	w.until("the second hub's turn", inState(sensors.PortOpen, device))
	second.stop()
	if err := <-second.ended; err != nil {
		t.Error(err)
	}
}

// TestRealTimeFlood sends noise as fast as it goes and pulls the plug.
func TestRealTimeFlood(t *testing.T) {
	w := newTerminals(t)
	master, device := w.plug()
	b := &bench{options: w.options(), ended: make(chan error, 1)}
	b.run(t)
	w.until("the open", inState(sensors.PortOpen, device))
	flooded := make(chan struct{})
	go func() {
		defer close(flooded)
		noise := []byte(strings.Repeat("\xff\x00garbage=\n", 100))
		for {
			if _, err := master.Write(noise); err != nil {
				return
			}
		}
	}()
	w.until("a count of what is refused", func(b sensors.Batch) bool { return b.Status != nil && b.Status.Faults.Total() > 1000 })
	master.Close()
	w.until("the loss", inState(sensors.PortMissing, ""))
	<-flooded
	b.stop()
	if err := <-b.ended; err != nil {
		t.Error(err)
	}
}
