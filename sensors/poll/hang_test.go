package poll

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"simmerline/sensors"
)

// A bubble of synctest ends only when every goroutine in it has ended, so each
// of these tests also shows that nothing leaks.

func TestStopEndsAReadUnderWay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.driver.listen = time.Hour
		b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(100 * time.Millisecond)
		begun := time.Now()
		if err := b.end(t); err != nil || time.Since(begun) != 0 {
			t.Errorf("stopped after %v, %v", time.Since(begun), err)
		}
		b.expect(t, "0s | open on /dev/ttyACM0") // a stop is no loss
	})
}

func TestStopWhileWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.run(t)
		time.Sleep(1234 * time.Millisecond)
		begun := time.Now()
		if err := b.end(t); err != nil || time.Since(begun) != 0 {
			t.Errorf("stopped after %v, %v", time.Since(begun), err)
		}
	})
}

func TestReadThatDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		board := b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(time.Second)
		board.lines <- "60"
		time.Sleep(200 * time.Millisecond)
		release := b.hang("read")
		// The read under way ends at 1.5 s; the next one hangs.
		time.Sleep(15 * time.Second)
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"1s | hot good 60.0 °C",
			"13.5s | hot bad silent",
			"13.5s | opening: /dev/ttyACM0 is stuck: opening it again; if it stays so, unplug it and plug it in again",
			"14s | unknown: the last call to the device has not come back: unplug it and plug it in again; if that does not help, restart the hub")
		time.Sleep(time.Hour) // nobody else uses the driver meanwhile
		if b.driver.resets != 1 {
			t.Errorf("the driver was reset %d times", b.driver.resets)
		}
		release()
		time.Sleep(time.Second)
		board.lines <- "61"
		time.Sleep(100 * time.Millisecond)
		if err := b.end(t); err != nil {
			t.Error(err)
		}
		told := b.transcript()
		if !strings.Contains(told, "open on /dev/ttyACM0, reopened 1") || !strings.Contains(told, "good 61.0 °C") {
			t.Errorf("after it came back:\n%s", told)
		}
	})
}

func TestStopWhileAReadDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		release := b.hang("read")
		b.run(t)
		time.Sleep(5 * time.Second)
		err := b.end(t)
		if err == nil || !strings.Contains(err.Error(), "left behind") {
			t.Errorf("a read that never comes back ends in %v", err)
		}
		release()
	})
}

func TestCloseThatDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		b.run(t)
		time.Sleep(time.Second)
		release := b.hang("close")
		b.unplug()
		time.Sleep(time.Second)
		board := b.plug("/dev/ttyACM1")
		time.Sleep(3 * time.Second)
		board.lines <- "60" // the next one is used nevertheless
		time.Sleep(100 * time.Millisecond)
		release()
		err := b.end(t)
		if err == nil || !strings.Contains(err.Error(), "closing the device did not end within 2s, 1 times") {
			t.Errorf("a close that never comes back ends in %v", err)
		}
		b.expect(t,
			"0s | open on /dev/ttyACM0",
			"1s | not plugged in: /dev/ttyACM0 has gone: plug it in again, and it is used again by itself",
			"3.5s | open on /dev/ttyACM1, reopened 1",
			"5s | hot good 60.0 °C")
	})
}

func TestOpenThatDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		release := b.hang("open")
		b.run(t)
		time.Sleep(time.Minute)
		release()
		time.Sleep(time.Second)
		if err := b.end(t); err != nil {
			t.Error(err)
		}
		b.expect(t,
			"10s | unknown: opening the device takes too long: unplug it and plug it in again",
			"11s | unknown: the last call to the device has not come back: unplug it and plug it in again; if that does not help, restart the hub",
			"1m0s | open on /dev/ttyACM0")
		// The late open was closed again, and so was the one in use.
		if opens := b.opened(); len(opens) != 2 || b.closes != 2 {
			t.Errorf("%d opens, %d closes", len(opens), b.closes)
		}
	})
}

func TestStopWhileAnOpenDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(probe())
		b.plug("/dev/ttyACM0")
		release := b.hang("open")
		b.run(t)
		time.Sleep(time.Second)
		if err := b.end(t); err == nil || !strings.Contains(err.Error(), "left behind") {
			t.Errorf("an open that never comes back ends in %v", err)
		}
		release()
		synctest.Wait()
		if b.closes != 1 {
			t.Errorf("the late open was closed %d times", b.closes)
		}
	})
}

// An exchange may be long when its calls come back, but not endless.
func TestLongExchange(t *testing.T) {
	for _, c := range []struct {
		reads int
		lost  bool
	}{{40, false}, {80, true}} {
		synctest.Test(t, func(t *testing.T) {
			b := newBench(probe())
			b.plug("/dev/ttyACM0")
			b.driver.instead = func(link sensors.Link) (sensors.Exchanged, error) {
				for range c.reads {
					if _, _, err := link.Read(make([]byte, 8), time.Second); err != sensors.ErrTimeout {
						return sensors.Exchanged{}, err
					}
				}
				return sensors.Exchanged{Readings: []sensors.Reading{probe().Convert(b.clock.Now(), 60)}}, nil
			}
			b.run(t)
			time.Sleep(75 * time.Second)
			b.end(t)
			if told := b.transcript(); strings.Contains(told, "is stuck") != c.lost {
				t.Errorf("an exchange of %d s:\n%s", c.reads, told)
			}
		})
	}
}
