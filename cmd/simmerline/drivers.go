package main

import (
	"fmt"

	"simmerline/sensors"
	"simmerline/sensors/lines"
	"simmerline/sensors/modbus"
)

// newDriver makes the driver of a port: one case for each protocol.
func newDriver(port sensors.PortConfig) (sensors.Driver, error) {
	switch {
	case port.Lines != nil:
		return lines.New(*port.Lines)
	case port.Modbus != nil:
		return modbus.New(*port.Modbus)
	default:
		return nil, fmt.Errorf("port %s: no protocol is set", port.Name)
	}
}
