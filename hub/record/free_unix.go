//go:build linux || darwin

package record

import "golang.org/x/sys/unix"

// freeBytes tells how many bytes an ordinary user may still write in a folder.
func freeBytes(dir string) (uint64, error) {
	var stat unix.Statfs_t
	if err := unix.Statfs(dir, &stat); err != nil {
		return 0, err
	}
	return stat.Bavail * uint64(stat.Bsize), nil
}
