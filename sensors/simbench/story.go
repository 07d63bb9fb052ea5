package simbench

import "time"

// Every name of the invented workshop is in this file and in pennywhistle.yaml,
// and a test holds the two together.

// Workshop is the name of the bench.
const Workshop = "Pennywhistle Yard"

// The baths, as the bench file names them.
const (
	HotSulfide  = "hot-sulfide"
	CoolSulfide = "cool-sulfide"
	Soda        = "soda"
	Rinse       = "rinse"
)

// The ports, as the bench file names them.
const (
	BathWire       = "bath-wire"       // lines: the two sulfide baths' digital probes
	HotTransmitter = "hot-transmitter" // Modbus RTU: a Pt100 in the hot sulfide
	BenchBoard     = "bench-board"     // lines: thermocouples in soda and rinse
	FumeHead       = "fume-head"       // Modbus RTU: gas cells and the airflow contact
)

// The channels, as the bench file names them.
const (
	HotProbe    = "hot"
	CoolProbe   = "cool"
	HotTwin     = "hot-twin"
	SodaProbe   = "soda"
	RinseProbe  = "rinse"
	H2SCell     = "h2s"
	SO2Cell     = "so2"
	NH3Cell     = "nh3"
	AirflowSeen = "airflow"
)

// The people of the story; none of them exists.
const (
	Owner = "Wren"
)

// Piece is one piece of work of the story.
type Piece struct {
	Name, Metal, Surface string
	Porous               bool
	Grams                float64
}

// Pieces are what is coloured in the afternoon.
func Pieces() []Piece {
	return []Piece{
		{Name: "leaf 1", Metal: "copper", Surface: "brushed", Grams: 6},
		{Name: "leaf 2", Metal: "copper", Surface: "brushed", Grams: 6},
		{Name: "leaf 3", Metal: "copper", Surface: "polished", Grams: 7},
		{Name: "leaf 4", Metal: "copper", Surface: "polished", Grams: 7},
		{Name: "leaf 5", Metal: "copper", Surface: "hammered", Grams: 8},
		{Name: "ring", Metal: "sterling silver", Surface: "polished", Grams: 5},
		{Name: "disc", Metal: "bronze", Surface: "as fired", Porous: true, Grams: 14},
	}
}

// StoryStart is the time of day at story offset 0.
const StoryStart = 13 * time.Hour

// clockTime is the story offset of a time of day, hours and minutes and seconds.
func clockTime(hour, minute, second int) time.Duration {
	at := time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute + time.Duration(second)*time.Second
	return at - StoryStart
}

// Numbers of the things, for the arrays of the model. They follow the bench
// file's order.
const (
	bathHot = iota
	bathCool
	bathSoda
	bathRinse
	bathCount
)

const (
	probeHot = iota
	probeCool
	probeTwin
	probeSoda
	probeRinse
	probeCount
)

const (
	gasH2S = iota
	gasSO2
	gasNH3
	gasCount
)

const (
	portWire = iota
	portTransmitter
	portBoard
	portHead
	portCount
)

// Ports lists the ports in the order of the bench file.
func Ports() []string { return []string{BathWire, HotTransmitter, BenchBoard, FumeHead} }

func bathNames() [bathCount]string { return [bathCount]string{HotSulfide, CoolSulfide, Soda, Rinse} }

func probeNames() [probeCount]string {
	return [probeCount]string{HotProbe, CoolProbe, HotTwin, SodaProbe, RinseProbe}
}

func gasNames() [gasCount]string { return [gasCount]string{H2SCell, SO2Cell, NH3Cell} }

// index finds a name; -1 where it is none.
func index(names []string, name string) int {
	for i, n := range names {
		if n == name {
			return i
		}
	}
	return -1
}

// probeSpec is a thermometer: the bath it hangs in and how it answers.
type probeSpec struct {
	bath    int
	lag     float64 // s, to 1/e, in a still bath
	bias    float64 // K, its greatest constant error
	noise   float64 // K, standard deviation of a sample
	digital bool    // starts with the power-on value, and stops answering above its range
	top     float64 // °C, the most it can measure
}

func probeSpecs() [probeCount]probeSpec {
	return [probeCount]probeSpec{
		probeHot:   {bath: bathHot, lag: 8, bias: 0.25, noise: 0.04, digital: true, top: 125},
		probeCool:  {bath: bathCool, lag: 8, bias: 0.25, noise: 0.04, digital: true, top: 125},
		probeTwin:  {bath: bathHot, lag: 5, bias: 0.1, noise: 0.02, top: 600},
		probeSoda:  {bath: bathSoda, lag: 3, bias: 0.5, noise: 0.12, top: 1000},
		probeRinse: {bath: bathRinse, lag: 3, bias: 0.5, noise: 0.12, top: 1000},
	}
}
