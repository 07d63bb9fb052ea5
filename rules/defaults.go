package rules

import (
	"fmt"
	"slices"
	"time"

	"simmerline/sensors"
)

// The usual line of a sulfide bath, and how far short of the local boiling
// point any line stays. Both are this project's choice: sulfide baths are
// worked hot and kept short of the boil (common practice, no source).
const (
	usualLine       sensors.Celsius = 90
	shortOfBoiling  sensors.Celsius = 3
	warningBelow    sensors.Celsius = 5
	dryAboveBoiling                 = 3.0 // K
	bathDeadband                    = 2.0 // K
)

// gasDefault is when a gas alarms where the bench file does not say.
type gasDefault struct {
	gas             sensors.Gas
	warning, danger float64 // ppm
	warningDelay    time.Duration
	warningWhose    string
	dangerWhose     string
}

// gasDefaults are settings of this project, each chosen at a published limit,
// or below one, as its words say. Sources: testdata/reference/exposure_limits.csv.
var gasDefaults = [...]gasDefault{
	{sensors.HydrogenSulfide, 1, 5, 10 * time.Second,
		"the ACGIH 8-hour value (2010)", "the ACGIH 15-minute value (2010)"},
	{sensors.SulfurDioxide, 0.5, 1, 10 * time.Second,
		"the EU 8-hour value (2017/164)", "the EU 15-minute value (2017/164)"},
	{sensors.Ammonia, 25, 35, 10 * time.Second,
		"the NIOSH and ACGIH long-shift value", "the NIOSH and ACGIH 15-minute value"},
	{sensors.CarbonMonoxide, 25, 100, 10 * time.Second,
		"the ACGIH 8-hour value", "below the NIOSH ceiling of 200 ppm"},
}

// The fume alarms clear a fifth below their setpoint, and only when the level
// has stayed there for this long: the stated time before anybody goes back.
const (
	gasDeadbandShare = 0.2
	gasClearTime     = 2 * time.Minute
	noiseFactor      = 3 // a warning is never set below three times the cell's noise
)

// BathLine is the danger setpoint of a bath: the line drawn on the page. For a
// sulfide bath it is the usual line or, where water boils low, 3 K short of the
// local boiling point; for any other kind it is 3 K short of boiling.
func BathLine(kind BathKind, boiling sensors.Celsius) (line sensors.Celsius, whose string) {
	short := boiling - shortOfBoiling
	if kind == BathSulfide && usualLine <= short {
		return usualLine, "the usual line for a sulfide bath"
	}
	return short, fmt.Sprintf("3 K short of boiling here (%s)", boiling)
}

// Defaults gives the rules that protect a bench whose file has none, in the
// order in which they speak when several come at once.
func Defaults(setup Setup) []Rule {
	var rules []Rule
	rules = append(rules, gasRules(setup)...)
	rules = append(rules, protectionRules(setup)...)
	for _, b := range setup.Baths {
		rules = append(rules, bathRules(b, setup.Boiling)...)
	}
	rules = append(rules, sensorRules(setup)...)
	return append(rules, hubRules()...)
}

func gasRules(setup Setup) []Rule {
	var rules []Rule
	for _, c := range setup.Channels {
		if c.Quantity != sensors.GasLevel {
			continue
		}
		named := false
		for _, d := range gasDefaults {
			if d.gas != c.Gas {
				continue
			}
			named = true
			warning, whose := d.warning, d.warningWhose
			if least := noiseFactor * float64(c.Noise); least > warning {
				warning, whose = least, "three times this cell's noise"
			}
			rules = append(rules,
				gasRule(c, "danger", Danger, d.danger, 0, d.dangerWhose),
				gasRule(c, "warning", Warning, warning, d.warningDelay, whose))
		}
		if !named {
			rules = append(rules, beyondCellRule(c))
		}
	}
	return append(rules, scorchRules(setup)...)
}

func gasRule(c Channel, suffix string, p Priority, setpoint float64, delay time.Duration, whose string) Rule {
	return Rule{
		Name:     "fume-" + c.Name + "-" + suffix,
		Any:      []Condition{{Kind: Above, Channel: c.Name, Setpoint: setpoint}},
		Deadband: setpoint * gasDeadbandShare, OnDelay: delay, OffDelay: gasClearTime,
		Priority: p, Latching: p == Danger, Class: FumeDanger,
		Subject: atHead(c), Words: gasWords(c.Gas, p), Whose: whose,
	}
}

