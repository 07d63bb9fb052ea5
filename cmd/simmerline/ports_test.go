package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"simmerline/hub/bench"
	"simmerline/sensors"
	"simmerline/sensors/serialport"
)

// usbPort writes the kernel's tables for one USB serial port, as they stand
// under sys/class/tty, below root.
func usbPort(t *testing.T, root, name string, descriptor map[string]string, usbInterface string) {
	t.Helper()
	device := filepath.Join(root, "sys/devices/usb1/"+name)
	hardware := filepath.Join(device, "1-1:1.0", name)
	write := func(path, text string) {
		t.Helper()
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for key, value := range descriptor {
		write(filepath.Join(device, key), value+"\n")
	}
	write(filepath.Join(device, "1-1:1.0", "bInterfaceNumber"), usbInterface+"\n")
	write(filepath.Join(hardware, "port_number"), "0\n")
	write(filepath.Join(root, "dev", name), "")
	class := filepath.Join(root, "sys/class/tty", name)
	write(filepath.Join(class, "dev"), "188:0\n")
	if err := os.Symlink(hardware, filepath.Join(class, "device")); err != nil {
		t.Fatal(err)
	}
}

// listed runs `ports` over made-up kernel tables.
func listed(t *testing.T, root string, asJSON bool) (out, said string) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("the tables are Linux's, and need symbolic links")
	}
	if err := os.MkdirAll(filepath.Join(root, "sys/class/tty"), 0o755); err != nil {
		t.Fatal(err)
	}
	var o, e bytes.Buffer
	cmd := PortsCommand{JSON: asJSON}
	if err := cmd.list(console{Out: &o, Err: &e}, serialport.Finder{Root: root}); err != nil {
		t.Fatal(err)
	}
	return o.String(), e.String()
}

func TestPortsShowsWhatToWrite(t *testing.T) {
	root := t.TempDir()
	usbPort(t, root, "ttyUSB0", map[string]string{
		"idVendor": "0403", "idProduct": "6001", "serial": "PW-0001", "manufacturer": "Bench \x1b[31mWorks", "product": "Bath wire",
	}, "00")
	usbPort(t, root, "ttyUSB1", map[string]string{"idVendor": "1a86", "idProduct": "7523", "product": "Nameless"}, "00")
	out, said := listed(t, root, false)
	for _, want := range []string{
		"ttyUSB0  Bench [31mWorks Bath wire  [0403:6001]\n    device: {usb_serial: \"PW-0001\", vendor: \"0403\", product: \"6001\"}\n",
		"ttyUSB1  Nameless  [1a86:7523]\n    device: {path: ",
		"may change when it is plugged in again",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("missing %q in\n%s", want, out)
		}
	}
	if said != "" || strings.Contains(out, "\x1b") {
		t.Errorf("said %q, out %q", said, out)
	}
}

func TestPortsJSON(t *testing.T) {
	root := t.TempDir()
	if out, said := listed(t, root, true); out != "[]\n" || said != "" {
		t.Errorf("with no port: out %q, said %q", out, said)
	}
	usbPort(t, root, "ttyACM0", map[string]string{"idVendor": "0403", "idProduct": "6010", "serial": "PW-0002"}, "02")
	out, _ := listed(t, root, true)
	var ports []map[string]any
	if err := json.Unmarshal([]byte(out), &ports); err != nil || len(ports) != 1 {
		t.Fatalf("%v in %s", err, out)
	}
	for key, want := range map[string]any{
		"device": filepath.Join(root, "dev/ttyACM0"), "usb": true, "vendor_id": "0403", "product_id": "6010",
		"serial": "PW-0002", "interface": 2.0, "stable": true,
		"bench": `{usb_serial: "PW-0002", vendor: "0403", product: "6010"}`,
	} {
		if ports[0][key] != want {
			t.Errorf("%s: %v, want %v", key, ports[0][key], want)
		}
	}
	if _, told := ports[0]["by_id"]; told {
		t.Errorf("a link that is not there is told: %s", out)
	}
}

func TestPortsWithNone(t *testing.T) {
	out, said := listed(t, t.TempDir(), false)
	if out != "" || !strings.Contains(said, "No serial port is there") {
		t.Errorf("out %q, said %q", out, said)
	}
}

// What `ports` says to write is what a bench file takes for that device.
func TestPortsWritesWhatABenchFileReads(t *testing.T) {
	sample, err := os.ReadFile("../../testdata/benches/good/minimal.yaml")
	if err != nil {
		t.Fatal(err)
	}
	minimal := string(sample)
	if !strings.Contains(minimal, "{path: /dev/ttyUSB0}") {
		t.Fatal("the sample bench has no device to put another in place of")
	}
	for _, want := range []sensors.Address{
		{Path: "/dev/ttyUSB0", Interface: -1},
		{ByID: "usb-Bench_Works_PW-0001-if00-port0", Interface: -1},
		{USBSerial: "PW-0001", Interface: -1},
		{USBSerial: `odd "one" #2`, VendorID: "0403", ProductID: "6010", Interface: 1},
	} {
		text := strings.Replace(minimal, "{path: /dev/ttyUSB0}", benchDevice(want), 1)
		file, faults := bench.Parse("bench.yaml", []byte(text))
		if len(faults) > 0 {
			t.Errorf("%s is refused: %v", benchDevice(want), faults)
			continue
		}
		if got := file.Ports[0].Address; got != want {
			t.Errorf("%s is read as %+v, want %+v", benchDevice(want), got, want)
		}
	}
}
