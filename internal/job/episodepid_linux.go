package job

import (
	"errors"
	"io/fs"
	"os"
	"strconv"
)

// processGone says whether there is surely no process of this number.
func processGone(pid int) bool {
	_, err := os.Stat("/proc/" + strconv.Itoa(pid))
	return errors.Is(err, fs.ErrNotExist)
}
