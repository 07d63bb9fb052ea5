package simbench

import (
	"math"
	"math/rand/v2"
	"time"

	"simmerline/sensors"
)

// Step is the fixed internal step of the world, in story time. What happens at
// a time between two steps happens at the later one.
const Step = 100 * time.Millisecond

// keptSteps is how many steps back a device may still look: 102.4 s of story,
// far longer than one exchange of any driver.
const keptSteps = 1024

// Site is where the workshop stands. Both numbers are given, and not worked out
// here, so that the bath boils exactly where the hub expects it to.
type Site struct {
	Boiling  sensors.Celsius    // of water, locally
	Pressure sensors.Kilopascal // of the air, at the station
}

// Start is how things stand at story offset 0. Its zero value is the bench of
// an ordinary afternoon: full cold baths, fan running, plate off.
type Start struct {
	// HotWater is how much the hot sulfide bath holds, in kg; 0 means 0.55 kg.
	HotWater float64
	// Room is the temperature of the room; 0 means 21.5 °C.
	Room sensors.Celsius
	// FanOff starts with the hood's fan off.
	FanOff bool
	// NightFall makes the room cooler by the hour, by 3.5 K in twelve hours.
	NightFall bool
}

// World is everything on the bench that is not electronics: heat, water, gas
// and air, and which plug sits where. It reads no clock: Advance tells it the
// time. It is not safe for concurrent use.
type World struct {
	site  Site
	start Start
	seed  uint64
	rand  *rand.Rand

	steps   int64 // made so far
	baths   [bathCount]bath
	air     air
	probes  [probeCount]probe
	ports   [portCount]portView
	power   bool
	powered int64 // the step at which power last came on

	kept [keptSteps]view
}

// probe is a thermometer and its plug.
type probe struct {
	probeSpec
	offset  float64 // K, its own constant error
	celsius float64 // of its tip
	in      bool    // plugged in
	since   int64   // the step at which it was plugged in or powered
}

// view is what electronics can see of the world after one step.
type view struct {
	power   bool
	powered float64 // seconds since power came on
	probes  [probeCount]probeView
	ppm     [gasCount]float64 // as the cells report it
	airflow bool
	ports   [portCount]portView
}

type probeView struct {
	celsius float64 // of the tip, with the probe's own error, without noise
	in      bool
	since   float64 // seconds since it was plugged in or powered
}

// portView is one wire's condition.
type portView struct {
	unplugged bool // its adapter is out of the socket
	mute      bool // its device has stopped talking
	faults    WireFaults
}

// NewWorld makes the bench as it stands at story offset 0, under power and with
// everything plugged in. The same seed gives the same world.
func NewWorld(seed uint64, site Site, start Start) *World {
	if start.Room == 0 {
		start.Room = 21.5
	}
	if start.HotWater == 0 {
		start.HotWater = 0.55
	}
	w := &World{
		site: site, start: start, seed: seed, power: true,
		rand: rand.New(rand.NewPCG(seed, 0x73696d6265)),
		air:  newAir(),
	}
	if w.air.fanOn = !start.FanOff; w.air.fanOn {
		w.air.fan, w.air.proved = 1, true
	}
	for i, v := range vessels(start) {
		w.baths[i] = newBath(v, float64(start.Room))
	}
	for i, spec := range probeSpecs() {
		offset := spec.bias * (2*chance(seed, streamBias, uint64(i)) - 1)
		w.probes[i] = probe{probeSpec: spec, offset: offset, celsius: w.baths[spec.bath].celsius, in: true}
	}
	w.keep()
	return w
}

// vessels are the four baths of the story.
func vessels(start Start) [bathCount]vessel {
	room := float64(start.Room)
	return [bathCount]vessel{
		bathHot:   {water: start.HotWater, celsius: room - 0.5, area: 0.0133, pot: 250, loss: 0.6, sulfide: 900, solids: 0.02, plate: true},
		bathCool:  {water: 0.5, celsius: room - 1, area: 0.0133, pot: 250, loss: 0.6, sulfide: 600, solids: 0.02},
		bathSoda:  {water: 0.8, celsius: 31, area: 0.012, pot: 150, loss: 0.5, solids: 0.04},
		bathRinse: {water: 1.5, celsius: 18.5, area: 0.03, pot: 200, loss: 1.0},
	}
}

