//go:build !linux && !darwin && !windows

package record

import "errors"

// freeBytes is not known here; a full disk is then noticed by failing writes.
func freeBytes(string) (uint64, error) { return 0, errors.ErrUnsupported }
