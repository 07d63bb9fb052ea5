package main

import (
	"simmerline/sensors"
	"simmerline/sensors/convert"
)

// ThermocoupleCommand is `calc thermocouple`: millivolts to °C, and back.
type ThermocoupleCommand struct {
	Type         string   `required:"" placeholder:"LETTER" help:"Type of thermocouple: B, E, J, K, N, R, S or T."`
	MV           *float64 `xor:"from" name:"mv" placeholder:"MV" help:"Voltage in mV, to a temperature."`
	Celsius      *float64 `xor:"from" placeholder:"C" help:"The way back: temperature of the measuring junction in °C, to a voltage."`
	ColdJunction float64  `default:"0" placeholder:"C" help:"Temperature of the reference junction in °C (${default})."`
}

// Help is what --help says beyond the flags.
func (*ThermocoupleCommand) Help() string {
	return `ITS-90 reference functions; a voltage is converted inside the range for which an inverse is published (type K: -200 to 1372 °C). Source: NIST Monograph 175, IEC 60584-1.

  simmerline calc thermocouple --type K --mv 4.096
  simmerline calc thermocouple --type K --mv 3.096 --cold-junction 25
  simmerline calc thermocouple --type K --celsius 100`
}

// Run prints the temperature, or the voltage.
func (cmd *ThermocoupleCommand) Run(calc *CalcCommand, c console) error {
	if cmd.MV == nil && cmd.Celsius == nil {
		return wrongUse("nothing to convert: give --mv or --celsius")
	}
	tc, err := convert.ParseThermocouple(cmd.Type)
	if err != nil {
		return wrongUse("--type: %w", err)
	}
	cold := sensors.Celsius(cmd.ColdJunction)
	if cmd.Celsius != nil {
		emf, err := tc.EMF(sensors.Celsius(*cmd.Celsius), cold)
		if err != nil {
			return err
		}
		return calc.print(c, quantity{Value: float64(emf), Unit: "mV", decimals: 3})
	}
	t, err := tc.Temperature(convert.Millivolt(*cmd.MV), cold)
	if err != nil {
		return err
	}
	return calc.print(c, quantity{Value: float64(t), Unit: "°C", decimals: 2})
}
