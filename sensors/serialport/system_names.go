//go:build !linux && !windows && !(darwin && cgo)

package serialport

import (
	"path/filepath"
	"strings"
)

// system knows the names of the nodes only. The call-out nodes of macOS carry
// what their driver took for the serial number at the end of the name, which is
// as much as can be said of it here. A Finder with a Root is for Linux's
// tables, wherever its test runs.
func (f Finder) system() ([]Found, error) {
	if f.Root != "" {
		return f.sysfs()
	}
	var ports []Found
	for _, pattern := range []string{"cu.*", "cuaU*", "ttyU*"} {
		nodes, err := filepath.Glob(f.path("dev", pattern))
		if err != nil {
			return nil, err
		}
		for _, node := range nodes {
			if strings.HasSuffix(node, ".init") || strings.HasSuffix(node, ".lock") || strings.Contains(node, "Bluetooth") {
				continue
			}
			ports = append(ports, namedPort(node))
		}
	}
	return ports, nil
}

// namedPort reads a node's name: /dev/cu.usbserial-A5069RR4, /dev/cu.usbmodem14201.
func namedPort(node string) Found {
	port := Found{Device: node, Interface: -1}
	for _, kind := range []string{"cu.usbserial-", "cu.usbmodem", "cu.wchusbserial", "cu.SLAB_USBtoUART"} {
		if serial, ok := strings.CutPrefix(filepath.Base(node), kind); ok {
			port.USB, port.Serial = true, serial
		}
	}
	return port
}
