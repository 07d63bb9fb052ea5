package simbench

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The steam table's rows are marked 'stored' in the reference file: a public
// dry saturated steam table, 50 to 95 °C.
func TestSaturationPressureAgreesWithTheSteamTable(t *testing.T) {
	text, err := os.ReadFile("../../testdata/reference/saturation_if97.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for line := range strings.Lines(string(text)) {
		fields := strings.Split(strings.TrimSpace(line), ",")
		if fields[0] != "steam_table_psat" {
			continue
		}
		rows++
		celsius, err1 := strconv.ParseFloat(fields[1], 64)
		megapascal, err2 := strconv.ParseFloat(fields[3], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(line)
		}
		want := megapascal * 1000
		if got := saturationPressure(celsius); math.Abs(got-want) > 0.005*want {
			t.Errorf("at %v °C: %.3f kPa, the table says %.3f", celsius, got, want)
		}
	}
	if rows < 10 {
		t.Fatalf("only %d rows of the steam table", rows)
	}
}

// What the element gives must be found again: in the lumps, in the room, in
// vapour. The books are kept here from outside, step by step.
func TestEnergyIsNeitherMadeNorLost(t *testing.T) {
	b := newBath(vessels(Start{HotWater: 0.5, Room: 21})[bathHot], 21)
	b.dial = 100
	const dt = stepSeconds
	content := func() float64 { return b.heatCapacity()*b.celsius + plateHeat*b.plateCelsius }
	worst := 0.0
	for range 36000 {
		before, waterBefore, hot, plate := content(), b.water, b.celsius, b.plateCelsius
		on := b.element
		b.stepHeat(true, 21, stillAir, 94.62)
		if b.element != on {
			continue // the contact moved within the step
		}
		in := 0.0
		if on {
			in = elementPower * dt
		}
		out := (b.loss*(hot-21) + plateLoss*(plate-21)) * dt
		gone := waterBefore - b.water
		// Vapour takes its latent heat and the heat it had as water.
		vapour := gone * (latentHeat + waterHeat*b.celsius)
		worst = max(worst, math.Abs(content()-before-(in-out-vapour)))
	}
	if worst > 0.05 { // J in a step that moves some 80 J
		t.Errorf("a step's books are off by %.2f J", worst)
	}
	if b.water > 0 {
		t.Errorf("%.3f kg left after an hour on full: the run did not cover boiling dry", b.water)
	}
}

func TestTheBathHeatsIntoItsRangeInAboutAQuarterOfAnHour(t *testing.T) {
	for seed := range uint64(5) {
		var reached time.Duration
		play(t, find(t, "afternoon"), seed, clockTime(13, 40, 0), func(at time.Duration, w *World) {
			if b, _ := w.Bath(HotSulfide); b.Liquid >= 55 && reached == 0 {
				reached = at
			}
		})
		took := reached - clockTime(13, 8, 0)
		if reached == 0 || took < 10*time.Minute || took > 16*time.Minute {
			t.Errorf("seed %d: in range %v after the plate went on", seed, took)
		}
	}
}

func TestABoilingBathStaysAtTheLocalBoilingPoint(t *testing.T) {
	w := NewWorld(1, yard, Start{})
	must(t, w, Dial{HotSulfide, dialFull})
	w.Advance(20 * time.Minute)
	before, _ := w.Bath(HotSulfide)
	for range 600 {
		w.Advance(w.Now() + time.Second)
		b, _ := w.Bath(HotSulfide)
		if math.Abs(float64(b.Liquid-yard.Boiling)) > 0.2 {
			t.Fatalf("at %v the boiling bath is at %v, not %v", w.Now(), b.Liquid, yard.Boiling)
		}
	}
	after, _ := w.Bath(HotSulfide)
	if lost := before.Water - after.Water; lost < 0.05 || lost > 0.2 {
		t.Errorf("ten minutes of boiling took %.3f kg of water", lost)
	}
	if after.SteamGramsPerMinute <= 0 {
		t.Error("it boils without steam")
	}
}

