package convert

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"simmerline/sensors/sensorstest"
)

// row is one row of a reference table by the names of its head.
type row map[string]string

// readReference reads a table of testdata/reference; the comment lines on top
// of each name its sources.
func readReference(t *testing.T, name string, least int) []row {
	t.Helper()
	head, lines := sensorstest.Reference(t, "../../testdata/reference/"+name)
	if len(lines) < least {
		t.Fatalf("%s has only %d rows; some are lost", name, len(lines))
	}
	var rows []row
	for _, line := range lines {
		r := row{}
		for i, column := range head {
			r[column] = line[i]
		}
		rows = append(rows, r)
	}
	return rows
}

// lead marks the name of a check whose figure has not been seen in print again:
// a lead, not a proof.
func lead(r row, name string) string {
	if strings.Contains(r["verified"], "memory") {
		return "lead/" + name
	}
	return name
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g within %g", what, got, want, tolerance)
	}
}

// halfDigit is half of the last printed digit, and a hair.
func halfDigit(text string) float64 {
	_, decimals, _ := strings.Cut(text, ".")
	return 0.5001 * math.Pow(10, -float64(len(decimals)))
}
