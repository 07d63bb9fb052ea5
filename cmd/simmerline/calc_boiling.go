package main

import (
	"fmt"

	"simmerline/rules/boiling"
	"simmerline/sensors"
)

// BoilingCommand is `calc boiling`: altitude or pressure to the boiling point
// of water in °C, and a temperature to the pressure in kPa at which it boils.
type BoilingCommand struct {
	Altitude *float64 `xor:"from" placeholder:"METRES" help:"Height above sea level, -500 to 11000 m; the pressure there is the standard atmosphere's."`
	Pressure *float64 `xor:"from" placeholder:"KPA" help:"Station pressure in kPa: what a barometer at the bench shows, not reduced to sea level."`
	Celsius  *float64 `xor:"from" placeholder:"C" help:"The way back: the absolute pressure at which water boils at this temperature, 0 to 373.946 °C."`

	SeaLevelPressure *float64 `placeholder:"KPA" help:"With --altitude: the pressure of a weather report in kPa, which is reduced to sea level."`
}

// Help is what --help says beyond the flags.
func (*BoilingCommand) Help() string {
	return `Clean water; a bath of salts boils a little higher. Sources: IAPWS R7-97(2012), region 4, and the US Standard Atmosphere 1976.

  simmerline calc boiling --altitude 1609
  simmerline calc boiling --pressure 83.4
  simmerline calc boiling --altitude 1609 --sea-level-pressure 101.2
  simmerline calc boiling --celsius 94.62`
}

// Run prints the boiling point, or the pressure. A pressure that no open air has
// is converted as well, with a word: typed in hPa it is ten times too high.
func (cmd *BoilingCommand) Run(calc *CalcCommand, c console) error {
	if cmd.Altitude == nil && cmd.Pressure == nil && cmd.Celsius == nil {
		return wrongUse("nothing to convert: give one of --altitude, --pressure, --celsius")
	}
	if cmd.SeaLevelPressure != nil && cmd.Altitude == nil {
		return wrongUse("--sea-level-pressure needs --altitude: without the height it can't be turned into the pressure at the bench")
	}
	if cmd.Celsius != nil {
		pressure, err := boiling.SaturationPressure(sensors.Celsius(*cmd.Celsius))
		if err != nil {
			return err
		}
		return calc.print(c, quantity{Value: float64(pressure), Unit: "kPa", decimals: 2})
	}
	boils, err := cmd.boilingPoint()
	if err != nil {
		return err
	}
	if cmd.Pressure != nil {
		if _, err := boiling.AtStationPressure(sensors.Kilopascal(*cmd.Pressure)); err != nil {
			fmt.Fprintln(c.Err, "note:", err)
		}
	}
	return calc.print(c, quantity{Value: float64(boils), Unit: "°C", decimals: 2})
}

func (cmd *BoilingCommand) boilingPoint() (sensors.Celsius, error) {
	switch {
	case cmd.Pressure != nil:
		return boiling.SaturationTemperature(sensors.Kilopascal(*cmd.Pressure))
	case cmd.SeaLevelPressure != nil:
		return boiling.AtSeaLevelPressure(sensors.Kilopascal(*cmd.SeaLevelPressure), sensors.Metre(*cmd.Altitude))
	default:
		return boiling.AtAltitude(sensors.Metre(*cmd.Altitude))
	}
}
