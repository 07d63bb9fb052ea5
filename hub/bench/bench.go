package bench

import (
	"bytes"
	"fmt"
	"time"

	"go.yaml.in/yaml/v3"

	"simmerline/rules"
	"simmerline/sensors"
)

// Units is how people see temperatures; everything inside works in °C.
type Units uint8

// The units of display.
const (
	Celsius Units = iota
	Fahrenheit
)

// String gives the word a bench file uses.
func (u Units) String() string {
	if u == Fahrenheit {
		return "fahrenheit"
	}
	return "celsius"
}

// Temperature prints a temperature to a tenth in the units of display.
func (u Units) Temperature(t sensors.Celsius) string {
	if u == Fahrenheit {
		return fmt.Sprintf("%.1f °F", t.Fahrenheit())
	}
	return t.String()
}

// Sound is how the hub itself makes a noise.
type Sound uint8

// The ways to sound. SoundAuto takes the first player that is installed, and
// the bell of the hub's own terminal where there is none.
const (
	SoundAuto Sound = iota
	SoundNone
	SoundBell
	SoundAplay
	SoundPWPlay
	SoundPaplay
	SoundAfplay
)

var soundWords = [...]string{"auto", "none", "bell", "aplay", "pw-play", "paplay", "afplay"}

// String gives the word a bench file uses; for a player it is the program's name.
func (s Sound) String() string {
	if int(s) < len(soundWords) {
		return soundWords[s]
	}
	return "unspecified"
}

// Bench is an accepted bench file.
type Bench struct {
	Name  string
	Units Units
	Site  Site
	Ports []sensors.PortConfig
	// Setup is for the rules engine. Its Rules are the file's own, and the
	// built-in ones that the file changes, each whole.
	Setup rules.Setup
	Sound Sound
	// Cautions are what was accepted, but is worth saying, by position.
	Cautions []Caution
	// File and Text are what was parsed.
	File string
	Text []byte
}

// Parse reads a bench file. It returns either a bench that can be run, or every
// fault found, by position, and a nil bench. It never panics, whatever the
// text; file is used in what it says, and not opened.
func Parse(file string, text []byte) (*Bench, []Fault) {
	c := &checker{file: file}
	root := c.tree(text)
	if root == nil {
		return nil, c.sorted()
	}
	d := c.draft(root)
	d.cross()
	if len(c.faults) > 0 {
		return nil, c.sorted()
	}
	d.cautions()
	return &Bench{
		Name: d.name, Units: d.units, Site: d.site, Ports: d.configs(), Setup: d.setup, Sound: d.sound,
		Cautions: c.sortedCautions(), File: file, Text: bytes.Clone(text),
	}, nil
}

// draft is a bench while it is put together, with the places that later checks
// point at.
type draft struct {
	c       *checker
	at      place
	name    string
	units   Units
	sound   Sound
	soundAt place
	site    Site
	siteAt  place
	siteBad bool
	// hasAltitude is true when the site's altitude is known.
	hasAltitude bool
	ports       []*port
	baths       []*bath
	setup       rules.Setup
	// all are the rules in force, built-in ones included.
	all []rules.Rule
	// nameless is true when something has no usable name, so that what refers
	// to it can't be judged.
	nameless bool
	// ruleAt tells where the file speaks of a rule, setpointAt where of its setpoint.
	ruleAt, setpointAt map[string]place
}

// Bounds on how much one bench may hold.
const (
	longestName  = 40
	longestLabel = 60
)

func (c *checker) draft(root *yaml.Node) *draft {
	s, _ := c.section(root, "the bench", "bench: and a name")
	d := &draft{c: c, at: s.at, ruleAt: map[string]place{}, setpointAt: map[string]place{}}
	d.name = s.text("bench", longestLabel)
	s.need("bench", "and a name for your bench")
	if i, ok := s.choice("units", "celsius", "fahrenheit"); ok {
		d.units = Units(i)
	}
	silentAfter := d.hub(s)
	d.readSite(s)
	entries := s.list("ports", "- name: bath-wire, and under it what is plugged in")
	for i, n := range entries {
		d.readPort(n, i+1, silentAfter)
	}
	if s.need("ports", "and under it a list of what is plugged in"); s.emptyList("ports") {
		c.fault(s.placeOf("ports"), "list at least one, as - name: bath-wire", "the bench has no ports: nothing would be measured")
	}
	for i, n := range s.list("baths", "- {name: rinse, kind: rinse, probes: [rinse]}") {
		d.readBath(n, i+1)
	}
	d.setup.Channels, d.setup.Baths = d.ruleChannels(), d.ruleBaths()
	d.readRules(s.list("rules", "- name: rinse-too-warm, and under it when and what"))
	s.done()
	return d
}

// hub reads the settings of the hub itself, and returns how long a channel may
// be unheard where it does not say so itself; 0 means the engine's own default.
func (d *draft) hub(parent *section) (silentAfter time.Duration) {
	n := parent.take("hub")
	if n == nil {
		return 0
	}
	s, _ := d.c.section(n, "hub", "hub: {sound: auto}")
	if i, ok := s.choice("sound", soundWords[:]...); ok {
		d.sound, d.soundAt = Sound(i), s.placeOf("sound")
	}
	silentAfter = s.duration("silent_after", shortestSilence, longestSilence, 0)
	d.setup.ReAlarmAfter = s.duration("sound_again_after", 30*time.Second, 15*time.Minute, 0)
	s.done()
	return silentAfter
}

func (d *draft) configs() []sensors.PortConfig {
	var configs []sensors.PortConfig
	for _, p := range d.ports {
		configs = append(configs, p.config)
	}
	return configs
}