func TestABathBoiledDryGetsHotterAndScorches(t *testing.T) {
	s := find(t, "boiled-dry")
	var dry, scorched time.Duration
	var hottest float64
	play(t, s, 1, s.Ends, func(at time.Duration, w *World) {
		b, _ := w.Bath(HotSulfide)
		so2, _ := w.Air(SO2Cell)
		if b.Water == 0 && dry == 0 {
			dry = at
		}
		if b.Water > 0 && so2 > 0 {
			t.Fatalf("at %v there is SO2 from a wet bath", at)
		}
		if so2 > 1 && scorched == 0 {
			scorched = at
		}
		hottest = max(hottest, float64(b.Liquid))
	})
	if dry == 0 || dry < s.OpensAt || scorched < dry {
		t.Errorf("opens at %v, dry at %v, SO2 over 1 ppm at %v", s.OpensAt, dry, scorched)
	}
	if hottest < float64(yard.Boiling)+50 {
		t.Errorf("the dry pot only reached %.0f °C", hottest)
	}
}

func TestStirringHeatsFasterAndCoversNoLag(t *testing.T) {
	still, stirred := NewWorld(1, yard, Start{}), NewWorld(1, yard, Start{})
	must(t, still, Dial{HotSulfide, dialWorking})
	must(t, stirred, Dial{HotSulfide, dialWorking})
	must(t, stirred, Stir{HotSulfide, true})
	still.Advance(8 * time.Minute)
	stirred.Advance(8 * time.Minute)
	a, _ := still.Bath(HotSulfide)
	b, _ := stirred.Bath(HotSulfide)
	if b.Liquid < a.Liquid+1 {
		t.Errorf("stirred %v, still %v", b.Liquid, a.Liquid)
	}
}

// A puff of gas must fade with the air change: to 1/e in V/Q.
func TestVentilationCarriesGasAway(t *testing.T) {
	for _, c := range []struct {
		fan     bool
		minutes float64
	}{
		{true, zoneVolume / (zoneStill + zoneHood)},
		{false, zoneVolume / zoneStill},
	} {
		w := NewWorld(1, yard, Start{FanOff: !c.fan})
		for i := range w.baths {
			w.baths[i].sulfide = 0
		}
		w.air.ppm[gasH2S] = 40
		w.Advance(time.Duration(c.minutes * float64(time.Minute)))
		got, _ := w.Air(H2SCell)
		if want := 40 / math.E; math.Abs(float64(got)-want) > 0.02*want {
			t.Errorf("fan %v: %v after %.2f min, want %.2f", c.fan, got, c.minutes, want)
		}
	}
}

func TestACellShowsNineTenthsOfAStepAfterItsT90(t *testing.T) {
	w := NewWorld(1, yard, Start{})
	w.Advance(10 * time.Minute)
	c := &w.air.cells[gasH2S]
	c.shown = 0
	var met [gasCount]float64
	met[gasH2S] = 10
	for range int(cellT90 / stepSeconds) {
		w.air.ppm = met
		w.air.plume = drift{} // a still plume, to see the cell alone
		w.air.step([gasCount]float64{}, w.rand)
	}
	if math.Abs(c.shown-9) > 0.1 {
		t.Errorf("%.2f ppm of 10 after T90", c.shown)
	}
}

func TestMoreGasComesFromAHotterBath(t *testing.T) {
	last := 0.0
	for celsius := 20.0; celsius < 94; celsius += 6 {
		b := newBath(vessels(Start{HotWater: 0.5, Room: 21})[bathHot], 21)
		b.celsius = celsius
		got := b.stepGas()[gasH2S]
		if got <= last {
			t.Errorf("at %v °C %.3f ml/min, no more than below", celsius, got)
		}
		last = got
	}
	b := newBath(vessels(Start{HotWater: 0.5, Room: 21})[bathHot], 21)
	b.celsius = float64(yard.Boiling)
	simmering := b.stepGas()[gasH2S]
	b.steam = 10
	if boiling := b.stepGas()[gasH2S]; boiling < 1.5*simmering {
		t.Errorf("boiling strips out no more: %.2f against %.2f ml/min", boiling, simmering)
	}
}

func TestTheThermostatCycles(t *testing.T) {
	s := find(t, "calm")
	switches, on := 0, false
	play(t, s, 1, time.Hour, func(at time.Duration, w *World) {
		b, _ := w.Bath(HotSulfide)
		if at > 30*time.Minute && b.Element != on {
			switches++
		}
		on = b.Element
	})
	if switches < 10 || switches > 100 {
		t.Errorf("the element switched %d times in half an hour", switches)
	}
}

func must(t testing.TB, w *World, a Action) {
	t.Helper()
	if err := w.Do(a); err != nil {
		t.Fatal(err)
	}
}