// beyondCellRule is all that can be said of a gas whose limits are not known
// here: what its cell can't show any more is danger.
func beyondCellRule(c Channel) Rule {
	r := gasRule(c, "over-range", Danger, 0, 0, "the end of this cell's range")
	r.Any = []Condition{{Kind: OverRange, Channel: c.Name}}
	r.Words.Means, r.Words.Over = "beyond what its cell can measure", "back within what its cell can measure"
	return r
}

// atHead says what is measured, and that nobody wears the head.
func atHead(c Channel) string { return c.Gas.Title() + " at the fume head" }

// scorchRules take sulfur dioxide beside a hot bath for what it may well be.
func scorchRules(setup Setup) []Rule {
	rule := Rule{
		Name: "scorched-bath", OffDelay: gasClearTime,
		Priority: Danger, Latching: true, Class: FumeDanger,
		Words: scorchWords, Whose: "sulfur dioxide while a bath is hot",
	}
	for _, c := range setup.Channels {
		for _, d := range gasDefaults {
			if c.Quantity != sensors.GasLevel || c.Gas != d.gas || c.Gas != sensors.SulfurDioxide {
				continue
			}
			setpoint := max(d.warning, noiseFactor*float64(c.Noise))
			rule.Any = append(rule.Any, Condition{Kind: AboveWhileHot, Channel: c.Name, Setpoint: setpoint})
			rule.Deadband, rule.Subject = setpoint*gasDeadbandShare, atHead(c)
		}
	}
	if rule.Any == nil {
		return nil
	}
	return []Rule{rule}
}

// protectionRules call when a bath is hot and nothing tells us of gas, or
// nothing carries it away.
func protectionRules(setup Setup) []Rule {
	var gases, flow []string
	for _, c := range setup.Channels {
		switch {
		case c.Quantity == sensors.GasLevel:
			gases = append(gases, c.Name)
		case c.Airflow:
			flow = append(flow, c.Name)
		}
	}
	each := func(kind Kind, names []string) (any []Condition) {
		for _, name := range names {
			any = append(any, Condition{Kind: kind, Channel: name})
		}
		return any
	}
	var rules []Rule
	if len(flow) > 0 {
		rules = append(rules, Rule{
			Name: "airflow-lost", Any: slices.Concat(
				each(OpenWhileHot, flow), each(LostWhileHot, flow), each(WarmingWhileHot, flow)),
			OnDelay: 5 * time.Second, OffDelay: 10 * time.Second,
			Priority: Danger, Class: FumeProtectionLost, Subject: "hood", Words: airflowWords,
		}, Rule{
			Name: "airflow-not-known", Any: each(NotTrustedWhileCool, flow),
			OnDelay: 2 * time.Second, OffDelay: 5 * time.Second,
			Priority: Caution, Class: EverythingElse, Subject: "hood", Words: airflowCautionWords,
			WhileInUse: true,
		})
	}
	if len(gases) > 0 {
		rules = append(rules,
			Rule{
				Name: "fume-head-lost", Any: each(LostWhileHot, gases),
				OnDelay: 2 * time.Second, OffDelay: 5 * time.Second,
				Priority: Danger, Class: FumeProtectionLost, Subject: "fume head", Words: headLostWords,
			},
			Rule{
				Name: "fume-head-warming", Any: each(WarmingWhileHot, gases),
				OnDelay: 2 * time.Second, OffDelay: 5 * time.Second,
				Priority: Warning, Class: FumeProtectionLost, Subject: "fume head", Words: headWarmingWords,
			},
			Rule{
				Name: "fume-head-not-ready", Any: each(NotTrustedWhileCool, gases),
				OnDelay: 2 * time.Second, OffDelay: 5 * time.Second,
				Priority: Caution, Class: EverythingElse, Subject: "fume head", Words: headCautionWords,
				WhileInUse: true,
			})
	}
	return rules
}

