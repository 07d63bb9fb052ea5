package modbus

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"simmerline/sensors"
)

const (
	defaultTimeout = time.Second
	defaultEvery   = time.Second
	// leastTimeout: USB adapters hold bytes back for up to 16 ms, and systems
	// for longer, so that a shorter wait would give up on healthy devices.
	leastTimeout = 50 * time.Millisecond
	// No question is put once an exchange has taken this many time-outs of link
	// time and, so that many devices fit in, its interval as far as that is no
	// longer than longestRound. The last question may take one time-out more, and
	// so may listening, before the first, to a device that was mute.
	budgetTimeouts = 3
	longestRound   = 5 * time.Second
)

// Driver reads the channels of the Modbus devices on a wire.
type Driver struct {
	config  sensors.ModbusConfig // every channel with its unit
	timeout time.Duration
	units   []*unit
	next    int           // whose turn it is: a unit, or behind the last those that did not answer
	mute    byte          // the unit that the last question was put to, where it got no answer
	now     time.Duration // what the link last told of the time

	sent     []byte // the request on the wire
	received []byte // what came since
}

var _ sensors.Driver = (*Driver)(nil)

// New makes the driver of the devices on one wire. It refuses a configuration
// that can't be asked for over the wire, with all that is wrong in it.
func New(config sensors.ModbusConfig) (*Driver, error) {
	var faults []error
	if config.Unit < 1 || config.Unit > MaxUnit {
		faults = append(faults, fmt.Errorf("modbus: unit %d is not an address of a device; use 1 to %d", config.Unit, MaxUnit))
	}
	if len(config.Channels) == 0 {
		faults = append(faults, fmt.Errorf("modbus: unit %d has no channels; give it one, or leave it out", config.Unit))
	}
	if config.Every < 0 {
		faults = append(faults, fmt.Errorf("modbus: unit %d can't be asked every %v; use a time above 0", config.Unit, config.Every))
	}
	if config.Timeout != 0 && config.Timeout < leastTimeout {
		faults = append(faults, fmt.Errorf("modbus: unit %d can't answer within %v over a serial adapter; use %v or more", config.Unit, config.Timeout, leastTimeout))
	}
	config.Channels = slices.Clone(config.Channels)
	for i, c := range config.Channels {
		if err := checkChannel(c); err != nil {
			faults = append(faults, err)
		}
		config.Channels[i].Unit = config.UnitOf(c)
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	d := &Driver{
		config:   config,
		timeout:  config.Timeout,
		received: make([]byte, 0, requestLength+MaxFrame),
	}
	if d.timeout == 0 {
		d.timeout = defaultTimeout
	}
	d.Reset()
	return d, nil
}

func checkChannel(c sensors.ModbusChannel) error {
	isBit := c.Type == sensors.RegisterBit
	switch {
	case c.Unit > MaxUnit:
		return fmt.Errorf("modbus: channel %q: unit %d is not an address of a device; use 1 to %d", c.Name, c.Unit, MaxUnit)
	case c.Type > sensors.RegisterBit:
		return fmt.Errorf("modbus: channel %q: register type %d is not known", c.Name, c.Type)
	case c.Function < firstFunction || c.Function > lastFunction:
		return fmt.Errorf("modbus: channel %q: function %d is not read here; use 1, 2, 3 or 4", c.Name, c.Function)
	case isBit && c.Function > lastBitFunction:
		return fmt.Errorf("modbus: channel %q: function %d reads registers; use 1 or 2 for a bit", c.Name, c.Function)
	case !isBit && c.Function <= lastBitFunction:
		return fmt.Errorf("modbus: channel %q: function %d reads bits; use 3 or 4 for a number", c.Name, c.Function)
	case int(c.Address)+width(c.Type) > 1<<16:
		return fmt.Errorf("modbus: channel %q: two registers from address %d run past the last, 65535", c.Name, c.Address)
	}
	return nil
}

// Reset forgets what is half received and half asked, and plans anew.
func (d *Driver) Reset() {
	d.units = units(Plan(d.config.Channels))
	d.next, d.mute, d.now = 0, 0, 0
	d.received = d.received[:0]
}

// Interval is how often the devices are asked; 1 s where the bench file leaves
// it open.
func (d *Driver) Interval() time.Duration {
	if d.config.Every == 0 {
		return defaultEvery
	}
	return d.config.Every
}

// Exchange gives each unit that answers one turn, and then those that did not
// and whose rest is over. It begins where an exchange that ran out of time left
// off.
func (d *Driver) Exchange(link sensors.Link) (sensors.Exchanged, error) {
	var heard sensors.Exchanged
	var err error
	w := &wire{link: link, budget: max(budgetTimeouts*d.timeout, min(d.Interval(), longestRound)), now: d.now}
	spareNobody(d.units, w.now)
	left := len(d.units) + 1
	for ; left > 0 && err == nil && !w.spent(); left-- {
		if d.next < len(d.units) {
			if u := d.units[d.next]; u.rest == 0 {
				err = d.turn(w, u, &heard)
			}
			d.next++
			continue
		}
		d.next = 0
		err = d.askSilent(w, &heard)
	}
	if left == 0 {
		d.next = 0
	}
	d.now = w.now
	return heard, err
}

// askSilent gives turns to the mute units whose rest is over, the longest due
// first. Once this exchange has met with silence, it only goes on while that does
// not delay the next one.
func (d *Driver) askSilent(w *wire, heard *sensors.Exchanged) error {
	for !w.spent() {
		u := longestDue(d.units)
		delays := heard.Faults.NoAnswer > 0 && w.now+2*d.timeout > w.start+d.Interval()
		if u == nil || u.until > w.now || delays {
			return nil
		}
		if err := d.turn(w, u, heard); err != nil {
			return err
		}
	}
	return nil
}

// turn asks a unit for each of its spans once, beginning where its last turn
// left off, and stops at the first that isn't answered.
func (d *Driver) turn(w *wire, u *unit, heard *sensors.Exchanged) error {
	if wait := u.late - w.now; wait > 0 {
		first := !w.begun
		if err := w.outwait(wait, &heard.Faults); err != nil {
			return err
		}
		w.begun = !first // the time it took is not the device's to answer in
	}
	for left := len(u.spans); left > 0 && !w.spent(); left-- {
		i := u.next % len(u.spans)
		span := u.spans[i]
		request := Request{Unit: span.Unit, Function: span.Function, Address: span.Address, Count: span.Count}
		data, err := d.ask(w, request, &heard.Faults)
		u.next = i + 1
		before := d.mute
		d.mute = 0
		if errors.Is(err, errNoAnswer) {
			d.mute = span.Unit
			u.unanswered(w.now, d.timeout, d.Interval(), before != 0 && before != span.Unit)
			return nil
		}
		var refusal Exception
		switch {
		case err == nil:
			d.convert(heard, span, data, w.now)
		case errors.As(err, &refusal) && splits(refusal) && len(span.Channels) > 1:
			d.split(u, i)
			u.next = i
			left += len(span.Channels)
		case errors.As(err, &refusal):
			for _, place := range span.Channels {
				heard.Readings = append(heard.Readings,
					d.config.Channels[place].Fault(w.now, math.NaN(), sensors.ReasonDeviceFault))
			}
		case onTheWire(err):
			// Counted already. No reading: if it lasts, silence will tell.
		default:
			return err
		}
		u.answered()
	}
	return nil
}

// splits says whether a refusal may be about one register among several.
func splits(e Exception) bool { return e == exceptionIllegalAddress || e == exceptionIllegalValue }

// split asks for the channels of a span one by one from now on, so that one
// wrong address in the bench file, or a block that the device won't have read
// across, does not cost the channels beside it.
func (d *Driver) split(u *unit, i int) {
	var alone []Span
	for _, place := range u.spans[i].Channels {
		alone = append(alone, single(d.config.Channels, place))
	}
	u.spans = slices.Replace(u.spans, i, i+1, alone...)
}

// convert turns the data of a span into the readings of its channels.
func (d *Driver) convert(heard *sensors.Exchanged, span Span, data []byte, at time.Duration) {
	for _, place := range span.Channels {
		c := &d.config.Channels[place]
		raw, ok := Number(data, int(c.Address-span.Address), c.Type, c.LowWordFirst)
		if !ok {
			raw = math.NaN() // a span holds its channels, so this can't be
		}
		reading := c.Convert(at, raw)
		if reading.Reason == sensors.ReasonNotANumber {
			heard.Faults.NotANumber++
		}
		heard.Readings = append(heard.Readings, reading)
	}
}
