//go:build !unix

package simbench

func openWire() (wireEnd, error) { return nil, ErrNoPseudoTerminals }
