package rules

import (
	"reflect"
	"testing"

	"simmerline/sensors"
)

// The levels that a view gives of a gas are those of its own alarms, the lowest
// first; the alarm that needs a hot bath beside it is not among them.
func TestViewGivesTheSetpointsOfAChannel(t *testing.T) {
	e, err := New(Setup{
		Boiling: 94.6,
		Baths:   []Bath{{Name: "hot", Kind: BathSulfide, Probes: []string{"probe"}}},
		Channels: []Channel{
			{Name: "probe", Port: "wire", Quantity: sensors.Temperature},
			{Name: "so2", Port: "head", Quantity: sensors.GasLevel, Gas: sensors.SulfurDioxide, Noise: 0.2},
		},
	}, 0)
	if err != nil {
		t.Fatal(err)
	}
	channels := e.View().Channels
	want := []Setpoint{
		{Priority: Warning, Level: 0.2 * noiseFactor, Whose: "three times this cell's noise"},
		{Priority: Danger, Level: 1, Whose: "the EU 15-minute value (2017/164)"},
	}
	if len(channels) != 2 || channels[0].Setpoints != nil || len(channels[1].Setpoints) != 2 {
		t.Fatalf("channels %+v", channels)
	}
	got := channels[1].Setpoints
	got[0].Level = float64(int(got[0].Level*1000+0.5)) / 1000
	want[0].Level = float64(int(want[0].Level*1000+0.5)) / 1000
	if !reflect.DeepEqual(got, want) {
		t.Errorf("setpoints %+v, want %+v", got, want)
	}
}
