package serialport

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

func TestList(t *testing.T) {
	f := tree(t, benchPorts()...)
	ports, err := f.List()
	must(t, err)
	var names []string
	for _, p := range ports {
		names = append(names, filepath.Base(p.Device))
	}
	// USB first, by number; the missing on-board port and the console are not listed.
	if got, want := strings.Join(names, " "), "ttyACM0 ttyUSB0 ttyUSB1 ttyUSB2 ttyUSB10 ttyS0"; got != want {
		t.Fatalf("ports %s, want %s", got, want)
	}
	board := ports[0]
	board.Device = ""
	want := Found{ByID: "usb-Pennywhistle_Tile_Board_PENNY01-if00", USB: true, VendorID: "1209", ProductID: "0001",
		Serial: "PENNY01", Product: "Tile Board", Interface: 0, MayOpen: true}
	if board != want {
		t.Errorf("the board is %+v, want %+v", board, want)
	}
	if ports[2].Interface != 1 || ports[2].VendorID != "0403" || ports[5].USB || ports[5].Interface != -1 {
		t.Errorf("second channel %+v, on-board port %+v", ports[2], ports[5])
	}
	for i, want := range []struct {
		address sensors.Address
		stable  bool
	}{
		0: {sensors.Address{ByID: board.ByID, Interface: -1}, true},
		2: {sensors.Address{ByID: "usb-Dual_Converter_TWOWAY7-if01-port0", Interface: -1}, true},
		3: {sensors.Address{Path: ports[3].Device, Interface: -1}, false}, // USB can't tell it from the next
		4: {sensors.Address{Path: ports[4].Device, Interface: -1}, false},
		5: {sensors.Address{Path: ports[5].Device, Interface: -1}, true},
	} {
		if want.address == (sensors.Address{}) {
			continue
		}
		if got, stable := StableAddress(ports[i], ports); got != want.address || stable != want.stable {
			t.Errorf("%s is best written %+v (stable %v), want %+v (%v)", ports[i].Device, got, stable, want.address, want.stable)
		}
	}
	// Without links, the serial number stands in.
	for i := range ports {
		ports[i].ByID = ""
	}
	if got, stable := StableAddress(ports[2], ports); !stable ||
		got != (sensors.Address{USBSerial: "TWOWAY7", VendorID: "0403", ProductID: "6010", Interface: 1}) {
		t.Errorf("without a link: %+v (stable %v)", got, stable)
	}
	if got, stable := StableAddress(ports[0], ports); !stable || got.Interface != -1 || got.USBSerial != "PENNY01" {
		t.Errorf("without a link: %+v (stable %v)", got, stable)
	}
}

func TestListWithoutTables(t *testing.T) {
	if _, err := (Finder{Root: t.TempDir()}).List(); err == nil || !strings.Contains(err.Error(), "mounted") {
		t.Errorf("no tables at all: %v", err)
	}
}

func TestResolve(t *testing.T) {
	f := tree(t, benchPorts()...)
	for name, c := range map[string]struct {
		address sensors.Address
		want    string   // the node
		kind    error    // or the error
		says    []string // and what its sentence must name
	}{
		"a path as it is": {address: sensors.Address{Path: "/dev/anything"}, want: "anything"},
		"by link":         {address: sensors.Address{ByID: "usb-Dual_Converter_TWOWAY7-if01-port0"}, want: "ttyUSB1"},
		"by serial":       {address: sensors.Address{USBSerial: "PENNY01", Interface: -1}, want: "ttyACM0"},
		"by serial and interface": {
			address: sensors.Address{USBSerial: "TWOWAY7", VendorID: "0403", ProductID: "6010", Interface: 1}, want: "ttyUSB1"},
		"two interfaces": {
			address: sensors.Address{USBSerial: "TWOWAY7", Interface: -1},
			kind:    sensors.ErrAmbiguous, says: []string{"ttyUSB0", "ttyUSB1", "interface 0", "interface 1"}},
		"a link that two share": {
			address: sensors.Address{ByID: "usb-1a86_USB_Serial-if00-port0"},
			kind:    sensors.ErrAmbiguous, says: []string{"ttyUSB2", "ttyUSB10", "by-path"}},
		"a link that is not there": {
			address: sensors.Address{ByID: "usb-gone-if00"}, kind: sensors.ErrMissing, says: []string{"usb-gone-if00", "plug it in"}},
		"a link with a folder": {
			address: sensors.Address{ByID: "../ttyS0"}, kind: sensors.ErrMissing, says: []string{"last part"}},
		"a serial that is not there": {
			address: sensors.Address{USBSerial: "NOBODY", Interface: -1}, kind: sensors.ErrMissing, says: []string{"NOBODY"}},
		"the serial on another product": {
			address: sensors.Address{USBSerial: "PENNY01", ProductID: "0002", Interface: -1},
			kind:    sensors.ErrMissing, says: []string{"1209:0001", "any:0002", "ttyACM0"}},
		"an interface that is not there": {
			address: sensors.Address{USBSerial: "TWOWAY7", Interface: 2}, kind: sensors.ErrMissing, says: []string{"interface 2", "ttyUSB0"}},
	} {
		t.Run(name, func(t *testing.T) {
			device, err := f.Resolve(c.address)
			if c.kind == nil {
				if err != nil || filepath.Base(device) != c.want {
					t.Fatalf("found %q, %v; want %s", device, err, c.want)
				}
				return
			}
			var open *sensors.OpenError
			if !errors.As(err, &open) || !errors.Is(err, c.kind) || device != "" {
				t.Fatalf("found %q, %v; want %v", device, err, c.kind)
			}
			for _, word := range c.says {
				if !strings.Contains(open.Sentence, word) {
					t.Errorf("%q does not name %s", open.Sentence, word)
				}
			}
		})
	}
}

