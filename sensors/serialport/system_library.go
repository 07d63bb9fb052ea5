//go:build windows || (darwin && cgo)

package serialport

import (
	"fmt"
	"strings"

	"go.bug.st/serial/enumerator"
)

// system asks the library, which here only reads the system's registry. It does
// not say which interface of a device a port is. A Finder with a Root is for
// Linux's tables, wherever its test runs.
func (f Finder) system() ([]Found, error) {
	if f.Root != "" {
		return f.sysfs()
	}
	details, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, fmt.Errorf("serialport: can't list the ports: %w", err)
	}
	var ports []Found
	for _, d := range details {
		ports = append(ports, Found{
			Device: d.Name, USB: d.IsUSB, Interface: -1, Serial: d.SerialNumber,
			VendorID: strings.ToLower(d.VID), ProductID: strings.ToLower(d.PID),
			Manufacturer: d.Manufacturer, Product: d.Product,
		})
	}
	return ports, nil
}
