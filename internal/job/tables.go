package job

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/renameio/v2/maybe"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// tablesFolder is where baked tables are kept from run to run; "" keeps none.
var tablesFolder string

// KeepTablesIn has renders and verifies keep the tables they bake in folder,
// which is made when it is needed. Nothing is lost when it is emptied. It is
// for a program's start.
func KeepTablesIn(folder string) { tablesFolder = folder }

// Kept tables are about 24 MB each. The ones used last stay.
const (
	tablesEnding = ".tables"
	tablesCount  = 6
	tablesLimit  = 64 << 20
)

// thisProgram is the sum of the running program's own file: another build may
// bake otherwise.
var thisProgram = sync.OnceValue(func() []byte {
	path, err := os.Executable()
	if err != nil {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return nil
	}
	return sum.Sum(nil)
})

// tables is the place of one program's tables; nil where none are kept. Tables
// depend on the program and on what a frame's codes stand for, not on its size.
func tables(p *picture.Program, f picture.Format) picture.Tables {
	build := thisProgram()
	if tablesFolder == "" || build == nil {
		return nil
	}
	text, err := json.Marshal(struct {
		Build   []byte
		Program *picture.Program
		Range   colour.Range
		Matrix  colour.MatrixCoefficients
		Bits    int
	}{build, p, f.Range, f.Matrix, f.Bits})
	if err != nil {
		return nil
	}
	sum := sha256.Sum256(text)
	return tableFile(filepath.Join(tablesFolder, hex.EncodeToString(sum[:16])+tablesEnding))
}

// tableFile implements picture.Tables.
type tableFile string

// Load implements picture.Tables.
func (t tableFile) Load() []byte {
	data, err := readFile(string(t), tablesLimit)
	if err != nil {
		return nil
	}
	now := time.Now()
	_ = os.Chtimes(string(t), now, now) // used: to be kept longer
	return data
}

// Keep implements picture.Tables. A folder that cannot be written to costs
// time, not the render.
func (t tableFile) Keep(data []byte) {
	folder := filepath.Dir(string(t))
	if os.MkdirAll(folder, 0o700) != nil || maybe.WriteFile(string(t), data, 0o600) != nil {
		return
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return
	}
	type aged struct {
		path string
		used time.Time
	}
	var old []aged
	for _, e := range entries {
		info, err := e.Info()
		if err == nil && strings.HasSuffix(e.Name(), tablesEnding) && info.Mode().IsRegular() {
			old = append(old, aged{filepath.Join(folder, e.Name()), info.ModTime()})
		}
	}
	slices.SortFunc(old, func(a, b aged) int { return cmp.Compare(b.used.UnixNano(), a.used.UnixNano()) })
	for _, a := range old[min(len(old), tablesCount):] {
		_ = os.Remove(a.path)
	}
}
