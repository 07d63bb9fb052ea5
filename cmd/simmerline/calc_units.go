package main

import (
	"math"
	"strings"

	"simmerline/sensors"
	"simmerline/sensors/convert"
)

// UnitsCommand is `calc units`: a gas level in ppm to mg/m³, and back.
type UnitsCommand struct {
	Gas  string   `required:"" placeholder:"GAS" help:"h2s, so2, nh3 or co."`
	PPM  *float64 `xor:"from" name:"ppm" placeholder:"PPM" help:"Level in ppm by volume, to mg/m³."`
	MgM3 *float64 `xor:"from" name:"mg-m3" placeholder:"MG" help:"The way back: level in mg/m³, to ppm."`
}

// Help is what --help says beyond the flags.
func (*UnitsCommand) Help() string {
	return `In air at 25 °C and 101.325 kPa (24.465 L/mol). Printed limits are rounded, and those of the EU stated at 20 °C: compare in ppm.

  simmerline calc units --gas h2s --ppm 10
  simmerline calc units --gas h2s --mg-m3 14`
}

// Run prints the level in the other unit.
func (cmd *UnitsCommand) Run(calc *CalcCommand, c console) error {
	if cmd.PPM == nil && cmd.MgM3 == nil {
		return wrongUse("nothing to convert: give --ppm or --mg-m3")
	}
	gas, known := sensors.ParseGas(strings.ToLower(cmd.Gas))
	if _, hasMass := convert.MolarMass(gas); !known || !hasMass {
		return wrongUse("--gas: no molar mass is known for %q: give one of h2s, so2, nh3, co", cmd.Gas)
	}
	if cmd.PPM != nil {
		mass, err := convert.ByMass(gas, sensors.PPM(*cmd.PPM))
		if err != nil {
			return err
		}
		return calc.print(c, quantity{Value: float64(mass), Unit: "mg/m³", decimals: levelDecimals(float64(mass))})
	}
	level, err := convert.ByVolume(gas, convert.MilligramPerCubicMetre(*cmd.MgM3))
	if err != nil {
		return err
	}
	return calc.print(c, quantity{Value: float64(level), Unit: "ppm", decimals: levelDecimals(float64(level))})
}

// levelDecimals gives a level four digits that count, however small it is, and
// two decimals at least: gas levels run from thousandths to thousands.
func levelDecimals(level float64) int {
	if level <= 0 {
		return 2
	}
	// Beyond nine decimals a level is nothing; the bound keeps the line short.
	return min(max(2, 3-int(math.Floor(math.Log10(level)))), 9)
}
