//go:build !unix

package notify

import "os/exec"

// There are no process groups here; the players used here start nothing.
func setGroup(*exec.Cmd) {}

func killGroup(c *exec.Cmd) { _ = c.Process.Kill() }

func allowBell() {}
