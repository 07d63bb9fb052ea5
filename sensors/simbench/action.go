package simbench

import "fmt"

// Action is something done to the bench by hand, by cat or by chance. Its set
// is closed: the types of this file.
type Action interface {
	// do changes the world; its error names what the bench does not have.
	do(w *World) error
}

// Dial turns the hot plate's dial under a bath: 0 is off, 100 is full.
type Dial struct {
	Bath    string
	Percent float64
}

// PlateSwitch works the switch outside the door that feeds a bath's plate.
type PlateSwitch struct {
	Bath string
	On   bool
}

// Fan switches the hood's fan.
type Fan struct{ On bool }

// Breaker switches the power of bench, plate, fan and sensors together.
type Breaker struct{ On bool }

// ProbePlug pulls the plug of a temperature channel's probe, or puts it back.
type ProbePlug struct {
	Channel string
	In      bool
}

// PortPlug pulls a port's adapter out of its socket, or puts it back; it then
// comes up under another node.
type PortPlug struct {
	Port string
	In   bool
}

// Mute makes the device of a port stop talking, or talk again, with everything
// plugged in.
type Mute struct {
	Port  string
	Muted bool
}

// Wire sets what goes wrong on a port's wire from now on; its zero faults end
// the trouble.
type Wire struct {
	Port   string
	Faults WireFaults
}

// AddAmmonia pours a measure of household ammonia into a bath.
type AddAmmonia struct {
	Bath        string
	Millilitres float64
}

// Stir starts or ends stirring a bath.
type Stir struct {
	Bath string
	On   bool
}

// Dip puts a cold piece into a bath.
type Dip struct {
	Bath  string
	Piece string
	Grams float64
}

// Do does an action now.
func (w *World) Do(a Action) error {
	if err := a.do(w); err != nil {
		return fmt.Errorf("simbench: %T: %w", a, err)
	}
	w.keep()
	return nil
}

func (w *World) bath(name string) (*bath, error) {
	names := bathNames()
	if i := index(names[:], name); i >= 0 {
		return &w.baths[i], nil
	}
	return nil, fmt.Errorf("there is no bath %q; the baths are %q", name, names)
}

func (w *World) port(name string) (*portView, error) {
	if i := index(Ports(), name); i >= 0 {
		return &w.ports[i], nil
	}
	return nil, fmt.Errorf("there is no port %q; the ports are %q", name, Ports())
}

func (a Dial) do(w *World) error {
	b, err := w.bath(a.Bath)
	if err != nil {
		return err
	}
	if !b.plate {
		return fmt.Errorf("the bath %q stands on no plate", a.Bath)
	}
	if !(a.Percent >= 0 && a.Percent <= 100) {
		return fmt.Errorf("a dial turns from 0 to 100 percent, not to %v", a.Percent)
	}
	b.dial = a.Percent
	return nil
}

func (a PlateSwitch) do(w *World) error {
	b, err := w.bath(a.Bath)
	if err != nil {
		return err
	}
	b.switchedOn = a.On
	return nil
}

func (a Fan) do(w *World) error {
	w.air.fanOn = a.On
	return nil
}

func (a Breaker) do(w *World) error {
	if a.On && !w.power {
		w.powered = w.steps
		for i := range w.probes {
			w.probes[i].since = w.steps
		}
	}
	w.power = a.On
	return nil
}

func (a ProbePlug) do(w *World) error {
	names := probeNames()
	i := index(names[:], a.Channel)
	if i < 0 {
		return fmt.Errorf("there is no probe %q; the probes are %q", a.Channel, names)
	}
	if p := &w.probes[i]; a.In != p.in {
		p.in, p.since = a.In, w.steps
	}
	return nil
}

func (a PortPlug) do(w *World) error {
	p, err := w.port(a.Port)
	if err != nil {
		return err
	}
	if p.unplugged && a.In && a.Port == BathWire {
		// The adapter feeds its probes, so they start anew with it.
		w.probes[probeHot].since, w.probes[probeCool].since = w.steps, w.steps
	}
	p.unplugged = !a.In
	return nil
}

func (a Mute) do(w *World) error {
	p, err := w.port(a.Port)
	if err != nil {
		return err
	}
	p.mute = a.Muted
	return nil
}

func (a Wire) do(w *World) error {
	p, err := w.port(a.Port)
	if err != nil {
		return err
	}
	p.faults = a.Faults
	return nil
}

func (a AddAmmonia) do(w *World) error {
	b, err := w.bath(a.Bath)
	if err != nil {
		return err
	}
	b.ammonia += w.ammoniaMillilitres(max(a.Millilitres, 0))
	return nil
}

func (a Stir) do(w *World) error {
	b, err := w.bath(a.Bath)
	if err != nil {
		return err
	}
	b.stirred = a.On
	return nil
}

func (a Dip) do(w *World) error {
	b, err := w.bath(a.Bath)
	if err != nil {
		return err
	}
	b.addPiece(max(a.Grams, 0), w.room())
	return nil
}
