package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
)

// dataFolder gives the folder in which the record is kept: the one asked for,
// or the platform's own place for the state of programs.
func dataFolder(asked string) (string, error) {
	if asked != "" {
		return asked, nil
	}
	if state := os.Getenv("XDG_STATE_HOME"); state != "" && runtime.GOOS == "linux" {
		return filepath.Join(state, "simmerline"), nil
	}
	var base string
	var err error
	switch runtime.GOOS {
	case "windows":
		base, err = os.UserCacheDir() // %LocalAppData%, which is not roamed
	case "darwin":
		base, err = os.UserConfigDir() // ~/Library/Application Support
	default:
		base, err = os.UserHomeDir()
		base = filepath.Join(base, ".local", "state")
	}
	if err != nil {
		return "", fmt.Errorf("no place for the record is known here: %w; name one with --data", err)
	}
	return filepath.Join(base, "simmerline"), nil
}
