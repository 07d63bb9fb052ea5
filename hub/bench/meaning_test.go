package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"simmerline/rules"
)

// small is a whole bench with nothing to caution about, in parts that the tests
// below change.
const small = `bench: Pennywhistle Yard
site: {altitude: 1609 m}
hub: {sound: auto}
ports:
  - name: wire
    device: {usb_serial: PW-0001}
    protocol: lines
    baud: 9600
    check: required
    channels:
      - {name: hot, quantity: temperature, from: t1}
      - {name: acid, quantity: temperature, from: t2}
      - {name: hood, quantity: contact, from: hood, role: airflow}
      - {name: h2s, quantity: gas, gas: h2s, from: h2s, range: -5..100 ppm, noise: 0.1 ppm, warm_up: 1 min}
baths:
  - {name: sulfide, kind: sulfide, probes: [hot], range: 55..75 C}
  - {name: acid, kind: other, probes: [acid]}
rules: []
`

// with parses the small bench with one part of it changed.
func with(t *testing.T, from, to string) (*Bench, []Fault) {
	t.Helper()
	if !strings.Contains(small, from) {
		t.Fatalf("the small bench has no %q", from)
	}
	return Parse("small.yaml", []byte(strings.Replace(small, from, to, 1)))
}

// mustWith is with, for a change that must be accepted.
func mustWith(t *testing.T, from, to string) *Bench {
	t.Helper()
	b, faults := with(t, from, to)
	if b == nil {
		t.Fatalf("%q is refused: %v", to, faults)
	}
	return b
}

func rule(t *testing.T, b *Bench, name string) rules.Rule {
	t.Helper()
	for _, r := range merged(b.Setup) {
		if r.Name == name {
			return r
		}
	}
	t.Fatalf("there is no rule %s", name)
	return rules.Rule{}
}

func TestCautionsComeWithTheirCause(t *testing.T) {
	if b := mustWith(t, "rules: []", "rules: []"); len(b.Cautions) > 0 {
		t.Fatalf("the small bench should need none: %v", b.Cautions)
	}
	for _, c := range []struct{ from, to, says string }{
		{"sound: auto", "sound: none", "makes no sound"},
		{"check: required", "check: none", "unprotected wire"},
		{"check: required", "check: where-there", "unprotected wire"},
		{"{usb_serial: PW-0001}", "{path: /dev/ttyUSB0}", "may name another device"},
		{"{altitude: 1609 m}", "{station_pressure: 83.4 kPa}", "without its altitude can't be checked"},
		{"kind: other", "kind: pickle", "frees hydrogen sulfide"},
		{", role: airflow", "", "no contact proves the airflow"},
		{"gas: h2s", "gas: so2", "no cell here answers to hydrogen sulfide"},
		{"noise: 0.1 ppm", "noise: 0.5 ppm", "can't see the warning limit of 1 ppm"},
		{"noise: 0.1 ppm", "noise: 2 ppm", "can't see the danger limit of 5 ppm"},
		{"noise: 0.1 ppm, ", "", "its noise is not stated"},
		{", warm_up: 1 min", "", "no warm_up is stated"},
		{"-5..100 ppm", "-5..4 ppm", "short of the danger setpoint of 5 ppm"},
		{"gas: h2s", "gas: other", "no built-in rule knows the limits of this gas"},
		{"from: h2s", "from: h2s, silent_after: 5 min", "only after 5 min of silence"},
		{"probes: [acid]", "probes: [acid], range: 80..93 C", "will come in normal work"},
		{"from: t1", "from: t1, range: 0..96 C", "boiled dry would show only as a lost probe"},
		{"  - {name: acid, kind: other, probes: [acid]}\n", "", "channel acid is in no bath and no rule"},
		{"rules: []", "rules: [{name: fume-h2s-danger, setpoint: 20 ppm}]", "protects less than the built-in one: setpoint 20 ppm, built in 5 ppm"},
		{"rules: []", "rules: [{name: fume-h2s-danger, on_delay: 1 min}]", "on_delay 1 min, built in 0 s"},
		{"rules: []", "rules: [{name: fume-h2s-danger, off_delay: 1 s}]", "off_delay 1 s, built in 2 min"},
		{"rules: []", "rules: [{name: fume-h2s-danger, priority: caution}]", "priority caution, built in danger"},
		{"rules: []", "rules: [{name: fume-h2s-danger, latching: false}]", "not latching"},
		{"rules: []", "rules: [{name: sulfide-danger, while_in_use: true}]", "only while in use"},
	} {
		b := mustWith(t, c.from, c.to)
		if !slices.ContainsFunc(b.Cautions, func(have Caution) bool { return strings.Contains(have.What, c.says) }) {
			t.Errorf("%s: no caution says %q, only %v", c.to, c.says, b.Cautions)
		}
	}
	for _, harmless := range []string{
		"[{name: fume-h2s-danger, setpoint: 3 ppm}]", "[{name: sulfide-danger, setpoint: 85 C, on_delay: 1 s}]", "[{name: fume-h2s-warning, priority: danger}]",
	} {
		if b := mustWith(t, "rules: []", "rules: "+harmless); len(b.Cautions) > 0 {
			t.Errorf("%s is stricter, but is cautioned of: %v", harmless, b.Cautions)
		}
	}
}

