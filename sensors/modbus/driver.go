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
	// time. The last one may take one more, and so may listening, before the
	// first, to a device that was mute.
	budgetTimeouts = 3
)

// Driver reads the channels of one Modbus device.
type Driver struct {
	config  sensors.ModbusConfig
	timeout time.Duration
	spans   []Span
	next    int  // the span that the next exchange begins with
	late    bool // the last question was not answered; its answer may yet come

	sent     []byte // the request on the wire
	received []byte // what came since
}

var _ sensors.Driver = (*Driver)(nil)

// New makes the driver of one device. It refuses a configuration that can't be
// asked for over the wire, with all that is wrong in it.
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
	for _, c := range config.Channels {
		if err := checkChannel(c); err != nil {
			faults = append(faults, err)
		}
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
	d.spans = Plan(d.config.Channels)
	d.next = 0
	d.late = false
	d.received = d.received[:0]
}

// Interval is how often the device is asked; 1 s where the bench file leaves
// it open.
func (d *Driver) Interval() time.Duration {
	if d.config.Every == 0 {
		return defaultEvery
	}
	return d.config.Every
}

// Exchange asks for every span once, beginning where the last exchange left
// off, and stops at the first that isn't answered.
func (d *Driver) Exchange(link sensors.Link) (sensors.Exchanged, error) {
	var heard sensors.Exchanged
	w := &wire{link: link, budget: budgetTimeouts * d.timeout}
	if d.late {
		if err := w.outwait(d.timeout, &heard.Faults); err != nil {
			return heard, err
		}
		d.late = false
		w.begun = false // the time it took is not the device's to answer in
	}
	for left := len(d.spans); left > 0 && !w.spent(); left-- {
		i := d.next % len(d.spans)
		span := d.spans[i]
		request := Request{Unit: d.config.Unit, Function: span.Function, Address: span.Address, Count: span.Count}
		data, err := d.ask(w, request, &heard.Faults)
		d.next = i + 1
		var refusal Exception
		switch {
		case err == nil:
			d.convert(&heard, span, data, w.now)
		case errors.As(err, &refusal) && splits(refusal) && len(span.Channels) > 1:
			d.split(i)
			d.next = i
			left += len(span.Channels)
		case errors.As(err, &refusal):
			for _, place := range span.Channels {
				heard.Readings = append(heard.Readings,
					d.config.Channels[place].Fault(w.now, math.NaN(), sensors.ReasonDeviceFault))
			}
		case errors.Is(err, errNoAnswer):
			d.late = true
			return heard, nil
		case onTheWire(err):
			// Counted already. No reading: if it lasts, silence will tell.
		default:
			return heard, err
		}
	}
	return heard, nil
}

// splits says whether a refusal may be about one register among several.
func splits(e Exception) bool { return e == exceptionIllegalAddress || e == exceptionIllegalValue }

// split asks for the channels of a span one by one from now on, so that one
// wrong address in the bench file, or a block that the device won't have read
// across, does not cost the channels beside it.
func (d *Driver) split(i int) {
	var alone []Span
	for _, place := range d.spans[i].Channels {
		alone = append(alone, single(d.config.Channels, place))
	}
	d.spans = slices.Replace(d.spans, i, i+1, alone...)
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