// Now is the story offset the world stands at: a whole number of steps.
func (w *World) Now() time.Duration { return time.Duration(w.steps) * Step }

// Advance moves the world on to the last step at or before the story offset
// to. However a stretch is cut into calls, the outcome is the same to the bit;
// an offset that lies behind changes nothing.
func (w *World) Advance(to time.Duration) {
	for last := int64(to / Step); w.steps < last; {
		w.step()
		w.keep()
	}
}

func (w *World) step() {
	w.steps++
	room := w.room()
	w.air.stepFan(w.power)
	speed := stillAir + (hoodAir-stillAir)*w.air.fan
	var emitted [gasCount]float64
	for i := range w.baths {
		b := &w.baths[i]
		b.stepHeat(w.power, room, speed, float64(w.site.Boiling))
		for gas, ml := range b.stepGas() {
			emitted[gas] += ml
		}
	}
	w.air.step(emitted, w.rand)
	for i := range w.probes {
		p := &w.probes[i]
		lag := p.lag
		if w.baths[p.bath].stirred {
			lag /= 2
		}
		p.celsius += (w.baths[p.bath].celsius - p.celsius) * stepSeconds / lag
	}
}

// room is the temperature of the room now.
func (w *World) room() float64 {
	room := float64(w.start.Room)
	if w.start.NightFall {
		const night = 12 * time.Hour
		room -= roomFall * min(1, float64(w.Now())/float64(night))
	}
	return room
}

// keep notes what can be seen after this step.
func (w *World) keep() {
	v := &w.kept[w.steps%keptSteps]
	v.power, v.powered = w.power, w.secondsSince(w.powered)
	for i := range w.probes {
		p := &w.probes[i]
		v.probes[i] = probeView{celsius: p.celsius + p.offset, in: p.in, since: w.secondsSince(p.since)}
	}
	for i := range w.air.cells {
		v.ppm[i] = w.air.cells[i].reading(v.powered)
	}
	v.airflow = w.air.proved
	v.ports = w.ports
}

func (w *World) secondsSince(step int64) float64 { return float64(w.steps-step) * stepSeconds }

// at is what could be seen at a story offset the world has reached already. An
// offset that lies too far back gives the oldest view there is.
func (w *World) at(offset time.Duration) *view {
	step := min(max(int64(offset/Step), 0), w.steps)
	step = max(step, w.steps-keptSteps+1)
	return &w.kept[step%keptSteps]
}

// Bath says how a bath truly is, whatever any probe makes of it.
func (w *World) Bath(name string) (BathState, bool) {
	names := bathNames()
	i := index(names[:], name)
	if i < 0 {
		return BathState{}, false
	}
	b := &w.baths[i]
	return BathState{
		Liquid: sensors.Celsius(b.celsius), Plate: sensors.Celsius(b.plateCelsius),
		Water: b.water, SteamGramsPerMinute: b.steam, Element: b.element && b.switchedOn && w.power,
	}, true
}

// BathState is the true state of a bath.
type BathState struct {
	Liquid, Plate       sensors.Celsius
	Water               float64 // kg
	SteamGramsPerMinute float64
	Element             bool // the plate under it is drawing power
}

// Air says how much of a gas, by its channel's name, truly is at the head.
func (w *World) Air(channel string) (sensors.PPM, bool) {
	names := gasNames()
	i := index(names[:], channel)
	if i < 0 {
		return 0, false
	}
	return sensors.PPM(w.air.ppm[i]), true
}

// ammoniaMillilitres is how much gas at the site's pressure a measure of
// household ammonia, in ml, can give.
func (w *World) ammoniaMillilitres(measure float64) float64 {
	grams := measure * ammoniaDensity * ammoniaStrength
	litresPerMole := gasConstant * (w.room() + zeroCelsius) / math.Max(float64(w.site.Pressure), 1)
	return grams / ammoniaMolar * litresPerMole * 1000
}

// The streams of fixed chances, one for each use.
const (
	streamBias = iota
	streamProbe
	streamWire
)
