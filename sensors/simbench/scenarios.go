package simbench

import "time"

// Scenarios lists every scenario, the demo's own first.
func Scenarios() []Scenario {
	return []Scenario{
		afternoon(), calm(), forgotten(), boiledDry(), fanOff(), probeOut(), silentHead(), overnight(),
	}
}

// Find gives the scenario of a name.
func Find(name string) (Scenario, bool) {
	for _, s := range Scenarios() {
		if s.Name == name {
			return s, true
		}
	}
	return Scenario{}, false
}

// calm raises nothing: the thermostat clicks on and off for hours.
func calm() Scenario {
	return Scenario{
		Name: "calm", Title: "a calm afternoon: the thermostat keeps the bath in its range",
		OpensAt: 35 * time.Minute, Ends: 4 * time.Hour,
		Steps: []Moment{moment(2*time.Minute, Dial{HotSulfide, dialWorking})},
	}
}

// forgotten is a plate set too high and left: the bath heats past its range and
// would boil.
func forgotten() Scenario {
	return Scenario{
		Name: "forgotten", Title: "a plate set too high and forgotten: the bath would boil",
		OpensAt: 6 * time.Minute, Ends: time.Hour,
		Steps: []Moment{moment(2*time.Minute, Dial{HotSulfide, 45})},
	}
}

// boiledDry is a shallow bath left on a full plate.
func boiledDry() Scenario {
	return Scenario{
		Name: "boiled-dry", Title: "a shallow bath left on full heat: it boils dry and scorches",
		OpensAt: 12 * time.Minute, Ends: 45 * time.Minute,
		Start: Start{HotWater: 0.12},
		Steps: []Moment{
			moment(2*time.Minute, Dial{HotSulfide, dialFull}),
			moment(30*time.Minute, PlateSwitch{HotSulfide, false}),
		},
	}
}

// fanOff is a bath in its range while the hood's fan stands still.
func fanOff() Scenario {
	return Scenario{
		Name: "fan-off", Title: "a warm bath while the hood's fan stands still: fumes gather",
		OpensAt: 38 * time.Minute, Ends: 70 * time.Minute,
		Steps: []Moment{
			moment(2*time.Minute, Dial{HotSulfide, 16}),
			moment(39*time.Minute, Fan{On: false}),
			moment(55*time.Minute, Fan{On: true}),
		},
	}
}

// probeOut is a probe's plug, and later a whole adapter, pulled and put back.
func probeOut() Scenario {
	return Scenario{
		Name: "probe-out", Title: "a probe's plug is pulled, then a whole adapter",
		OpensAt: 38 * time.Minute, Ends: 60 * time.Minute,
		Steps: []Moment{
			moment(2*time.Minute, Dial{HotSulfide, dialWorking}),
			moment(39*time.Minute, ProbePlug{HotProbe, false}),
			moment(43*time.Minute, ProbePlug{HotProbe, true}),
			moment(46*time.Minute, PortPlug{BathWire, false}),
			moment(48*time.Minute, PortPlug{BathWire, true}),
		},
	}
}

// silentHead is a fume head that stops answering while a bath is hot.
func silentHead() Scenario {
	return Scenario{
		Name: "silent-head", Title: "the fume head falls silent while a bath is hot",
		OpensAt: 38 * time.Minute, Ends: 60 * time.Minute,
		Steps: []Moment{
			moment(2*time.Minute, Dial{HotSulfide, dialWorking}),
			moment(39*time.Minute, Mute{FumeHead, true}),
			moment(47*time.Minute, Mute{FumeHead, false}),
		},
	}
}

// overnight raises nothing: the bench is put away, and the room cools.
func overnight() Scenario {
	return Scenario{
		Name: "overnight", Title: "the bench put away overnight",
		OpensAt: 210 * time.Second, Ends: 12 * time.Hour, Clock: 20 * time.Hour,
		Start: Start{NightFall: true},
		Steps: []Moment{moment(4*time.Minute, Fan{On: false})},
		People: []Deed{
			{At: 3 * time.Minute, Kind: DeedPutAway, By: Owner},
		},
	}
}
