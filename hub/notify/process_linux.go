package notify

import (
	"os/exec"
	"syscall"
)

// setGroup puts the player into a process group of its own. Should the hub be
// killed outright, the kernel ends the player too (strictly, when the thread
// that started it ends; should that ever come early, the sounder sees a failed
// player and goes on by the next way).
func setGroup(c *exec.Cmd) {
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}
