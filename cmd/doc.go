// Package cmd holds the programs, one folder each, and the house rules.
//
// The house rules are the tests of this folder: they parse every Go file of the
// module and hold it to the import table (house_imports_test.go), the calls
// that some packages must not make (house_calls_test.go), and what every file
// and folder owes its reader (house_files_test.go). They run with `go test
// ./cmd`. To change a rule, change its table there, in the same commit as the
// code that needs it.
//
// Nothing of this module imports anything under cmd, and this package has no
// code of its own.
package cmd