// The boiling points come from rules/boiling, which is checked against the
// published tables there; here it matters which of the figures is used.
func TestSite(t *testing.T) {
	for site, want := range map[string]float64{
		"{altitude: 0 m}": 99.97, "{altitude: 1609 m}": 94.6, "{altitude: 5279 ft}": 94.6,
		"{station_pressure: 83.4 kPa}": 94.6, "{station_pressure: 834 mbar, altitude: 1609 m}": 94.6,
		"{sea_level_pressure: 1013.25 hPa, altitude: 1609 m}": 94.6, "{station_pressure: 101.325 kPa}": 99.97,
	} {
		b := mustWith(t, "{altitude: 1609 m}", site)
		if got := float64(b.Setup.Boiling); math.Abs(got-want) > 0.06 || b.Site.Boiling != b.Setup.Boiling || b.Setup.BoilingFrom == "" {
			t.Errorf("%s boils at %v, not %v", site, got, want)
		}
	}
	for site, says := range map[string]string{
		"{station_pressure: 101.9 kPa, altitude: 1609 m}":                             "weather reports give the pressure reduced to sea level",
		"{station_pressure: 88.5 kPa, altitude: 1609 m}":                              "can't be the air pressure at 1609 m",
		"{station_pressure: 40 kPa}":                                                  "less than anybody lives in",
		"{station_pressure: 1013 kPa}":                                                "no pressure of open air",
		"{sea_level_pressure: 83.4 kPa, altitude: 1609 m}":                            "no pressure at sea level",
		"{sea_level_pressure: 101.9 kPa}":                                             "without its altitude",
		"{sea_level_pressure: 101 kPa, station_pressure: 83.4 kPa, altitude: 1609 m}": "both a station pressure and a sea-level pressure",
		"{altitude: 20000 m}":                                                         "outside the standard atmosphere",
		"{altitude: 83.4 kPa}":                                                        "is not an altitude",
	} {
		if _, faults := with(t, "{altitude: 1609 m}", site); len(faults) != 1 || !strings.Contains(faults[0].What, says) {
			t.Errorf("%s: no single fault says %q: %v", site, says, faults)
		}
	}
}

func TestWarningFollowsItsDanger(t *testing.T) {
	b := mustWith(t, "rules: []", "rules: [{name: sulfide-danger, setpoint: 80 C}]")
	w := rule(t, b, "sulfide-warning")
	if len(w.Any) != 2 || w.Any[0].Setpoint != 75 || w.Any[1].Setpoint != 80 {
		t.Errorf("danger at 80 °C, but the warning is %+v", w.Any)
	}
	b = mustWith(t, "rules: []", "rules: [{name: sulfide-danger, setpoint: 176 F}, {name: sulfide-warning, setpoint: 70 C}]")
	if w = rule(t, b, "sulfide-warning"); w.Any[0].Setpoint != 70 || math.Abs(w.Any[1].Setpoint-80) > 1e-9 {
		t.Errorf("warning set to 70 °C under a danger at 176 °F, but it is %+v", w.Any)
	}
}

func TestChangeTouchesOnlyWhatIsGiven(t *testing.T) {
	before := rule(t, mustWith(t, "rules: []", "rules: []"), "fume-h2s-danger")
	now := rule(t, mustWith(t, "rules: []", "rules: [{name: fume-h2s-danger, setpoint: 2.5 ppm}]"), "fume-h2s-danger")
	want := before
	want.Any = []rules.Condition{{Kind: rules.Above, Channel: "h2s", Setpoint: 2.5}}
	want.Deadband, want.Whose = before.Deadband/2, "set in the bench file"
	if fmt.Sprint(now) != fmt.Sprint(want) {
		t.Errorf("got  %+v\nwant %+v", now, want)
	}
}

// No words of a bench file speak for the fumes, and a rule of its own about gas
// speaks in the class of the fumes.
func TestRulesOfItsOwn(t *testing.T) {
	const words = ", means: odd, do: Look at it."
	for text, class := range map[string]rules.Class{
		"when: above, channel: h2s, setpoint: 3 ppm, priority: danger":                       rules.FumeDanger,
		"when: rising, channel: h2s, setpoint: 1 ppm/min, window: 1 min, priority: warning":  rules.FumeDanger,
		"when: above, channel: h2s, setpoint: 0.5 ppm, priority: caution" + words:            rules.EverythingElse,
		"when: near-boiling, bath: acid, setpoint: 9 F, priority: danger" + words:            rules.BathDanger,
		"when: stuck, channel: hot, setpoint: 0.1 K, window: 1 h, priority: warning" + words: rules.EverythingElse,
		"when: port-lost, port: wire, priority: warning" + words:                             rules.EverythingElse,
		"when: open, channel: hood, on_delay: 90 s, priority: caution" + words:               rules.EverythingElse,
	} {
		r := rule(t, mustWith(t, "rules: []", "rules: [{name: mine, "+text+"}]"), "mine")
		if r.Class != class {
			t.Errorf("%s is of class %s", text, r.Class)
		}
		if own := strings.Contains(text, words); own != r.Words.Own || own != r.Words.NearBench || r.Words.Do == "" {
			t.Errorf("%s says %+v", text, r.Words)
		}
	}
	near := rule(t, mustWith(t, "rules: []", "rules: [{name: mine, when: near-boiling, bath: acid, setpoint: 9 F, priority: danger"+words+"}]"), "mine")
	if near.Any[0].Setpoint != 5 {
		t.Errorf("9 F short of boiling is 5 K, not %v", near.Any[0].Setpoint)
	}
}

func TestSilenceComesFromChannelThenHub(t *testing.T) {
	b := mustWith(t, "{sound: auto}", "{silent_after: 20 s, sound_again_after: 2 min}")
	if got := b.Setup.Channels[0].SilentAfter; got != 20*time.Second || b.Setup.ReAlarmAfter != 2*time.Minute {
		t.Errorf("silent after %s, again after %s", got, b.Setup.ReAlarmAfter)
	}
	if b, _ := with(t, "from: t1", "from: t1, silent_after: 1500 ms"); b != nil {
		t.Error("1.5 s is taken, though devices may well pause for that long")
	}
}
