package poll

import (
	"errors"
	"fmt"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// Port is an open link that can be closed, by another goroutine than the one
// that reads it; a read under way then ends.
type Port interface {
	sensors.Link
	Close() error
}

// Options is what Run needs. All but Present must be set.
type Options struct {
	Config sensors.PortConfig
	// Driver speaks with the device. Run is its only user.
	Driver sensors.Driver
	// Open finds the device and opens it, and gives the device node with it. A
	// *sensors.OpenError tells the state of the port and the sentence to show.
	// It is called about twice a second while the device is missing, so it must
	// not disturb what else is plugged in.
	Open func() (port Port, device string, err error)
	// Present says whether the system still knows a device node. It is asked
	// while an open port is mute, for systems that don't tell of an unplugged
	// device otherwise. Where nil, the port's errors alone tell.
	Present func(device string) bool
	Clock   clock.Clock
	// Intakes, where set, are the channels' intakes by name as some earlier reading
	// of the port left them, so that a cell that has warmed up stays so. A channel
	// that is not among them gets a new one.
	Intakes map[string]*sensors.Intake
	// Deliver takes what there is to tell. It must come back within
	// milliseconds, whatever becomes of the batch: the port is not read
	// meanwhile. It owns the batch.
	Deliver func(sensors.Batch)
}

func (o Options) check() error {
	var faults []error
	for _, missing := range []struct {
		what string
		is   bool
	}{
		{"Driver", o.Driver == nil}, {"Open", o.Open == nil}, {"Clock", o.Clock == nil}, {"Deliver", o.Deliver == nil},
	} {
		if missing.is {
			faults = append(faults, fmt.Errorf("poll: port %q has no %s", o.Config.Name, missing.what))
		}
	}
	return errors.Join(faults...)
}
