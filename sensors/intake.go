package sensors

import (
	"math"
	"time"
)

// unheardAfter is how long a channel may be unheard before its next reading
// counts as the first after a power-up.
const unheardAfter = 10 * time.Second

// Intake judges the readings of one channel by what came before them: whether
// its port has just been opened, whether its gas cell is still warming up, and
// whether a probe's 85.0 °C is a bath or the value it powers up with. It only
// ever takes trust away, and no number is changed or held.
//
// A gas level beyond the cell's range counts as danger only once the cell has
// warmed up and the port has settled: cells saturate when they are powered up,
// and an alarm at each plug-in would soon be ignored. Until then such a reading
// is bad for the reason that it warms up or settles, and the hub already says
// that nothing protects.
type Intake struct {
	channel Channel
	settle  time.Duration
	unheard time.Duration

	settleUntil time.Duration
	lostAt      time.Duration
	heard       bool // since the hub started, or since the channel was last lost
	heardAt     time.Duration
	warmUntil   time.Duration
	probe       powerOnCheck
}

// NewIntake makes the intake of a channel whose readings are only uncertain for
// the settle time after each open of its port.
func NewIntake(channel Channel, settle time.Duration) *Intake {
	return &Intake{channel: channel, settle: settle, unheard: unheardAfter}
}

// AskedEvery tells how often the channel is asked. One that is asked seldom
// counts as unheard only when three turns have brought nothing.
func (in *Intake) AskedEvery(every time.Duration) {
	in.unheard = max(unheardAfter, 3*every)
}

// Opened tells that the port was opened at the given offset.
func (in *Intake) Opened(at time.Duration) { in.settleUntil = at + in.settle }

// Lost tells that the channel was lost at the given offset: its port has gone,
// or was given up. A warm-up begins anew with the next reading heard.
func (in *Intake) Lost(at time.Duration) {
	in.lostAt = at
	in.heard = false
}

// Heard tells whether a number has come since the hub started, or since the
// channel was last lost.
func (in *Intake) Heard() bool { return in.heard }

// WarmUntil gives the offset at which the warm-up ends or has ended. It is not
// known before the cell has been heard, nor for a channel without a warm-up.
func (in *Intake) WarmUntil() (at time.Duration, known bool) {
	return in.warmUntil, in.heard && in.channel.WarmUp > 0
}

// Accept judges one reading of the channel, in the order in which they arrive.
func (in *Intake) Accept(r Reading) Reading {
	if r.At < in.lostAt {
		// Sent before the device went: it says nothing of the present.
		return in.channel.Fault(r.At, r.Raw, ReasonUnplugged)
	}
	if !carriesNumber(r) {
		in.probe.forget()
		return r
	}
	in.hear(r.At)
	switch {
	case in.channel.WarmUp > 0 && r.At < in.warmUntil:
		return in.notYet(r, ReasonWarmingUp, in.warmUntil)
	case r.Quality == QualityGood && in.channel.DigitalProbe:
		if reason := in.probe.judge(r, in.channel.Offset, r.At < in.settleUntil); reason == ReasonPowerOnValue {
			r.Quality, r.Reason = QualityUncertain, reason
			return r
		} else if reason != ReasonNone {
			return in.channel.Fault(r.At, r.Raw, reason)
		}
	}
	if r.At < in.settleUntil {
		return in.notYet(r, ReasonSettling, in.settleUntil)
	}
	return r
}

// carriesNumber says whether the cell or probe itself spoke: with a number, or
// with one beyond what its range can show.
func carriesNumber(r Reading) bool {
	return r.Quality == QualityGood || r.Quality == QualityUncertain ||
		r.Reason == ReasonOverRange || r.Reason == ReasonUnderRange
}

// hear notes that the channel spoke. After a power-up, as far as can be told,
// its warm-up begins.
func (in *Intake) hear(at time.Duration) {
	if !in.heard || at-in.heardAt > in.unheard {
		in.warmUntil = at + in.channel.WarmUp
		in.probe = powerOnCheck{}
		in.heardAt = at
	}
	in.heard, in.heardAt = true, max(in.heardAt, at)
}

// notYet lowers a reading that may not be trusted before the given offset.
func (in *Intake) notYet(r Reading, reason Reason, until time.Duration) Reading {
	if r.Quality == QualityBad {
		r = in.channel.Fault(r.At, r.Raw, reason)
	} else {
		r.Quality, r.Reason = QualityUncertain, reason
	}
	r.ReadyAt = until
	return r
}

// The power-on value of digital probes. The DS18B20's data sheet gives it as
// +85 °C: what the probe reports when it has been powered up and has not
// measured since.
const (
	powerOnValue = 85.0
	// powerOnJump is how far the last measured value must be from 85.0, in
	// kelvin, for 85.0 to be suspect. A bath climbs by less between readings.
	powerOnJump = 5.0
	// powerOnPatience is how long a probe may report 85.0 after a jump before
	// it is a fault: a bath that really is there soon moves by the sixteenth of
	// a kelvin that such a probe can tell.
	powerOnPatience = 5 * time.Second
)

// powerOnCheck tells a measured 85.0 °C from the power-on value by how the
// probe came to it.
type powerOnCheck struct {
	known   bool // last holds a measured value
	last    float64
	suspect bool
	since   time.Duration // when the suspect 85.0 began
}

// forget drops the last measured value, so that an 85.0 that comes next is
// suspect. An 85.0 that already is stays so.
func (p *powerOnCheck) forget() { p.known = false }

// judge says whether a good reading is measured (ReasonNone), may be the
// power-on value, or has been it for so long that the probe is at fault.
func (p *powerOnCheck) judge(r Reading, offset float64, settling bool) Reason {
	value := r.Value.Number()
	if !isPowerOn(value, offset) {
		p.suspect, p.known, p.last = false, true, value
		return ReasonNone
	}
	if !p.suspect {
		if p.known && !settling && math.Abs(p.last-value) <= powerOnJump {
			p.last = value
			return ReasonNone
		}
		p.suspect, p.since = true, r.At
	}
	if r.At-p.since > powerOnPatience {
		return ReasonDeviceFault
	}
	return ReasonPowerOnValue
}

// isPowerOn says whether the probe reported exactly 85.0: before a correction
// was added, where the channel's offset is small enough to be one.
func isPowerOn(value, offset float64) bool {
	const rounding = 1e-6 // of scaling; a probe's step is 0.0625 K
	return math.Abs(value-powerOnValue) < rounding ||
		math.Abs(offset) <= powerOnJump && math.Abs(value-offset-powerOnValue) < rounding
}
