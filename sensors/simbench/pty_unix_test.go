//go:build unix

package simbench

import (
	"context"
	"errors"
	"os"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/serialport"
)

// These tests go through real pseudo-terminals and so run in real time.

const testSpeed = 20.0

// plugged is a bench on pseudo-terminals, with its clock running.
type plugged struct {
	bench *Bench
	wires *Wires
	clock *clock.Story
}

func plugIn(t *testing.T, s Scenario, from time.Duration) plugged {
	t.Helper()
	clk := clock.NewStory(from, time.Time{}, testSpeed)
	b := newBench(t, s, 1)
	wires, err := b.Plug(t.TempDir(), clk)
	if errors.Is(err, ErrNoPseudoTerminals) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { clk.Run(ctx) })
	running.Go(func() {
		if err := wires.Run(ctx); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(func() {
		cancel()
		running.Wait()
		for _, port := range Ports() {
			if _, err := os.Lstat(wires.Node(port)); !errors.Is(err, os.ErrNotExist) {
				t.Errorf("%s is left over: %v", wires.Node(port), err)
			}
		}
	})
	return plugged{b, wires, clk}
}

func (p plugged) open(t *testing.T, config sensors.PortConfig) *serialport.Port {
	t.Helper()
	port, err := serialport.Open(p.wires.Node(config.Name), config.Serial, p.clock)
	if err != nil {
		t.Fatal(err)
	}
	return port
}

func TestTheDriversReadTheDevicesOverPseudoTerminals(t *testing.T) {
	p := plugIn(t, find(t, "calm"), 30*time.Minute)
	var reading sync.WaitGroup
	for _, tap := range taps(t) {
		port := p.open(t, tap.Config)
		reading.Go(func() {
			defer port.Close()
			tap.Driver.Reset()
			good := map[string]bool{}
			for range 40 {
				heard, err := tap.Driver.Exchange(port)
				if err != nil || heard.Faults.Total() > 0 {
					t.Errorf("%s: %v, %+v", tap.Config.Name, err, heard.Faults)
					return
				}
				for _, r := range heard.Readings {
					good[r.Channel] = good[r.Channel] || r.Quality == sensors.QualityGood
				}
				if len(good) == len(tap.Config.Channels()) {
					break
				}
			}
			for _, c := range tap.Config.Channels() {
				if !good[c.Name] {
					t.Errorf("%s gave no good reading", c.Name)
				}
			}
		})
	}
	reading.Wait()
}

func TestAPulledAdapterComesBackUnderItsName(t *testing.T) {
	p := plugIn(t, find(t, "calm"), time.Minute)
	config := configs(t)[portWire]
	port := p.open(t, config)
	buffer := make([]byte, 256)
	listen := func() error {
		for range 100 {
			n, _, err := port.Read(buffer, time.Second)
			if n > 0 || err != nil && !errors.Is(err, sensors.ErrTimeout) {
				return err
			}
		}
		return errors.New("nothing came")
	}
	if err := listen(); err != nil {
		t.Fatal(err)
	}
	if err := p.bench.Do(p.clock.Now(), PortPlug{BathWire, false}); err != nil {
		t.Fatal(err)
	}
	for {
		err := listen()
		if errors.Is(err, sensors.ErrUnplugged) {
			break
		}
		if err != nil {
			t.Fatalf("a pulled adapter says %v", err)
		}
	}
	if _, err := os.Stat(p.wires.Node(BathWire)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("its name is still there: %v", err)
	}
	if err := port.Close(); err != nil {
		t.Error(err)
	}
	if err := p.bench.Do(p.clock.Now(), PortPlug{BathWire, true}); err != nil {
		t.Fatal(err)
	}
	waitFor(t, p.clock, func() bool {
		_, err := os.Stat(p.wires.Node(BathWire))
		return err == nil
	})
	port = p.open(t, config)
	defer port.Close()
	if err := listen(); err != nil {
		t.Errorf("back in: %v", err)
	}
}

// A port that nobody has open must not hold its device up, nor hand old lines
// to whoever opens it at last.
func TestAPortThatNobodyReadsLosesWhatIsOld(t *testing.T) {
	end, err := openWire()
	if errors.Is(err, ErrNoPseudoTerminals) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer end.close()
	line := []byte("t1=68.44 t2=21.31*00\r\n")
	for range 1000 {
		if err := end.write(line); err != nil {
			t.Fatal(err)
		}
	}
	unread, scrap := 0, make([]byte, 4096)
	for {
		n, err := call(end.(*ptyEnd).far, scrap, unix.Read)
		if n <= 0 || err != nil {
			break
		}
		unread += n
	}
	if unread == 0 || unread > 2*unheardWrites*len(line) {
		t.Errorf("%d of %d bytes lie unread", unread, 1000*len(line))
	}
}

// waitFor waits on the story's clock until something is so.
func waitFor(t *testing.T, clk clock.Clock, so func() bool) {
	t.Helper()
	for end := clk.Now() + 2*time.Minute; !so(); {
		if clk.Now() > end {
			t.Fatal("it did not happen within two minutes of story")
		}
		timer := clk.NewTimer(100 * time.Millisecond)
		<-timer.C()
	}
}
