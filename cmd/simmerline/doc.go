// Command simmerline is the bench-sensor hub and every tool around it, in one
// binary: each subcommand is one small file of this package, and commands.go
// lists them.
//
// main.go is wiring only. A command reads its flags from its own struct, gets
// the console it may use as an argument of its Run method, and says how it went
// by the error it returns; console.go turns that into the exit code. Nothing
// else of this module imports anything under cmd.
//
// The package may import everything. The simulated bench is linked by the demo
// command only.
package main
