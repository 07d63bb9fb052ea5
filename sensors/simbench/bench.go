package simbench

import (
	"fmt"
	"sync"
	"time"
)

// never is later than any story.
const never = time.Duration(1<<63 - 1)

// Bench is the simulated bench while a scenario plays on it: the world, the
// devices on their wires, and the script. Nothing in it runs by itself; the
// world moves on as its devices are looked at. It is safe for concurrent use.
type Bench struct {
	scenario Scenario
	stations [portCount]*station

	mu    sync.Mutex // guards the rest
	world *World
	next  int // the scenario's step that comes next
}

// station is one device and whoever waits at its wire.
type station struct {
	name string
	port int
	poke chan struct{} // holds a token when a wait must be looked at again

	mu     sync.Mutex // guards device
	device Device
}

// NewBench sets up a scenario at a site. The same seed gives the same bench. It
// refuses a scenario whose steps are out of order or name what is not there.
func NewBench(scenario Scenario, site Site, seed uint64) (*Bench, error) {
	if err := scenario.rehearse(site); err != nil {
		return nil, err
	}
	b := &Bench{scenario: scenario, world: NewWorld(seed, site, scenario.Start)}
	for i, name := range Ports() {
		b.stations[i] = &station{
			name: name, port: i, poke: make(chan struct{}, 1),
			device: newDevice(i, seed, b.look),
		}
	}
	return b, nil
}

// Scenario is what plays.
func (b *Bench) Scenario() Scenario { return b.scenario }

// Do does something now that is not in the script, for tests and for hands-on
// play; now must not lie before what was looked at last.
func (b *Bench) Do(now time.Duration, a Action) error {
	b.mu.Lock()
	b.advance(now)
	err := b.world.Do(a)
	b.mu.Unlock()
	for _, s := range b.stations {
		s.wake()
	}
	return err
}

// Truth is how a bath really is at a story offset, whatever its probes say.
func (b *Bench) Truth(now time.Duration, bath string) (BathState, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.advance(now)
	return b.world.Bath(bath)
}

// look moves the world on to the offset where it is not there yet, and gives
// what electronics could see then.
func (b *Bench) look(at time.Duration) view {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.advance(at)
	return *b.world.at(at)
}

// advance plays the script up to the offset. The caller holds mu.
func (b *Bench) advance(to time.Duration) {
	for b.next < len(b.scenario.Steps) && b.scenario.Steps[b.next].At <= to {
		step := b.scenario.Steps[b.next]
		b.world.Advance(step.At)
		for _, a := range step.Actions {
			// rehearse has tried every action, so none can fail here.
			_ = b.world.Do(a)
		}
		b.next++
	}
	b.world.Advance(to)
}

// nextStep is when the script next changes something after the offset.
func (b *Bench) nextStep(after time.Duration) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.advance(after)
	if b.next == len(b.scenario.Steps) {
		return never
	}
	return b.scenario.Steps[b.next].At
}

func (b *Bench) plugged(port int, at time.Duration) bool {
	return !b.look(at).ports[port].unplugged
}

func (b *Bench) station(port string) (*station, error) {
	if i := index(Ports(), port); i >= 0 {
		return b.stations[i], nil
	}
	return nil, fmt.Errorf("simbench: there is no port %q; the ports are %q", port, Ports())
}

func (s *station) receive(now time.Duration, sent []byte) {
	s.mu.Lock()
	s.device.Receive(now, sent)
	s.mu.Unlock()
	s.wake()
}

// due appends what the device has sent by now, and tells when it sends next.
func (s *station) due(now time.Duration, to []byte) (got []byte, next time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	got = append(to, s.device.Due(now)...)
	next, ok := s.device.Next()
	if !ok {
		next = never
	}
	return got, next
}

// late says whether the device has bytes to give that nobody has fetched.
func (s *station) late(now time.Duration) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	next, ok := s.device.Next()
	return ok && next < now
}

// discard loses what the device has sent by now.
func (s *station) discard(now time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.device.Due(now)
}

func (s *station) wake() {
	select {
	case s.poke <- struct{}{}:
	default:
	}
}
