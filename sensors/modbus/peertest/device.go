package peertest

import (
	"bufio"
	"fmt"
	"io"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// Device is a running Modbus device.
type Device struct {
	// Path is what to open to reach it.
	Path string

	t    testing.TB
	wire *wire

	mu      sync.Mutex // guards the talk with the program
	to      io.Writer
	answers chan string
}

// Start builds and runs a device with this unit address, and ends it with the
// test. It skips the test where the device can't be built here.
func Start(t testing.TB, unit byte) *Device {
	t.Helper()
	program := build(t)
	link, path := newWire(t)
	command := exec.Command(program, link.deviceEnd(), strconv.Itoa(int(unit)))
	stdin, err := command.StdinPipe()
	if err != nil {
		t.Fatalf("peertest: %v", err)
	}
	stdout, err := command.StdoutPipe()
	if err != nil {
		t.Fatalf("peertest: %v", err)
	}
	command.Stderr = t.Output()
	if err := command.Start(); err != nil {
		t.Fatalf("peertest: start the device: %v", err)
	}
	d := &Device{Path: path, t: t, wire: link, to: stdin, answers: make(chan string, 1)}
	go func() {
		defer close(d.answers)
		for lines := bufio.NewScanner(stdout); lines.Scan(); {
			d.answers <- lines.Text()
		}
	}()
	t.Cleanup(func() {
		stdin.Close() // the program ends with its input
		for range d.answers {
		}
		if err := command.Wait(); err != nil {
			t.Errorf("peertest: the device ended with %v", err)
		}
	})
	if answer := d.answer(); answer != "ready" {
		t.Fatalf("peertest: the device says %q, not that it is ready", answer)
	}
	return d
}

// build compiles the device, or skips the test.
func build(t testing.TB) string {
	t.Helper()
	for _, tool := range []string{"cc", "pkg-config"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("peertest: no %s here, so the independent Modbus device can't be built", tool)
		}
	}
	flags, err := exec.Command("pkg-config", "--cflags", "--libs", "libmodbus").Output()
	if err != nil {
		t.Skip("peertest: no libmodbus here (Debian: libmodbus-dev), so the independent Modbus device can't be built")
	}
	program := t.TempDir() + "/slave"
	arguments := append([]string{"-O1", "-Wall", "-Wextra", "-x", "c", "-", "-o", program, "-x", "none"}, strings.Fields(string(flags))...)
	compile := exec.Command("cc", arguments...)
	compile.Stdin = strings.NewReader(source)
	if output, err := compile.CombinedOutput(); err != nil {
		t.Fatalf("peertest: compile the device: %v\n%s", err, output)
	}
	return program
}

// answer waits for a line from the program.
func (d *Device) answer() string {
	select {
	case line, ok := <-d.answers:
		if !ok {
			return "nothing; it has ended"
		}
		return line
	case <-time.After(10 * time.Second):
		return "nothing for 10 s"
	}
}

// tell has the device obey a line.
func (d *Device) tell(format string, arguments ...any) {
	d.t.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	line := fmt.Sprintf(format, arguments...)
	if _, err := fmt.Fprintln(d.to, line); err != nil {
		d.t.Errorf("peertest: tell the device %q: %v", line, err)
		return
	}
	if answer := d.answer(); answer != "ok" {
		d.t.Errorf("peertest: told %q, the device says %q", line, answer)
	}
}

// SetCoil sets what function 01 reads.
func (d *Device) SetCoil(address uint16, on bool) { d.tell("coil %d %d", address, bit(on)) }

// SetDiscrete sets what function 02 reads.
func (d *Device) SetDiscrete(address uint16, on bool) { d.tell("discrete %d %d", address, bit(on)) }

// SetHolding sets what function 03 reads.
func (d *Device) SetHolding(address, value uint16) { d.tell("holding %d %d", address, value) }

// SetInput sets what function 04 reads.
func (d *Device) SetInput(address, value uint16) { d.tell("input %d %d", address, value) }

// SetHoldingFloat sets two holding registers, high word first or low.
func (d *Device) SetHoldingFloat(address uint16, value float32, lowWordFirst bool) {
	d.tell("holding%s %d %v", order(lowWordFirst), address, value)
}

// SetInputFloat sets two input registers, high word first or low. The value
// may be NaN.
func (d *Device) SetInputFloat(address uint16, value float32, lowWordFirst bool) {
	d.tell("input%s %d %v", order(lowWordFirst), address, value)
}

// Corrupt gives the next n replies a wrong CRC.
func (d *Device) Corrupt(n int) { d.tell("corrupt %d", n) }

// Refuse answers the next n requests with this exception code.
func (d *Device) Refuse(n int, code byte) { d.tell("refuse %d %d", n, code) }

// Mute makes the device read and not answer, until it is told otherwise.
func (d *Device) Mute(mute bool) { d.tell("mute %d", bit(mute)) }

// Delay makes replies come this much later, in whole milliseconds.
func (d *Device) Delay(by time.Duration) { d.tell("delay %d", by.Milliseconds()) }

// Unplug takes away what Path leads to, as pulling an adapter's plug does.
func (d *Device) Unplug() {
	d.t.Helper()
	if err := d.wire.unplug(); err != nil {
		d.t.Errorf("peertest: unplug: %v", err)
	}
}

// Plug puts it back; Path stays the same.
func (d *Device) Plug() {
	d.t.Helper()
	if err := d.wire.plug(); err != nil {
		d.t.Errorf("peertest: plug: %v", err)
	}
}

func bit(on bool) int {
	if on {
		return 1
	}
	return 0
}

func order(lowWordFirst bool) string {
	if lowWordFirst {
		return "fl"
	}
	return "f"
}
