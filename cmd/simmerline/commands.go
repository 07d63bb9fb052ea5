package main

import "github.com/alecthomas/kong"

// commands is the root of the command line: one line for each command.
type commands struct {
	Version kong.VersionFlag `help:"Show the version and leave."`

	Ports PortsCommand `cmd:"" help:"List the serial ports, and what to write in a bench file for each."`

	Calc CalcCommand `cmd:"" help:"Convert between raw signals, quantities and units: the same code that the hub uses."`
}
