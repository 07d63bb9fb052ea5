//go:build unix

package serialport

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/user"
	"slices"
	"strconv"
	"syscall"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// errNoDevice is a node whose device has gone.
var errNoDevice error = syscall.ENXIO

// errLocked is a lock that another program holds.
var errLocked error = syscall.EWOULDBLOCK

// selectLimit is the number of descriptors that the library's wait can tell
// apart; a port beyond it could not be read.
const selectLimit = 1024

// nodeLock is the lock on a device node: released when it is closed.
type nodeLock struct{ descriptor int }

func (l nodeLock) Close() error { return unix.Close(l.descriptor) }

// lockDevice opens a device node once more and locks it for this program. Other
// programs that lock serial ports with flock(2) respect it, and this one theirs.
func lockDevice(device string) (io.Closer, error) {
	const flags = unix.O_RDWR | unix.O_NOCTTY | unix.O_NONBLOCK | unix.O_CLOEXEC
	descriptor, err := unix.Open(device, flags, 0)
	if errors.Is(err, unix.ENODEV) {
		return nil, errNoDevice
	}
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(descriptor, unix.LOCK_EX|unix.LOCK_NB); err != nil {
		unix.Close(descriptor)
		return nil, err
	}
	return nodeLock{descriptor}, nil
}

// openKept opens the port and keeps it to this process. The library leaves its
// descriptor open for child programs, such as the sound player, which would
// then hold the device after we have closed it.
func openKept(device string, mode *serial.Mode, lock io.Closer) (rawPort, error) {
	syscall.ForkLock.RLock() // no child begins between open and mark
	defer syscall.ForkLock.RUnlock()
	port, err := serial.Open(device, mode)
	if err != nil {
		return nil, err
	}
	locked := lock.(nodeLock).descriptor
	if err := withinSelect(locked); err != nil {
		return nil, errors.Join(err, port.Close())
	}
	closeOnExec(locked)
	return port, nil
}

// withinSelect refuses when so many descriptors are open that the library's
// wait would run out of its table: the lowest free one shows it.
func withinSelect(open int) error {
	free, err := unix.Dup(open)
	if err != nil {
		return err
	}
	unix.Close(free)
	if free >= selectLimit {
		return fmt.Errorf("over %d files are open in this program", selectLimit)
	}
	return nil
}

// closeOnExec marks every descriptor of the device that the given one is of.
func closeOnExec(of int) {
	var ours, other unix.Stat_t
	if unix.Fstat(of, &ours) != nil {
		return
	}
	entries, err := os.ReadDir("/dev/fd")
	if err != nil {
		return // no such folder here: the children keep it, as they always did
	}
	for _, entry := range entries {
		descriptor, err := strconv.Atoi(entry.Name())
		if err == nil && unix.Fstat(descriptor, &other) == nil && other.Mode == ours.Mode && other.Rdev == ours.Rdev && other.Ino == ours.Ino {
			unix.CloseOnExec(descriptor)
		}
	}
}

// Present says whether the system still knows a device node.
func Present(device string) bool {
	_, err := os.Stat(device)
	return !errors.Is(err, os.ErrNotExist)
}

// mayOpen says whether this process may read and write a device node.
func mayOpen(device string) bool { return unix.Access(device, unix.R_OK|unix.W_OK) == nil }

// deniedSentence tells which group owns a device node, and the command that
// mends it.
func deniedSentence(device string) string {
	info, err := os.Stat(device)
	if err != nil {
		return fmt.Sprintf("%s may not be opened (%v): ask whoever looks after this computer", device, err)
	}
	node := nodeAccess{device: device, groupMay: info.Mode().Perm()&0o060 == 0o060, usual: "dialout"}
	if _, err := user.LookupGroup("dialout"); err != nil {
		node.usual = "uucp"
	}
	if stat, ok := info.Sys().(*syscall.Stat_t); ok {
		id := strconv.Itoa(int(stat.Gid))
		if group, err := user.LookupGroupId(id); err == nil {
			node.group = group.Name
		} else {
			node.group = id
		}
		node.rootGroup = stat.Gid == 0
		if groups, err := os.Getgroups(); err == nil {
			node.inNow = slices.Contains(groups, int(stat.Gid))
		}
		if me, err := user.Current(); err == nil {
			if ids, err := me.GroupIds(); err == nil {
				node.inNext = slices.Contains(ids, id)
			}
		}
	}
	return node.sentence()
}
