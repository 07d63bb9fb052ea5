//go:build linux

package serialport

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// These tests go through real pseudo-terminals, so they run in real time. They
// wait on reads and writes, not on sleeps.

func plain() sensors.SerialConfig {
	return sensors.SerialConfig{Baud: 9600, DataBits: 8, StopBits: 1}
}

// plugIn makes a pseudo-terminal; its slave end is left to be opened by name.
func plugIn(t *testing.T) (master *os.File, device string) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	device = slave.Name()
	slave.Close()
	t.Cleanup(func() { master.Close() })
	return master, device
}

func TestRealTimePseudoTerminal(t *testing.T) {
	clk := clock.NewSystem()
	master, device := plugIn(t)
	port, err := Open(device, plain(), clk)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := port.Read(make([]byte, 8), 0); err != sensors.ErrTimeout {
		t.Fatalf("with nothing to read: %v", err)
	}
	before := clk.Now()
	if _, err := master.WriteString("hot=68.4\r\n"); err != nil {
		t.Fatal(err)
	}
	p := make([]byte, 64)
	n, at, err := port.Read(p, 5*time.Second)
	if err != nil || string(p[:n]) != "hot=68.4\r\n" || at < before || at > clk.Now() {
		t.Fatalf("read %q at %v (written at %v), %v", p[:n], at, before, err)
	}
	if err := port.Write([]byte{0x11, 0x03, 0x0a, 0x0d}); err != nil {
		t.Fatal(err)
	}
	if n, err := master.Read(p); err != nil || string(p[:n]) != "\x11\x03\x0a\x0d" {
		t.Fatalf("the device got % x, %v", p[:n], err)
	}
	master.WriteString("old")
	if _, _, err := port.Read(p[:1], 5*time.Second); err != nil {
		t.Fatal(err)
	}
	if err := port.Discard(); err != nil {
		t.Fatal(err)
	}
	master.WriteString("new")
	if n, _, err := port.Read(p, 5*time.Second); err != nil || string(p[:n]) != "new" {
		t.Fatalf("after Discard read %q, %v", p[:n], err)
	}
	if !Present(device) {
		t.Error("the device is not present while it is plugged in")
	}
	master.Close()
	if _, _, err := port.Read(p, 5*time.Second); err != sensors.ErrUnplugged {
		t.Errorf("after the master closed: %v", err)
	}
	if err := port.Write([]byte{1}); err != sensors.ErrUnplugged {
		t.Errorf("a write after the master closed: %v", err)
	}
	if err := port.Close(); err != nil {
		t.Errorf("Close: %v", err)
	}
	if Present(device) {
		t.Error("the device is still present after it was unplugged")
	}
	if _, err := Open(device, plain(), clk); !errors.Is(err, sensors.ErrMissing) {
		t.Errorf("open after the unplug: %v", err)
	}
}

func TestRealTimeCloseEndsARead(t *testing.T) {
	_, device := plugIn(t)
	port, err := Open(device, plain(), clock.NewSystem())
	must(t, err)
	ended := make(chan error, 1)
	reading := make(chan struct{})
	go func() {
		close(reading)
		_, _, err := port.Read(make([]byte, 8), time.Hour)
		ended <- err
	}()
	<-reading
	must(t, port.Close())
	if err := <-ended; err != sensors.ErrClosed {
		t.Errorf("the read ended with %v", err)
	}
}

func TestRealTimeOneHolderAtATime(t *testing.T) {
	clk := clock.NewSystem()
	_, device := plugIn(t)
	first, err := Open(device, plain(), clk)
	must(t, err)
	_, err = Open(device, plain(), clk)
	var open *sensors.OpenError
	if !errors.As(err, &open) || !errors.Is(err, sensors.ErrBusy) || !strings.Contains(open.Sentence, device) {
		t.Errorf("a second open: %v", err)
	}
	must(t, first.Close())
	again, err := Open(device, plain(), clk)
	must(t, err)
	must(t, again.Close())
}

// TestRealTimeModemLinesOfAPseudoTerminal states a fact: it has none.
func TestRealTimeModemLinesOfAPseudoTerminal(t *testing.T) {
	high := true
	config := plain()
	config.DTR = &high
	_, device := plugIn(t)
	if port, err := Open(device, config, clock.NewSystem()); !errors.Is(err, sensors.ErrNotSerial) {
		t.Errorf("with DTR asked for: %v, %v", port, err)
	}
	port, err := Open(device, plain(), clock.NewSystem()) // and the failed open holds nothing
	must(t, err)
	must(t, port.Close())
}

func TestOpenWhatIsNoPort(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	write(t, file, "text")
	if _, err := Open(file, plain(), clock.NewSystem()); !errors.Is(err, sensors.ErrNotSerial) {
		t.Errorf("a plain file: %v", err)
	}
	if _, err := Open(file+"-missing", plain(), clock.NewSystem()); !errors.Is(err, sensors.ErrMissing) {
		t.Errorf("nothing: %v", err)
	}
	if os.Getuid() == 0 {
		return // nothing is denied to root
	}
	must(t, os.Chmod(file, 0))
	if _, err := Open(file, plain(), clock.NewSystem()); !errors.Is(err, sensors.ErrDenied) {
		t.Errorf("a file we may not open: %v", err)
	}
}

// TestRealTimeChildrenDoNotHoldThePort starts a child program while a port is
// open and looks whether it inherited the device.
func TestRealTimeChildrenDoNotHoldThePort(t *testing.T) {
	_, device := plugIn(t)
	port, err := Open(device, plain(), clock.NewSystem())
	must(t, err)
	defer port.Close()
	out, err := exec.Command("ls", "-l", "/proc/self/fd").Output()
	if err != nil {
		t.Skipf("can't look into a child: %v", err)
	}
	if strings.Contains(string(out), device) {
		t.Errorf("a child holds %s:\n%s", device, out)
	}
}

// TestRealTimeNothingLeaks plugs in, opens, unplugs and closes many times, each
// time under another node through the same link.
func TestRealTimeNothingLeaks(t *testing.T) {
	folder := t.TempDir()
	finder := Finder{Root: t.TempDir(), ByID: folder}
	link := filepath.Join(folder, "usb-Pennywhistle_Tile_Board_PENNY01-if00")
	held := func() int {
		entries, err := os.ReadDir("/proc/self/fd")
		must(t, err)
		return len(entries)
	}
	before := 0
	for i := range 50 {
		master, slave, err := pty.Open()
		if err != nil {
			t.Skipf("no pseudo-terminals here: %v", err)
		}
		os.Remove(link)
		must(t, os.Symlink(slave.Name(), link))
		device, err := finder.Resolve(sensors.Address{ByID: filepath.Base(link), Interface: -1})
		must(t, err)
		port, err := Open(device, plain(), clock.NewSystem())
		must(t, err)
		slave.Close()
		master.Close()
		if _, _, err := port.Read(make([]byte, 8), 5*time.Second); err != sensors.ErrUnplugged {
			t.Fatalf("round %d: %v", i, err)
		}
		must(t, port.Close())
		if i == 0 {
			before = held()
		}
	}
	if after := held(); after > before {
		t.Errorf("%d files are held, %d after the first round", after, before)
	}
}
