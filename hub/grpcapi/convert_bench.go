package grpcapi

import (
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub/bench"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

// benchToWire describes a bench: what its file says, and the lines across its
// baths, which the rules know.
func benchToWire(b *bench.Bench, v rules.View) *simmerlinepb.Bench {
	wire := &simmerlinepb.Bench{
		Name: b.Name, ShowFahrenheit: b.Units == bench.Fahrenheit,
		Site: &simmerlinepb.Site{BoilingCelsius: float64(v.Boiling), BoilingFrom: v.BoilingFrom},
	}
	for _, bath := range v.Baths {
		described := &simmerlinepb.Bath{
			Name: bath.Name, Label: bath.Title(), Kind: bathKinds.wire(bath.Kind), Probes: bath.Probes,
			LineCelsius: float64(bath.Line), LineFrom: bath.Whose,
		}
		if bath.HasRange() {
			described.RangeLowCelsius = proto.Float64(float64(bath.RangeLow))
			described.RangeHighCelsius = proto.Float64(float64(bath.RangeHigh))
		}
		wire.Baths = append(wire.Baths, described)
	}
	wired := make(map[string]sensors.Channel)
	for _, p := range b.Ports {
		for _, c := range p.Channels() {
			wired[c.Name] = c
		}
		wire.Ports = append(wire.Ports, describePort(p))
	}
	for _, c := range v.Channels {
		from := wired[c.Name]
		wire.Channels = append(wire.Channels, &simmerlinepb.Channel{
			Name: c.Name, Label: c.Title(), Port: c.Port, Quantity: quantities.wire(c.Quantity), Gas: gases.wire(c.Gas),
			Low: from.Low, High: from.High, SilentAfter: durationpb.New(c.SilentAfter), WarmUp: durationpb.New(from.WarmUp),
			Airflow: c.Airflow, NoisePpm: float64(c.Noise), Setpoints: setpointsToWire(c),
		})
	}
	return wire
}

// setpointsToWire leaves out what can't be a number of the channel's quantity,
// which no rule has.
func setpointsToWire(c rules.ChannelView) []*simmerlinepb.Setpoint {
	var wire []*simmerlinepb.Setpoint
	for _, s := range c.Setpoints {
		if level, err := sensors.NewValue(c.Quantity, s.Level); err == nil {
			wire = append(wire, &simmerlinepb.Setpoint{
				Priority: priorities.wire(s.Priority), Level: valueToWire(level), LevelFrom: s.Whose,
			})
		}
	}
	return wire
}

func setpointsFromWire(described *simmerlinepb.Channel) []rules.Setpoint {
	var setpoints []rules.Setpoint
	for _, s := range described.GetSetpoints() {
		setpoints = append(setpoints, rules.Setpoint{
			Priority: priorities.native(s.GetPriority()), Level: valueFromWire(s.GetLevel()).Number(), Whose: s.GetLevelFrom(),
		})
	}
	return setpoints
}

func describePort(p sensors.PortConfig) *simmerlinepb.Port {
	wire := &simmerlinepb.Port{Name: p.Name}
	switch {
	case p.Lines != nil:
		wire.Protocol = simmerlinepb.Protocol_PROTOCOL_LINES
	case p.Modbus != nil:
		wire.Protocol = simmerlinepb.Protocol_PROTOCOL_MODBUS_RTU
	}
	switch a := p.Address; {
	case a.USBSerial != "":
		wire.Address = "USB serial number " + a.USBSerial
	case a.ByID != "":
		wire.Address = "by-id link " + a.ByID
	default:
		wire.Address = a.Path
	}
	return wire
}

// viewFromWire gives what the rules said of a bench at the offset now.
func viewFromWire(b *simmerlinepb.Bench, state *simmerlinepb.BenchState, now time.Duration) rules.View {
	advice := state.GetAdvice()
	v := rules.View{
		At: now, Boiling: sensors.Celsius(b.GetSite().GetBoilingCelsius()), BoilingFrom: b.GetSite().GetBoilingFrom(),
		InUse: state.GetInUse(),
		Advice: rules.Advice{
			Headline: headlines.native(advice.GetHeadline()), Saying: sayingFromWire(advice.GetSaying()),
			Sentence: advice.GetSaying().GetSentence(), Alarm: advice.GetAlarm(), KeepAway: advice.GetKeepAway(),
		},
	}
	for _, described := range b.GetBaths() {
		bath := rules.BathView{
			Bath: rules.Bath{
				Name: described.GetName(), Label: described.GetLabel(), Kind: bathKinds.native(described.GetKind()),
				Probes: described.GetProbes(), RangeLow: sensors.Celsius(described.GetRangeLowCelsius()),
				RangeHigh: sensors.Celsius(described.GetRangeHighCelsius()),
			},
			Line: sensors.Celsius(described.GetLineCelsius()), Whose: described.GetLineFrom(), Age: -1,
		}
		if i := indexOf(state.GetBaths(), bathName, bath.Name); i >= 0 {
			wire := state.GetBaths()[i]
			bath.Reading, bath.Age = readingFromWire(wire.GetReading(), now)
			bath.Hot, bath.PerMinute = wire.GetHot(), wire.GetTrendKelvinPerMinute()
			bath.HasTrend = wire.TrendKelvinPerMinute != nil
		}
		v.AnyHot = v.AnyHot || bath.Hot
		v.Baths = append(v.Baths, bath)
	}
	for _, described := range b.GetChannels() {
		channel := rules.ChannelView{
			Channel: rules.Channel{
				Name: described.GetName(), Label: described.GetLabel(), Port: described.GetPort(),
				Quantity: quantities.native(described.GetQuantity()), Gas: gases.native(described.GetGas()),
				SilentAfter: described.GetSilentAfter().AsDuration(), Noise: sensors.PPM(described.GetNoisePpm()),
				Airflow: described.GetAirflow(),
			},
			Age: -1, Setpoints: setpointsFromWire(described),
		}
		if i := indexOf(state.GetReadings(), readingName, channel.Name); i >= 0 {
			channel.Reading, channel.Age = readingFromWire(state.GetReadings()[i], now)
		}
		v.Channels = append(v.Channels, channel)
	}
	for _, wire := range state.GetAlarms() {
		a := alarmFromWire(v, wire)
		if a.State.Sounds() && a.Priority >= rules.Warning {
			v.Sounding = max(v.Sounding, a.Priority)
		}
		v.Alarms = append(v.Alarms, a)
	}
	return v
}
