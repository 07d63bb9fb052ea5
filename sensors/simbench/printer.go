package simbench

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// printEvery is how often a board that prints does so.
const printEvery = time.Second

// printer is a microcontroller that prints a line each second by itself and
// listens to nothing. Its lines end in CR LF and carry a check: a "*" and the
// XOR of all bytes before it in two hex digits.
type printer struct {
	look lookup
	seed uint64
	port int
	line func(seed uint64, v *view, at time.Duration) string
	next time.Duration
	wire wire
	last string // the last line printed, for a board that has hung
	echo []byte
	out  []byte
}

func newPrinter(port int, seed uint64, look lookup, phase time.Duration, line func(uint64, *view, time.Duration) string) *printer {
	return &printer{look: look, seed: seed, port: port, line: line, next: phase, wire: newWire(seed, port)}
}

func (p *printer) Receive(now time.Duration, sent []byte) {
	if v := p.look(now); v.ports[p.port].faults.Echo {
		p.echo = append(p.echo, sent...)
	}
}

func (p *printer) Next() (time.Duration, bool) { return p.next, true }

func (p *printer) Due(now time.Duration) []byte {
	p.out = append(p.out[:0], p.echo...)
	p.echo = p.echo[:0]
	for ; p.next <= now; p.next += printEvery {
		v := p.look(p.next)
		condition := &v.ports[p.port]
		if !v.power || condition.mute || condition.unplugged {
			continue
		}
		if line := p.line(p.seed, &v, p.next); !condition.faults.Stuck || p.last == "" {
			p.last = line
		}
		p.out = p.wire.carry(p.out, checked(p.last), condition.faults)
	}
	return p.out
}

// checked adds a line's check and its end.
func checked(line string) []byte {
	var check byte
	for i := range len(line) {
		check ^= line[i]
	}
	return fmt.Appendf(nil, "%s*%02X\r\n", line, check)
}

// bathWireLine is what the adapter of the two digital probes prints:
// "t1=68.44 t2=21.31". They measure in sixteenths of a degree; just after
// power-up a probe answers 85 until its first measurement is done; one that is
// pulled out, or hotter than it can measure, has no number to print.
func bathWireLine(seed uint64, v *view, at time.Duration) string {
	return "t1=" + digital(seed, probeHot, v, at) + " t2=" + digital(seed, probeCool, v, at)
}

func digital(seed uint64, i int, v *view, at time.Duration) string {
	const powerOn, resolution = "85.00", 1. / 16
	spec := probeSpecs()[i]
	probe := v.probes[i]
	celsius := stepped(sample(seed, i, spec, v, at), resolution)
	switch {
	case !probe.in || celsius > spec.top:
		return "nan"
	case probe.since < printEvery.Seconds():
		return powerOn
	default:
		return strconv.FormatFloat(celsius, 'f', 2, 64)
	}
}

// benchBoardLine is what the thermocouple board prints: "31.25,18.50", soda and
// rinse in quarters of a degree. An open thermocouple prints as nan.
func benchBoardLine(seed uint64, v *view, at time.Duration) string {
	return thermocouple(seed, probeSoda, v, at) + "," + thermocouple(seed, probeRinse, v, at)
}

func thermocouple(seed uint64, i int, v *view, at time.Duration) string {
	const resolution = 0.25
	spec := probeSpecs()[i]
	celsius := math.Min(stepped(sample(seed, i, spec, v, at), resolution), spec.top)
	if !v.probes[i].in {
		return "nan"
	}
	return strconv.FormatFloat(celsius, 'f', 2, 64)
}
