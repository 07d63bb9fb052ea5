package poll

import (
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"simmerline/sensors"
)

func TestReadingsAreHandedOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(100 * time.Millisecond)
		board.lines <- "68.4"
		time.Sleep(100 * time.Millisecond)
		board.lines <- "other"
		time.Sleep(1100 * time.Millisecond)
		if err := b.end(t); err != nil {
			t.Error(err)
		}
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"100ms | hot good 68.4 °C",
			// A reading that no channel is for is refused; counts are told when a
			// second has passed since the last status.
			"1.2s | open on /dev/ttyACM0, 1 refused")
		if b.closes != 1 {
			t.Errorf("closed %d times", b.closes)
		}
	})
}

func TestMissingPortIsWaitedFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.run(t)
		time.Sleep(time.Hour + 123*time.Millisecond)
		plugged := b.clock.Now()
		b.plug("/dev/ttyACM3")
		time.Sleep(time.Second)
		if opens := b.opened(); len(opens) != 1 || opens[0]-plugged > time.Second {
			t.Errorf("plugged in at %v, opened at %v", plugged, opens)
		}
		b.end(t)
		b.expect(t,
			"0s | not plugged in: board-1 is not plugged in: plug it in",
			"1h0m0.5s | open on /dev/ttyACM3")
	})
}

func TestUnplugAndBackUnderAnotherName(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(100 * time.Millisecond)
		board.lines <- "68.4"
		time.Sleep(900 * time.Millisecond)
		b.unplug()
		time.Sleep(2900 * time.Millisecond)
		board = b.plug("/dev/ttyACM1")
		time.Sleep(800 * time.Millisecond)
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"100ms | hot good 68.4 °C",
			// The number falls first, then the state is told.
			"1s | hot bad unplugged",
			"1s | not plugged in: /dev/ttyACM0 has gone: plug it in again, and it is used again by itself",
			"2s | not plugged in: board-1 is not plugged in: plug it in",
			"4s | open on /dev/ttyACM1, reopened 1")
		// The power-on value of a probe that has just come back is not believed.
		board.lines <- "85"
		time.Sleep(time.Second)
		board.lines <- "66"
		time.Sleep(100 * time.Millisecond)
		b.end(t)
		b.expect(t,
			"4.7s | hot uncertain 85.0 °C power-on value",
			"5.7s | hot good 66.0 °C")
		if b.driver.resets != 2 {
			t.Errorf("the driver was reset %d times for 2 opens", b.driver.resets)
		}
	})
}

// TestNoNumberOutlivesTheDevice unplugs at every moment around an arrival.
func TestNoNumberOutlivesTheDevice(t *testing.T) {
	for after := time.Duration(0); after < 10*time.Millisecond; after += time.Millisecond {
		synctest.Test(t, func(t *testing.T) {
			b := newBench(probe())
			board := b.plug("/dev/ttyACM0")
			b.run(t)
			time.Sleep(time.Second)
			for i := range 10 {
				board.lines <- []string{"60", "61"}[i%2]
			}
			time.Sleep(after)
			b.unplug()
			time.Sleep(time.Second)
			b.plug("/dev/ttyACM0")
			time.Sleep(2 * time.Second)
			b.end(t)
			told := b.transcript()
			if strings.LastIndex(told, "good") > strings.LastIndex(told, "bad unplugged") {
				t.Errorf("unplugged %v after the lines:\n%s", after, told)
			}
		})
	}
}

func TestNoiseIsToldOnceASecond(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		for range 300 {
			time.Sleep(10 * time.Millisecond)
			board.lines <- "?\xff\x00"
		}
		time.Sleep(5 * time.Millisecond)
		b.end(t)
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"1s | open on /dev/ttyACM0, 100 refused",
			"2s | open on /dev/ttyACM0, 200 refused",
			"3s | open on /dev/ttyACM0, 300 refused")
	})
}

func TestMuteDevice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(time.Second)
		board.lines <- "60"
		time.Sleep(15600 * time.Millisecond)
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"1s | hot good 60.0 °C",
			"11s | open on /dev/ttyACM0: open, but nothing comes from it: check the device's power and its wires",
			"16s | hot bad silent",
			"16s | opening: nothing came from /dev/ttyACM0 for 15s: opening it again; check the device's power and its wires",
			"16.5s | open on /dev/ttyACM0, reopened 1")
		// It is opened ever more seldom while it stays mute, as an open may be
		// what keeps it from starting.
		time.Sleep(20 * time.Minute)
		opens := b.opened()
		var gaps []time.Duration
		for i := 2; i < len(opens); i++ {
			gaps = append(gaps, (opens[i] - opens[i-1]).Truncate(10*time.Second))
		}
		for i, want := range []time.Duration{30 * time.Second, time.Minute, 2 * time.Minute, 4 * time.Minute, 4 * time.Minute} {
			if i >= len(gaps) || gaps[i] != want {
				t.Fatalf("opened again after %v", gaps)
			}
		}
		b.end(t)
	})
}

// Some systems let an unplugged device look mute.
func TestMuteDeviceThatTheSystemHasForgotten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("COM3")
		var gone atomic.Bool
		b.options.Present = func(device string) bool { return !gone.Load() && device == "COM3" }
		b.run(t)
		time.Sleep(time.Second)
		board.lines <- "60"
		time.Sleep(5 * time.Second)
		b.mu.Lock()
		b.plugged = nil // without a word
		b.mu.Unlock()
		gone.Store(true)
		time.Sleep(3 * time.Second)
		b.end(t)
		b.expect(t,
			"0s | open on COM3",
			"1s | hot good 60.0 °C",
			"7s | hot bad unplugged",
			"7s | not plugged in: COM3 has gone: plug it in again, and it is used again by itself",
			"8s | not plugged in: board-1 is not plugged in: plug it in")
	})
}

