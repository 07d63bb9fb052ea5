package serialport

import "fmt"

// nodeAccess is what is known of who may open a device node.
type nodeAccess struct {
	device    string
	group     string // that owns it
	rootGroup bool   // that group is root's own
	groupMay  bool   // the group may read and write
	inNow     bool   // this process is in the group
	inNext    bool   // this user is, from the next login on
	usual     string // the group that serial ports usually belong to here
}

// sentence says why the node can't be opened and gives the command that mends it.
func (n nodeAccess) sentence() string {
	switch {
	case n.rootGroup || n.group == "" || !n.groupMay:
		return fmt.Sprintf("%s is open to root only: run  sudo chgrp %s %s && sudo chmod g+rw %s  (until it is next plugged in)",
			n.device, n.usual, n.device, n.device)
	case n.inNow:
		return fmt.Sprintf("%s belongs to group %s, and the hub is in it, yet it is refused: a container or service setting forbids it; allow it the device there",
			n.device, n.group)
	case n.inNext:
		return fmt.Sprintf("%s belongs to group %s, and you have joined it since you logged in: log out and in again, or restart the service",
			n.device, n.group)
	default:
		return fmt.Sprintf("%s belongs to group %s, and the hub is not in it: run  sudo usermod -aG %s \"$USER\"  then log out and in again",
			n.device, n.group, n.group)
	}
}
