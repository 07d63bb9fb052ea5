//go:build unix && !linux

package notify

import (
	"os/exec"
	"syscall"
)

// setGroup puts the player into a process group of its own.
func setGroup(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }
