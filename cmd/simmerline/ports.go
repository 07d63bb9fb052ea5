package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"

	"simmerline/sensors"
	"simmerline/sensors/serialport"
)

// PortsCommand is `ports`: the serial ports of this machine, and what to write
// in a bench file for each. It opens none of them.
type PortsCommand struct {
	JSON bool `name:"json" help:"Print an array of ports, one object each."`
}

// Help is what --help says beyond the flags.
func (*PortsCommand) Help() string {
	return `Each port is shown with the line to write under its name in a bench file. Such a line holds to the
device itself, not to the order in which things were plugged in. No port is opened or changed.`
}

// Run lists the ports.
func (cmd *PortsCommand) Run(c console) error {
	return cmd.list(c, serialport.Finder{})
}

func (cmd *PortsCommand) list(c console, finder serialport.Finder) error {
	found, err := finder.List()
	if err != nil {
		return err
	}
	if cmd.JSON {
		return printPortsJSON(c.Out, found)
	}
	if len(found) == 0 {
		fmt.Fprintln(c.Err, "No serial port is there. Plug the adapter in and look again; a cable for charging only carries no data.")
		return nil
	}
	return printPorts(c.Out, found)
}

// printPorts writes each port as a paragraph: its node and maker, the line for
// the bench file, and what stands in the way.
func printPorts(out io.Writer, found []serialport.Found) error {
	var text strings.Builder
	for i, port := range found {
		if i > 0 {
			text.WriteByte('\n')
		}
		text.WriteString(port.Device)
		if name := printable(port.Manufacturer + " " + port.Product); name != "" {
			text.WriteString("  " + name)
		}
		if port.USB && port.VendorID != "" {
			fmt.Fprintf(&text, "  [%s:%s]", port.VendorID, port.ProductID)
		}
		address, stable := serialport.StableAddress(port, found)
		fmt.Fprintf(&text, "\n    device: %s\n", benchDevice(address))
		if !stable {
			text.WriteString("    Nothing tells this device from another of its kind, so its name may change when it is plugged in again;\n" +
				"    give the link of its USB socket instead, where there is one: path: /dev/serial/by-path/...\n")
		}
		if !port.MayOpen {
			fmt.Fprintf(&text, "    It can't be opened yet: %s\n", port.Mend)
		}
	}
	if _, err := io.WriteString(out, text.String()); err != nil {
		return fmt.Errorf("ports: print the list: %w", err)
	}
	return nil
}

// portJSON is one port in the output of `ports --json`.
type portJSON struct {
	Device       string `json:"device"`
	ByID         string `json:"by_id,omitempty"`
	USB          bool   `json:"usb"`
	VendorID     string `json:"vendor_id,omitempty"`
	ProductID    string `json:"product_id,omitempty"`
	Serial       string `json:"serial,omitempty"`
	Interface    *int   `json:"interface,omitempty"` // absent where it is not known
	Manufacturer string `json:"manufacturer,omitempty"`
	Product      string `json:"product,omitempty"`
	Bench        string `json:"bench"`  // what to write after "device:" in a bench file
	Stable       bool   `json:"stable"` // whether that still holds after a re-plug
	MayOpen      bool   `json:"may_open"`
	Mend         string `json:"mend,omitempty"` // what to do where it may not be opened
}

func printPortsJSON(out io.Writer, found []serialport.Found) error {
	rows := make([]portJSON, 0, len(found)) // so that no port is [], not null
	for _, port := range found {
		address, stable := serialport.StableAddress(port, found)
		row := portJSON{
			Device: port.Device, ByID: port.ByID, USB: port.USB,
			VendorID: port.VendorID, ProductID: port.ProductID, Serial: port.Serial,
			Manufacturer: port.Manufacturer, Product: port.Product,
			Bench: benchDevice(address), Stable: stable, MayOpen: port.MayOpen, Mend: port.Mend,
		}
		if port.Interface >= 0 {
			row.Interface = &port.Interface
		}
		rows = append(rows, row)
	}
	encoder := json.NewEncoder(out)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(rows); err != nil {
		return fmt.Errorf("ports: print the list: %w", err)
	}
	return nil
}

// benchDevice writes an address the way a bench file has it.
func benchDevice(a sensors.Address) string {
	switch {
	case a.ByID != "":
		return fmt.Sprintf("{by_id: %s}", strconv.Quote(a.ByID))
	case a.USBSerial != "":
		text := "{usb_serial: " + strconv.Quote(a.USBSerial)
		if a.VendorID != "" && a.ProductID != "" {
			text += fmt.Sprintf(", vendor: %s, product: %s", strconv.Quote(a.VendorID), strconv.Quote(a.ProductID))
		}
		if a.Interface >= 0 {
			text += fmt.Sprintf(", interface: %d", a.Interface)
		}
		return text + "}"
	default:
		return fmt.Sprintf("{path: %s}", strconv.Quote(a.Path))
	}
}

// printable drops what a device should not send to a terminal.
func printable(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return -1
	}, text))
}
