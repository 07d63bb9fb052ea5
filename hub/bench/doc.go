// Package bench reads the bench file: the one file in which a person says what
// stands on the bench, where it is plugged in, and which rules to change.
//
// Parse is strict. It refuses what it does not know, and reports every fault in
// one go as file:line:column with the mend, so that one round of editing
// is enough. A bench that comes out of it can be run as it is: its ports can be
// opened, its setup is accepted by the rules engine. What may be run but is
// worth saying (a wire without a check, no fume head) comes out as cautions.
// Explain puts an accepted bench into plain lines.
//
// The way through the package, a file each: text → tree (YAML with positions) →
// section (one mapping, each key taken once) → site, ports, channels, baths,
// rules → cross (what one part asks of another) → cautions → explain.
//
// The package is pure: it is given the text and touches no file. It imports
// rules, rules/boiling and sensors, and a YAML parser for the tree alone.
package bench
