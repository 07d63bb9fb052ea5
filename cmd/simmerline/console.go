package main

import (
	"errors"
	"fmt"
	"io"
)

// console is where a command reads and writes. Results go to Out and can be
// piped on; what is said to the person goes to Err.
type console struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer
}

// The exit codes that scripts rely on.
const (
	exitWell        = 0 // done, and what was checked is well
	exitNotWell     = 1 // what was checked is not well, or the work failed
	exitWrongUse    = 2 // no such command or flag, a flag missing or against another
	exitUnreachable = 3 // the hub or the device can't be reached
)

// exitError is an error that knows the exit code it ends the program with.
type exitError struct {
	code int
	err  error
}

// Error gives the message of the error inside.
func (e *exitError) Error() string { return e.err.Error() }

// Unwrap gives the error inside.
func (e *exitError) Unwrap() error { return e.err }

// wrongUse makes an error of flags or arguments that can't be taken together.
func wrongUse(format string, args ...any) error {
	return &exitError{code: exitWrongUse, err: fmt.Errorf(format, args...)}
}

// unreachable marks an error as one of reaching the hub or a device.
func unreachable(err error) error {
	return &exitError{code: exitUnreachable, err: err}
}

// exitCode gives the code an error ends the program with: its own where it
// knows one, else that something is not well.
func exitCode(err error) int {
	var known *exitError
	switch {
	case err == nil:
		return exitWell
	case errors.As(err, &known):
		return known.code
	default:
		return exitNotWell
	}
}
