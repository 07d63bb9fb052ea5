package serialport

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// sysfs lists the ports in the kernel's tables under sys/class/tty: the tty
// devices that belong to some hardware. Nothing is opened, as the mere open of
// an on-board port would reprogram it.
func (f Finder) sysfs() ([]Found, error) {
	folder := f.path("sys", "class", "tty")
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("serialport: can't list the ports; is %s mounted: %w", f.path("sys"), err)
	}
	var ports []Found
	for _, entry := range entries {
		tty := filepath.Join(folder, entry.Name())
		hardware, err := filepath.EvalSymlinks(filepath.Join(tty, "device"))
		if err != nil {
			continue // a console or pseudo-terminal: no hardware behind it
		}
		if readLine(filepath.Join(tty, "type")) == "0" {
			continue // a place for an on-board port that this machine does not have
		}
		port := Found{Device: f.path("dev", entry.Name()), Interface: -1}
		f.describeUSB(&port, hardware)
		ports = append(ports, port)
	}
	return ports, nil
}

// describeUSB fills in what the USB descriptors say, found on the way up from
// the tty's hardware: first the interface, then the device.
func (f Finder) describeUSB(port *Found, hardware string) {
	if number, err := strconv.Atoi(readLine(filepath.Join(hardware, "port_number"))); err == nil {
		port.PortNumber = number
	}
	top := f.path("sys")
	if real, err := filepath.EvalSymlinks(top); err == nil {
		top = real
	}
	for folder := hardware; strings.HasPrefix(folder, top) && folder != top; folder = filepath.Dir(folder) {
		if number, ok := parseHexByte(readLine(filepath.Join(folder, "bInterfaceNumber"))); ok {
			port.Interface = number
		}
		vendor := readLine(filepath.Join(folder, "idVendor"))
		if vendor == "" {
			continue
		}
		port.USB = true
		port.VendorID = strings.ToLower(vendor)
		port.ProductID = strings.ToLower(readLine(filepath.Join(folder, "idProduct")))
		port.Serial = readLine(filepath.Join(folder, "serial"))
		port.Manufacturer = readLine(filepath.Join(folder, "manufacturer"))
		port.Product = readLine(filepath.Join(folder, "product"))
		return
	}
}

// readLine gives the first line of a small file, empty where there is none.
func readLine(name string) string {
	content, err := os.ReadFile(name)
	if err != nil {
		return ""
	}
	line, _, _ := strings.Cut(string(content), "\n")
	return strings.TrimSpace(line)
}
