//go:build unix

package notify

import (
	"os/exec"
	"os/signal"
	"syscall"
)

// killGroup ends the player and all that it started. Its group may be empty
// already, which is no fault.
func killGroup(c *exec.Cmd) { _ = syscall.Kill(-c.Process.Pid, syscall.SIGKILL) }

// allowBell keeps the terminal from stopping the whole hub for ringing it from
// the background, as one set to "tostop" would.
func allowBell() { signal.Ignore(syscall.SIGTTOU) }