func TestFlappingDeviceIsNotReopenedInATightLoop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		b.driver.instead = func(sensors.Link) (sensors.Exchanged, error) {
			return sensors.Exchanged{}, sensors.ErrClosed
		}
		b.run(t)
		time.Sleep(time.Minute)
		b.end(t)
		var gaps []time.Duration
		opens := b.opened()
		for i := 1; i < len(opens); i++ {
			gaps = append(gaps, opens[i]-opens[i-1])
		}
		for i, want := range []float64{0.5, 1, 2, 4, 5, 5, 5} {
			if gaps[i].Seconds() != want {
				t.Fatalf("opened again after %v", gaps)
			}
		}
	})
}

func TestBusyAndDenied(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		b.fail(&sensors.OpenError{Kind: sensors.ErrBusy, Sentence: "/dev/ttyACM0 is held"})
		b.run(t)
		time.Sleep(20 * time.Second)
		b.expect(t,
			"0s | opening: another program is looking at the device: trying again",
			"17.5s | held by another program: /dev/ttyACM0 is held")
		b.fail(&sensors.OpenError{Kind: sensors.ErrDenied, Sentence: "/dev/ttyACM0 belongs to group dialout"})
		time.Sleep(5 * time.Second)
		b.fail(&sensors.OpenError{Kind: sensors.ErrAmbiguous, Sentence: "could be any of two"})
		time.Sleep(5 * time.Second)
		b.fail(nil)
		time.Sleep(5 * time.Second)
		b.end(t)
		b.expect(t,
			"22.5s | not permitted: /dev/ttyACM0 belongs to group dialout",
			"27.5s | unknown: could be any of two",
			"32.5s | open on /dev/ttyACM0")
	})
}

func TestSettling(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.options.Config.Settle = 2 * time.Second
		b.options.Config.Lines.Check = sensors.LineUnchecked
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(500 * time.Millisecond)
		board.lines <- "?boot"
		time.Sleep(time.Second)
		board.lines <- "85"
		time.Sleep(100 * time.Millisecond)
		board.lines <- "21"
		time.Sleep(time.Second)
		board.lines <- "21.5"
		time.Sleep(100 * time.Millisecond)
		b.end(t)
		if unprotected := b.told[0].Status.Unprotected; !unprotected {
			t.Error("lines without a check are not told to be unprotected")
		}
		b.expect(t,
			"0s | opening on /dev/ttyACM0: settling after the open",
			"1.5s | hot uncertain 85.0 °C power-on value",
			"1.6s | hot uncertain 21.0 °C settling",
			"2.1s | open on /dev/ttyACM0", // and what the board said at its start is no fault
			"2.6s | hot good 21.5 °C")
	})
}

func TestExchangesKeepTheInterval(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.driver.every = 2 * time.Second
		b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(10*time.Second - time.Millisecond)
		b.end(t)
		if b.driver.rounds != 5 {
			t.Errorf("%d exchanges in 10 s at one in 2 s", b.driver.rounds)
		}
	})
}

func TestADriverThatReturnsAtOnceCannotSpin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		b.driver.instead = func(sensors.Link) (sensors.Exchanged, error) { return sensors.Exchanged{}, nil }
		b.run(t)
		time.Sleep(10 * time.Second)
		b.end(t)
		if b.driver.rounds > 2001 {
			t.Errorf("%d exchanges in 10 s", b.driver.rounds)
		}
	})
}

func TestSleepOfTheMachine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(time.Second)
		board.lines <- "60"
		time.Sleep(time.Second)
		b.clock.sleep(1900 * time.Millisecond) // too little to tell from a jump of a clock
		time.Sleep(time.Second)
		b.clock.sleep(time.Hour)
		board.lines <- "61" // sent before the sleep, read after it
		time.Sleep(time.Second)
		board.lines <- "44"
		time.Sleep(time.Second)
		b.end(t)
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"1s | hot good 60.0 °C",
			"3s | hot bad silent",
			"3s | opening: the computer was asleep: opening the device again",
			"3.5s | open on /dev/ttyACM0, reopened 1",
			"4s | hot good 44.0 °C")
	})
}

// haltingClock loses the processor between looking at one clock and the other.
type haltingClock struct {
	*sleepyClock
	halt time.Duration
}

func (c *haltingClock) SinceBoot() time.Duration {
	boot := c.sleepyClock.SinceBoot()
	time.Sleep(c.halt)
	return boot
}

func TestAHaltIsNoSleep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := &haltingClock{sleepyClock: newSocket().clock}
		p := &poller{Options: Options{Clock: c}}
		for i, halt := range []time.Duration{0, 10 * time.Second, 0, time.Second, 0} {
			c.halt = halt
			if p.slept() {
				t.Errorf("look %d: a halt of %v is taken for a sleep", i, halt)
			}
		}
		c.sleep(3 * time.Second)
		if !p.slept() {
			t.Error("a sleep of 3 s is not seen")
		}
	})
}

func TestOptionsAreChecked(t *testing.T) {
	err := Run(t.Context(), Options{Config: sensors.PortConfig{Name: "board-1"}})
	for _, missing := range []string{"Driver", "Open", "Clock", "Deliver"} {
		if err == nil || !strings.Contains(err.Error(), `port "board-1" has no `+missing) {
			t.Errorf("without %s: %v", missing, err)
		}
	}
}
