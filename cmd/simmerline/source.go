package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/grpc"

	"simmerline/hub/record"
)

// sourceFlags say where a command about the record reads it: from a running
// hub, or from its files.
type sourceFlags struct {
	Hub  string `xor:"source" placeholder:"ADDR" help:"Ask the hub there; 127.0.0.1:7410 unless said."`
	Data string `xor:"source" placeholder:"DIR" help:"Read the record in this folder instead, also while a hub writes to it."`
}

// ask reads from the one place that the flags name. Where they name none, it
// asks the usual hub; where no hub is, it reads the usual folder, and says so.
func (f sourceFlags) ask(c console, within time.Duration, hub func(context.Context, *grpc.ClientConn) error, files func(context.Context, *record.Reader) error) error {
	switch {
	case f.Data != "":
		return read(f.Data, files)
	case f.Hub != "":
		return call(f.Hub, within, hub)
	}
	err := call(defaultHub, within, hub)
	if exitCode(err) != exitUnreachable {
		return err
	}
	dir, folderErr := dataFolder("")
	if folderErr != nil {
		return err
	}
	fromFiles := read(dir, func(ctx context.Context, r *record.Reader) error {
		fmt.Fprintf(c.Err, "No hub answers at %s; this is from the record in %s.\n", defaultHub, dir)
		return files(ctx, r)
	})
	var missing *noRecordError
	if errors.As(fromFiles, &missing) {
		return unreachable(fmt.Errorf("%w. Or read a record's files with --data", err))
	}
	return fromFiles
}

// noRecordError says that no record can be opened in a folder.
type noRecordError struct {
	dir string
	err error
}

// Error says where, why and what to do.
func (e *noRecordError) Error() string {
	return fmt.Sprintf("%s: give the folder that 'simmerline serve' or 'demo' has printed", plainly(e.err.Error()))
}

// Unwrap gives the reason.
func (e *noRecordError) Unwrap() error { return e.err }

// read does something with the record in a folder.
func read(dir string, files func(context.Context, *record.Reader) error) error {
	r, err := record.OpenReader(dir)
	if err != nil {
		return &noRecordError{dir: dir, err: err}
	}
	return errors.Join(files(context.Background(), r), r.Close())
}
