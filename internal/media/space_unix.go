//go:build linux || darwin

package media

import "syscall"

// FreeSpace is the room for an ordinary user on the folder's disk, in bytes.
func FreeSpace(dir string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}
