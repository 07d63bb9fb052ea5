package main

import (
	"context"
	"fmt"

	"simmerline/hub/record"
)

// RecordCommand groups what can be done with the record as a whole.
type RecordCommand struct {
	Verify RecordVerifyCommand `cmd:"" help:"Check the whole record: its file, and that what it holds fits together."`
}

// RecordVerifyCommand is `record verify`.
type RecordVerifyCommand struct {
	Data string `placeholder:"DIR" help:"The folder of the record; by default the platform's folder for state."`
	JSON bool   `name:"json" help:"Print one JSON object."`
}

// Help is what --help says beyond the flags.
func (*RecordVerifyCommand) Help() string {
	return `Nothing is changed, and a hub may go on writing meanwhile. Each fault is printed with its place; the exit code
is 1 when there is any.`
}

// Run prints where the record is, how much it holds, and every fault.
func (x *RecordVerifyCommand) Run(c console) error {
	dir, err := dataFolder(x.Data)
	if err != nil {
		return err
	}
	report, err := record.Verify(context.Background(), dir)
	if err != nil {
		return &noRecordError{dir: dir, err: err}
	}
	if x.JSON {
		err = printJSON(c, report)
	} else {
		err = report.Text(c.Out)
	}
	if err == nil && !report.Well() {
		err = errRecordFaults(report)
	}
	return err
}

// errRecordFaults counts the faults of a record.
func errRecordFaults(r record.Report) error {
	return fmt.Errorf("%s in the record", counted(len(r.Faults)+int(r.More), "fault"))
}