// TestSerialDoubled plugs in two devices that claim the same serial number.
func TestSerialDoubled(t *testing.T) {
	ports := benchPorts()[:1]
	twin := ports[0]
	twin.tty, twin.socket = "ttyACM1", "1-4"
	f := tree(t, ports[0], twin)
	for _, address := range []sensors.Address{
		{USBSerial: "PENNY01", Interface: -1}, {USBSerial: "PENNY01", Interface: 0}, {ByID: ports[0].link, Interface: -1},
	} {
		if device, err := f.Resolve(address); !errors.Is(err, sensors.ErrAmbiguous) {
			t.Errorf("%+v: %q, %v", address, device, err)
		}
	}
}

// TestMatchNeverGuesses draws any set of ports and any address: what is found
// is the only one that a plain filter leaves.
func TestMatchNeverGuesses(t *testing.T) {
	few := func(t *rapid.T, label string, words ...string) string { return rapid.SampledFrom(words).Draw(t, label) }
	rapid.Check(t, func(t *rapid.T) {
		var ports []Found
		for i := range rapid.IntRange(0, 6).Draw(t, "ports") {
			ports = append(ports, Found{
				Device: "/dev/tty" + string(rune('A'+i)), USB: rapid.Bool().Draw(t, "usb"),
				Serial: few(t, "serial", "S1", "s1", "S2", ""), VendorID: few(t, "vendor", "0403", "1a86"),
				Interface: rapid.IntRange(0, 1).Draw(t, "interface"),
			})
		}
		a := sensors.Address{USBSerial: few(t, "want", "S1", "S2"), VendorID: few(t, "want vendor", "", "0403", "1A86"),
			Interface: rapid.IntRange(-1, 1).Draw(t, "want interface")}
		var want []string
		for _, p := range ports {
			if p.USB && strings.ToUpper(p.Serial) == a.USBSerial && (a.VendorID == "" || p.VendorID == strings.ToLower(a.VendorID)) &&
				(a.Interface == -1 || p.Interface == a.Interface) {
				want = append(want, p.Device)
			}
		}
		device, err := match(ports, a)
		switch {
		case len(want) == 1 && (err != nil || device != want[0]),
			len(want) == 0 && !errors.Is(err, sensors.ErrMissing),
			len(want) > 1 && !errors.Is(err, sensors.ErrAmbiguous):
			t.Fatalf("%+v in %+v: %q, %v; want of %v", a, ports, device, err, want)
		}
	})
}

func TestInterfaceOfLink(t *testing.T) {
	for name, want := range map[string]int{
		"usb-Maker_Board_A1-if00": 0, "usb-Maker_Board_A1-if01-port0": 1, "usb-Maker_Board_A1-if0a-port3": 10,
		"usb-Odd-iffy_A1-if02": 2, "usb-Maker_Board_A1": -1, "usb-x-if": -1, "usb-x-if1": -1, "usb-x-ifgg": -1, "": -1,
	} {
		if got, ok := interfaceOfLink(name); got != want && ok || ok != (want >= 0) {
			t.Errorf("%q gives interface %d (%v), want %d", name, got, ok, want)
		}
	}
}

func FuzzInterfaceOfLink(f *testing.F) {
	f.Add("usb-Maker_Board_A1-if00-port0")
	f.Add("-if-port-if")
	f.Fuzz(func(t *testing.T, name string) {
		if got, ok := interfaceOfLink(name); ok && (got < 0 || got > 255) {
			t.Errorf("%q gives interface %d", name, got)
		}
	})
}

func TestDeniedSentence(t *testing.T) {
	for _, c := range []struct {
		node nodeAccess
		says string
	}{
		{nodeAccess{device: "/dev/ttyUSB0", group: "dialout", groupMay: true}, `sudo usermod -aG dialout "$USER"`},
		{nodeAccess{device: "/dev/ttyUSB0", group: "uucp", groupMay: true}, `sudo usermod -aG uucp "$USER"`},
		{nodeAccess{device: "/dev/ttyUSB0", group: "dialout", groupMay: true, inNext: true}, "log out and in again"},
		{nodeAccess{device: "/dev/ttyUSB0", group: "dialout", groupMay: true, inNow: true, inNext: true}, "container or service"},
		{nodeAccess{device: "/dev/ttyUSB0", group: "root", rootGroup: true, groupMay: true, usual: "dialout"}, "sudo chgrp dialout /dev/ttyUSB0"},
		{nodeAccess{device: "/dev/ttyUSB0", group: "dialout", usual: "dialout"}, "sudo chmod g+rw /dev/ttyUSB0"},
	} {
		if got := c.node.sentence(); !strings.Contains(got, c.says) || !strings.Contains(got, c.node.device) {
			t.Errorf("%+v: %q does not say %q", c.node, got, c.says)
		}
	}
}
