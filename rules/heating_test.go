package rules

import (
	"math/rand/v2"
	"testing"
	"time"
)

// kettle is a pot on a thermostat-cycled plate: two lumps of heat, the second
// giving off to the room. The figures are an ordinary hot plate's and a jar's.
type kettle struct {
	power, capacity float64 // W of the element, J/K of the pot with its liquid
	plateAt         float64 // °C at which the plate's thermostat switches, ± 12 K
	plate, liquid   float64 // °C
	on              bool
}

func (k *kettle) second() {
	switch {
	case k.plate < k.plateAt-12:
		k.on = true
	case k.plate > k.plateAt+12:
		k.on = false
	}
	heat := 0.0
	if k.on {
		heat = k.power
	}
	across := 3.3 * (k.plate - k.liquid)
	k.plate += (heat - across - (k.plate - 21)) / 700
	k.liquid += (across - 1.2*(k.liquid-21)) / k.capacity
}

// watch lets a bench watch the kettle for so long, through a probe with a
// scatter of 0.06 K, and gives what it raised and how hot the liquid became.
func (k *kettle) watch(t testing.TB, span time.Duration) (raised []Event, hottest float64) {
	r := newRig(t, small())
	noise := rand.New(rand.NewPCG(1, 2))
	for range int(span / time.Second) {
		k.second()
		hottest = max(hottest, k.liquid)
		r.feed(time.Second, calm(k.liquid+0.06*noise.NormFloat64())...)
	}
	for _, e := range r.events {
		if e.Cause == CauseRaised {
			raised = append(raised, e)
		}
	}
	return raised, hottest
}

// Half a litre and more that heats to its range, and a thermostat that then
// cycles for an hour, are no reason to call: the forecast asks for a rise that
// would go on.
func TestOrdinaryHeatingAndCyclingRaiseNothing(t *testing.T) {
	for _, power := range []float64{500, 1500} {
		for _, capacity := range []float64{2500, 5000} {
			for _, plateAt := range []float64{80, 105} {
				k := &kettle{power: power, capacity: capacity, plateAt: plateAt, plate: 21, liquid: 21, on: true}
				raised, hottest := k.watch(t, 90*time.Minute)
				if hottest < 55 || hottest > 83 {
					t.Fatalf("the test's own kettle reached %.1f °C", hottest)
				}
				for _, e := range raised {
					t.Errorf("%.0f W on %.0f J/K, up to %.1f °C: %s", power, capacity, hottest, inShort(e))
				}
			}
		}
	}
}

// A plate at full is told of ahead of the line: before 85 °C where it heats
// fast, and always at least a minute before the danger.
func TestRunawayIsForecast(t *testing.T) {
	for _, power := range []float64{500, 800, 1500} {
		for _, capacity := range []float64{1000, 2500, 5000} {
			k := &kettle{power: power, capacity: capacity, plateAt: 300, plate: 21, liquid: 21, on: true}
			raised, _ := k.watch(t, 40*time.Minute)
			var warned, danger *Event
			for i, e := range raised {
				switch {
				case e.Alarm == "pot-warning" && warned == nil:
					warned = &raised[i]
				case e.Alarm == "pot-danger" && danger == nil:
					danger = &raised[i]
				}
			}
			if warned == nil || danger == nil || danger.At-warned.At < time.Minute || warned.Trigger.Value.Number() >= 85 {
				t.Errorf("%.0f W on %.0f J/K: warned %v, danger %v", power, capacity, warned, danger)
			}
		}
	}
}
