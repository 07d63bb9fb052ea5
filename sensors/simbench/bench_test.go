package simbench

import (
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

func TestPrerollReadsEveryChannelEachSecondInOrder(t *testing.T) {
	const to = 10 * time.Minute
	h, batches := prerolled(t, find(t, "calm"), 1, to)
	var last time.Duration
	for _, b := range batches {
		if b.At < last {
			t.Fatalf("a batch of %v after one of %v", b.At, last)
		}
		last = b.At
		for _, r := range b.Readings {
			if r.At > b.At || r.At > to {
				t.Fatalf("a reading of %v in a batch of %v, before %v", r.At, b.At, to)
			}
		}
	}
	want := int(to / time.Second)
	for _, config := range configs(t) {
		for _, c := range config.Channels() {
			if got := len(h[c.Name]); got < want-2 || got > want {
				t.Errorf("%s: %d readings in %d seconds", c.Name, got, want)
			}
		}
	}
	for _, r := range h[H2SCell] {
		if warming := r.At < 2*time.Minute; warming != (r.Reason == sensors.ReasonWarmingUp) {
			t.Fatalf("at %v the H2S cell is %v, %v", r.At, r.Quality, r.Reason)
		}
	}
}

// What a probe says lies by its own error around what is so.
func TestReadingsFollowTheTruth(t *testing.T) {
	s := find(t, "calm")
	h, _ := prerolled(t, s, 4, 40*time.Minute)
	truth := newBench(t, s, 4)
	for _, r := range h[HotTwin] {
		b, _ := truth.Truth(r.At, HotSulfide)
		if math.Abs(r.Value.Number()-float64(b.Liquid)) > 1 {
			t.Fatalf("at %v the twin says %v of a bath at %v", r.At, r.Value, b.Liquid)
		}
	}
}

func TestTheSameSeedGivesTheSameReadings(t *testing.T) {
	s := find(t, "afternoon")
	one, _ := prerolled(t, s, 7, 20*time.Minute)
	two, _ := prerolled(t, s, 7, 20*time.Minute)
	other, _ := prerolled(t, s, 8, 20*time.Minute)
	same := 0
	for channel, readings := range one {
		for i, r := range readings {
			q := two[channel][i]
			if r.At != q.At || r.Value != q.Value || r.Quality != q.Quality {
				t.Fatalf("%s: %+v, then %+v", channel, r, q)
			}
			if i < len(other[channel]) && other[channel][i].Value == r.Value {
				same++
			}
		}
	}
	if same == len(one)*20*60 {
		t.Error("another seed gives the same readings")
	}
}

// The demo's clock goes on where the pre-roll ended: nothing may be heard twice,
// warm up again or be late.
func TestMemoryPortsCarryOnAfterThePreroll(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := find(t, "afternoon")
		b, all := newBench(t, s, 1), taps(t)
		if err := b.Preroll(0, s.OpensAt, all, func(sensors.Batch) {}); err != nil {
			t.Fatal(err)
		}
		clk := clock.NewManual(s.OpensAt, time.Time{})
		stop := make(chan struct{})
		go func() {
			for {
				select {
				case <-stop:
					return
				default:
					synctest.Wait()
					clk.Advance(2 * time.Millisecond)
				}
			}
		}()
		for _, tap := range all {
			port, err := b.Open(tap.Config.Name, clk)
			if err != nil {
				t.Fatal(err)
			}
			tap.Driver.Reset()
			got := map[string]sensors.Reading{}
			for range 8 {
				heard, err := tap.Driver.Exchange(port)
				if err != nil {
					t.Fatal(err)
				}
				if heard.Faults.Total() > 0 {
					t.Errorf("%s: %+v", tap.Config.Name, heard.Faults)
				}
				for _, r := range heard.Readings {
					got[r.Channel] = tap.Intakes[r.Channel].Accept(r)
				}
			}
			for _, c := range tap.Config.Channels() {
				if r := got[c.Name]; r.Quality != sensors.QualityGood || r.At < s.OpensAt {
					t.Errorf("%s: %v, %v at %v", c.Name, r.Quality, r.Reason, r.At)
				}
			}
			if err := port.Close(); err != nil {
				t.Error(err)
			}
			if _, _, err := port.Read(make([]byte, 8), time.Second); !errors.Is(err, sensors.ErrClosed) {
				t.Errorf("%s: a closed port says %v", tap.Config.Name, err)
			}
		}
		close(stop)
	})
}

func TestAPulledAdapterEndsAMemoryPort(t *testing.T) {
	clk := clock.NewManual(time.Second, time.Time{})
	b := newBench(t, find(t, "calm"), 1)
	port, err := b.Open(HotTransmitter, clk)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Do(clk.Now(), PortPlug{HotTransmitter, false}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := port.Read(make([]byte, 8), time.Second); !errors.Is(err, sensors.ErrUnplugged) {
		t.Errorf("read: %v", err)
	}
	if err := port.Write([]byte{1}); !errors.Is(err, sensors.ErrUnplugged) {
		t.Errorf("write: %v", err)
	}
	if _, err := b.Open(HotTransmitter, clk); !errors.Is(err, sensors.ErrMissing) {
		t.Errorf("open: %v", err)
	}
	if _, err := b.Open("kettle", clk); err == nil {
		t.Error("a port that does not exist was opened")
	}
}

func TestABadWireIsCountedAndNeverRead(t *testing.T) {
	s := find(t, "calm")
	s.Steps = append(s.Steps,
		moment(3*time.Minute, Wire{BathWire, WireFaults{Flip: 0.02, Drop: 0.01}}, Wire{FumeHead, WireFaults{Flip: 0.02, Double: 0.01}}),
		moment(6*time.Minute, Wire{BathWire, WireFaults{}}, Wire{FumeHead, WireFaults{Echo: true}}))
	h, batches := prerolled(t, s, 1, 9*time.Minute)
	faults := map[string]uint64{}
	for _, b := range batches {
		if b.Status != nil {
			faults[b.Port] = b.Status.Faults.Total()
		}
	}
	if faults[BathWire] < 10 || faults[FumeHead] < 10 {
		t.Errorf("faults counted: %v", faults)
	}
	clean, _ := prerolled(t, find(t, "calm"), 1, 9*time.Minute)
	for _, channel := range []string{HotProbe, CoolProbe, H2SCell, NH3Cell} {
		spread := 0.0
		for _, r := range h[channel] {
			if r.At < 150*time.Second {
				continue
			}
			if r.Quality == sensors.QualityGood {
				spread = max(spread, math.Abs(r.Value.Number()-nearest(clean[channel], r.At)))
			}
		}
		if spread > 2 {
			t.Errorf("%s: a reading is %.1f off what was sent", channel, spread)
		}
		if last := h[channel][len(h[channel])-1]; last.At < 9*time.Minute-2*time.Second || last.Quality != sensors.QualityGood {
			t.Errorf("%s: after the trouble it says %v at %v", channel, last.Quality, last.At)
		}
	}
}

func nearest(readings []sensors.Reading, at time.Duration) float64 {
	best := readings[0]
	for _, r := range readings {
		if (r.At - at).Abs() < (best.At - at).Abs() {
			best = r
		}
	}
	return best.Value.Number()
}

func BenchmarkPrerollHour(b *testing.B) {
	for b.Loop() {
		bench := newBench(b, find(b, "afternoon"), 1)
		readings := 0
		err := bench.Preroll(0, time.Hour, taps(b), func(batch sensors.Batch) { readings += len(batch.Readings) })
		if err != nil || readings < 9*3500 {
			b.Fatal(readings, err)
		}
	}
}
