package simbench

import _ "embed"

//go:embed pennywhistle.yaml
var benchFile string

// BenchFile is the bench file of the story, to be read by the same parser as
// any other. Its device addresses exist nowhere: whoever runs the bench gives
// each port the node, or the link, that a Bench has for it.
func BenchFile() []byte { return []byte(benchFile) }
