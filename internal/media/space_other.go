//go:build !linux && !darwin && !windows

package media

import "errors"

// FreeSpace is not known on this system.
func FreeSpace(string) (int64, error) { return 0, errors.New("not known on this system") }
