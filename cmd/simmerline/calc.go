package main

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// CalcCommand groups the conversions. Each prints one number with its unit; a
// value outside the range of a conversion's source ends with exit code 1.
type CalcCommand struct {
	JSON bool `name:"json" help:"Print {\"value\": …, \"unit\": \"…\"} with all digits."`

	Boiling      BoilingCommand      `cmd:"" help:"Boiling point of water from altitude or pressure, and back."`
	Thermocouple ThermocoupleCommand `cmd:"" help:"Temperature from a thermocouple's voltage, and back."`
	RTD          RTDCommand          `cmd:"" name:"rtd" help:"Temperature from a platinum thermometer's resistance, and back."`
	Units        UnitsCommand        `cmd:"" help:"Gas level in ppm to mg/m³, and back."`
}

// quantity is the answer of a conversion.
type quantity struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
	// decimals is how many the printed number has; JSON gives all.
	decimals int
}

// text is the number and its unit, as "94.62 °C". What rounds to nothing has no
// sign.
func (q quantity) text() string {
	number := strconv.FormatFloat(q.Value, 'f', q.decimals, 64)
	if strings.Trim(number, "-0.") == "" {
		number = strings.TrimPrefix(number, "-")
	}
	return number + " " + q.Unit
}

// print writes the answer the way that was asked for.
func (calc *CalcCommand) print(c console, q quantity) error {
	line := q.text()
	if calc.JSON {
		encoded, err := json.Marshal(q)
		if err != nil {
			return fmt.Errorf("calc: print the answer: %w", err)
		}
		line = string(encoded)
	}
	if _, err := fmt.Fprintln(c.Out, line); err != nil {
		return fmt.Errorf("calc: print the answer: %w", err)
	}
	return nil
}
