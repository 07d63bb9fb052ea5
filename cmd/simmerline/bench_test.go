package main

import "testing"

func TestBenchIsPutAwayAndTakenIntoUse(t *testing.T) {
	s := serve(t)
	s.hear(map[string]float64{"hot": 60, "h2s": 0})
	walk(t, s, []step{
		{line: "bench|away|--by|Maren", code: exitNotWell,
			said: "simmerline: the bench can be put away when every bath is below 40.0 °C, and hot sulfide is at 60.0 °C\n"},
	})
	s.hear(map[string]float64{"hot": 25, "h2s": 0})
	walk(t, s, []step{
		{line: "bench|away|--by|Maren", out: `The bench is put away: its sensors call nobody until a bath warms or gas is found.
recorded: synced (it outlives a power cut)
`},
		{line: "bench|use|--by|Ilo", out: `The bench is in use.
recorded: synced (it outlives a power cut)
`},
		{line: "bench|away|--by| ", code: exitWrongUse,
			said: "simmerline: --by is missing: say who asks\nRun \"simmerline bench away --help\" for how it is used.\n"},
	})
}
