package serialport

import (
	"os"
	"path/filepath"
	"testing"
)

// usbPort is a port of the fake kernel tables, laid out as Linux lays out
// USB serial adapters (usb-serial: the tty below a port below the interface)
// and communication devices (cdc-acm: the tty at the interface itself).
type usbPort struct {
	tty, socket, iface      string // ttyUSB0, 1-2, 00
	vendor, product, serial string
	name                    string
	acm                     bool
	portNumber              string // of a usb-serial port
	link                    string // in the by-id folder
}

// tree makes a folder that looks like "/" to a Finder, as far as it looks.
func tree(t *testing.T, ports ...usbPort) Finder {
	t.Helper()
	root := t.TempDir()
	for _, dir := range []string{"sys/class/tty", "dev/serial/by-id", "sys/devices/virtual/tty/tty0", "sys/devices/platform/serial8250"} {
		must(t, os.MkdirAll(filepath.Join(root, dir), 0o755))
	}
	// A console, without hardware.
	must(t, os.Symlink("../../devices/virtual/tty/tty0", filepath.Join(root, "sys/class/tty/tty0")))
	// Two places for on-board ports, of which one is there.
	for tty, kind := range map[string]string{"ttyS0": "4", "ttyS9": "0"} {
		dir := filepath.Join(root, "sys/devices/platform/serial8250/tty", tty)
		write(t, filepath.Join(dir, "type"), kind)
		must(t, os.Symlink("../..", filepath.Join(dir, "device")))
		must(t, os.Symlink("../../devices/platform/serial8250/tty/"+tty, filepath.Join(root, "sys/class/tty", tty)))
		write(t, filepath.Join(root, "dev", tty), "")
	}
	for _, p := range ports {
		device := filepath.Join(root, "sys/devices/pci0000:00/0000:00:14.0/usb1", p.socket)
		write(t, filepath.Join(device, "idVendor"), p.vendor)
		write(t, filepath.Join(device, "idProduct"), p.product)
		if p.serial != "" {
			write(t, filepath.Join(device, "serial"), p.serial)
		}
		write(t, filepath.Join(device, "product"), p.name)
		hardware := filepath.Join(device, p.socket+":1."+p.iface)
		write(t, filepath.Join(hardware, "bInterfaceNumber"), p.iface)
		if !p.acm {
			hardware = filepath.Join(hardware, p.tty)
			write(t, filepath.Join(hardware, "port_number"), p.portNumber)
		}
		tty := filepath.Join(hardware, "tty", p.tty)
		must(t, os.MkdirAll(tty, 0o755))
		must(t, os.Symlink(hardware, filepath.Join(tty, "device")))
		must(t, os.Symlink(tty, filepath.Join(root, "sys/class/tty", p.tty)))
		write(t, filepath.Join(root, "dev", p.tty), "")
		if p.link != "" {
			link := filepath.Join(root, "dev/serial/by-id", p.link)
			os.Remove(link) // the later of two with one name takes it, as it does in earnest
			must(t, os.Symlink("../../"+p.tty, link))
		}
	}
	return Finder{Root: root}
}

func write(t *testing.T, name, content string) {
	t.Helper()
	must(t, os.MkdirAll(filepath.Dir(name), 0o755))
	must(t, os.WriteFile(name, []byte(content+"\n"), 0o644))
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// benchPorts is a bench of four adapters: a board, a two-channel converter, and two
// cheap converters that USB can't tell apart.
func benchPorts() []usbPort {
	return []usbPort{
		{tty: "ttyACM0", socket: "1-1", iface: "00", vendor: "1209", product: "0001", serial: "PENNY01", name: "Tile Board", acm: true, link: "usb-Pennywhistle_Tile_Board_PENNY01-if00"},
		{tty: "ttyUSB0", socket: "1-2", iface: "00", vendor: "0403", product: "6010", serial: "TWOWAY7", name: "Dual Converter", portNumber: "0", link: "usb-Dual_Converter_TWOWAY7-if00-port0"},
		{tty: "ttyUSB1", socket: "1-2", iface: "01", vendor: "0403", product: "6010", serial: "TWOWAY7", name: "Dual Converter", portNumber: "0", link: "usb-Dual_Converter_TWOWAY7-if01-port0"},
		{tty: "ttyUSB2", socket: "1-3.1", iface: "00", vendor: "1A86", product: "7523", name: "USB Serial", portNumber: "0", link: "usb-1a86_USB_Serial-if00-port0"},
		{tty: "ttyUSB10", socket: "1-3.2", iface: "00", vendor: "1A86", product: "7523", name: "USB Serial", portNumber: "0", link: "usb-1a86_USB_Serial-if00-port0"},
	}
}