func bathRules(b Bath, boiling sensors.Celsius) []Rule {
	line, whose := BathLine(b.Kind, boiling)
	if len(b.Probes) == 0 {
		return nil
	}
	dry := Rule{
		Name: b.Name + "-boiled-dry", Any: []Condition{{Kind: BoiledDry, Bath: b.Name, Setpoint: dryAboveBoiling}},
		Deadband: 1, OnDelay: 5 * time.Second, OffDelay: time.Minute,
		Priority: Danger, Latching: true, Class: BathDanger, Subject: b.Title(), Words: dryWords,
		Whose: fmt.Sprintf("3 K above boiling here (%s)", boiling),
	}
	if b.Kind != BathSulfide {
		return []Rule{dry, {
			Name: b.Name + "-warning", Any: []Condition{{Kind: Above, Bath: b.Name, Setpoint: float64(line)}},
			Deadband: bathDeadband, OnDelay: 10 * time.Second, OffDelay: 30 * time.Second,
			Priority: Warning, Class: BathDanger, Subject: b.Title(), Words: nearBoilWords, Whose: whose,
		}}
	}
	dry.Class = FumeDanger // a sulfide bath that burns gives sulfur dioxide
	dry.Words = drySulfideWords
	warning := line - warningBelow
	return []Rule{dry,
		{
			Name: b.Name + "-danger", Any: []Condition{{Kind: Above, Bath: b.Name, Setpoint: float64(line)}},
			Deadband: bathDeadband, OnDelay: 5 * time.Second, OffDelay: 10 * time.Second,
			Priority: Danger, Class: BathDanger, Subject: b.Title(), Words: overLineWords, Whose: whose,
		},
		{
			Name: b.Name + "-warning", Any: []Condition{
				{Kind: Above, Bath: b.Name, Setpoint: float64(warning)},
				{Kind: ReachesWithin, Bath: b.Name, Setpoint: float64(line), Window: 5 * time.Minute},
			},
			Deadband: bathDeadband, OnDelay: 10 * time.Second, OffDelay: 30 * time.Second,
			Priority: Warning, Class: BathDanger, Subject: b.Title(), Words: nearLineWords,
			Whose: fmt.Sprintf("5 K below the line of %s, or forecast to reach it within 5 min", line),
		}}
}

// sensorRules call for a sensor that is lost. Gas cells and the airflow contact
// have rules of their own; where a port carries several other channels, the
// port's loss speaks for all of them.
func sensorRules(setup Setup) []Rule {
	var rules []Rule
	count := make(map[string]int)
	for _, c := range setup.Channels {
		if c.Quantity == sensors.GasLevel || c.Airflow {
			continue
		}
		count[c.Port]++
		if count[c.Port] == 2 {
			rules = append(rules, Rule{
				Name: c.Port + "-port-lost", Any: []Condition{{Kind: PortLost, Port: c.Port}},
				OnDelay: 2 * time.Second, OffDelay: 2 * time.Second,
				Priority: Warning, Class: EverythingElse, Subject: c.Port, Words: portLostWords, WhileInUse: true,
			})
		}
		rules = append(rules, Rule{
			Name: c.Name + "-lost", Any: []Condition{{Kind: Lost, Channel: c.Name}},
			OnDelay: 2 * time.Second, OffDelay: 2 * time.Second,
			Priority: Warning, Class: EverythingElse, Subject: c.Title(), Words: lostWords, WhileInUse: true,
		})
	}
	return rules
}

func hubRules() []Rule {
	return []Rule{
		{
			Name: "hub-was-dark", Any: []Condition{{Kind: WasDark}},
			Priority: Warning, Class: EverythingElse, Subject: "hub", Words: darkWords,
		},
		{
			Name: "nobody-to-call", Any: []Condition{{Kind: NobodyToCall}}, OnDelay: 5 * time.Second,
			Priority: Warning, Class: EverythingElse, Subject: "hub", Words: nobodyWords,
		},
		{
			Name: "record-failing", Any: []Condition{{Kind: RecordFailing}}, OnDelay: 2 * time.Second,
			OffDelay: 5 * time.Second,
			Priority: Warning, Class: EverythingElse, Subject: "record", Words: recordWords,
		},
	}
}
