package main

import "github.com/alecthomas/kong"

// commands is the root of the command line: one line for each command.
type commands struct {
	Version kong.VersionFlag `help:"Show the version and leave."`

	Ports PortsCommand `cmd:"" help:"List the serial ports, and what to write in a bench file for each."`

	Demo  DemoCommand  `cmd:"" help:"Play an invented afternoon on a simulated bench, read by the real drivers."`
	Serve ServeCommand `cmd:"" help:"Run the hub on a real bench until it is interrupted."`
	Check CheckCommand `cmd:"" help:"Check a bench file: every fault with its place and mend, or what the bench is and does."`

	Watch   WatchCommand   `cmd:"" help:"Watch a hub live in the terminal, or its messages as JSON."`
	Alarm   AlarmCommand   `cmd:"" help:"List, acknowledge and reset alarms."`
	Bench   BenchCommand   `cmd:"" help:"Put the bench away, or take it into use again."`
	Session SessionCommand `cmd:"" help:"Start, end, list and mark sessions."`
	Review  ReviewCommand  `cmd:"" help:"Look back on a session: baths, gases, alarms, marks."`
	Record  RecordCommand  `cmd:"" help:"See to the record as a whole."`

	Calc CalcCommand `cmd:"" help:"Convert between raw signals, quantities and units: the same code that the hub uses."`
}
