//go:build !unix

package serialport

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"go.bug.st/serial"
)

// errNoDevice and errLocked are never met here: the system itself opens a port
// for one program only, and the library says which error it is.
var (
	errNoDevice = errors.New("serialport: no such device")
	errLocked   = errors.New("serialport: locked")
)

type noLock struct{}

func (noLock) Close() error { return nil }

// lockDevice does nothing: here the open itself is exclusive.
func lockDevice(string) (io.Closer, error) { return noLock{}, nil }

// openKept opens the port; a child program inherits no handle here.
func openKept(device string, mode *serial.Mode, _ io.Closer) (rawPort, error) {
	port, err := serial.Open(device, mode)
	if err != nil {
		return nil, err
	}
	return port, nil
}

// Present says whether the system still knows a port by this name.
func Present(device string) bool {
	names, err := serial.GetPortsList()
	device = strings.TrimPrefix(device, `\\.\`)
	return err != nil || slices.ContainsFunc(names, func(name string) bool { return strings.EqualFold(name, device) })
}

// mayOpen is not known without opening; anybody may open a port that is free.
func mayOpen(string) bool { return true }

func deniedSentence(device string) string {
	return fmt.Sprintf("%s may not be opened: close what else uses it, or run the hub as a user who may", device)
}
