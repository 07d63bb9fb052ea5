package main

import (
	"simmerline/sensors"
	"simmerline/sensors/convert"
)

// RTDCommand is `calc rtd`: ohms of a platinum thermometer to °C, and back.
type RTDCommand struct {
	Ohms    *float64 `xor:"from" placeholder:"OHM" help:"Resistance in ohm, to a temperature."`
	Celsius *float64 `xor:"from" placeholder:"C" help:"The way back: temperature in °C, -200 to 850, to a resistance."`
	R0      float64  `name:"r0" default:"100" placeholder:"OHM" help:"Resistance at 0 °C: 100 for a Pt100, 1000 for a Pt1000 (${default})."`
}

// Help is what --help says beyond the flags.
func (*RTDCommand) Help() string {
	return `The Callendar-Van Dusen equation of IEC 60751:2008, -200 to 850 °C.

  simmerline calc rtd --ohms 138.51
  simmerline calc rtd --ohms 1385.1 --r0 1000
  simmerline calc rtd --celsius 100`
}

// Run prints the temperature, or the resistance.
func (cmd *RTDCommand) Run(calc *CalcCommand, c console) error {
	if cmd.Ohms == nil && cmd.Celsius == nil {
		return wrongUse("nothing to convert: give --ohms or --celsius")
	}
	r0 := convert.Ohm(cmd.R0)
	if cmd.Celsius != nil {
		r, err := convert.RTDResistance(sensors.Celsius(*cmd.Celsius), r0)
		if err != nil {
			return err
		}
		return calc.print(c, quantity{Value: float64(r), Unit: "ohm", decimals: 2})
	}
	t, err := convert.RTDTemperature(convert.Ohm(*cmd.Ohms), r0)
	if err != nil {
		return err
	}
	return calc.print(c, quantity{Value: float64(t), Unit: "°C", decimals: 2})
}
