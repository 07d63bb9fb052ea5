package sensors

import "errors"

// The ways in which a port can't be opened. An OpenError wraps one of them.
var (
	// ErrMissing means that the device is not plugged in.
	ErrMissing = errors.New("sensors: the device is not plugged in")
	// ErrBusy means that another program holds the device.
	ErrBusy = errors.New("sensors: another program holds the device")
	// ErrDenied means that we may not open the device.
	ErrDenied = errors.New("sensors: we may not open the device")
	// ErrAmbiguous means that several devices answer to the address.
	ErrAmbiguous = errors.New("sensors: several devices answer to the address")
	// ErrNotSerial means that the device is no serial port, or can't be set up as
	// the bench file says.
	ErrNotSerial = errors.New("sensors: the device can't be set up as a serial port")
)

// OpenError says why a port could not be found or opened, in a sentence for
// people that tells the mend as well.
type OpenError struct {
	Kind     error  // one of the errors above
	Device   string // the device node, empty where none was found
	Sentence string
}

// Error gives the sentence with the place it comes from.
func (e *OpenError) Error() string { return "serialport: " + e.Sentence }

// Unwrap gives the kind, for errors.Is.
func (e *OpenError) Unwrap() error { return e.Kind }
