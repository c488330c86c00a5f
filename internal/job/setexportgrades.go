package job

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"lampwise/internal/grade"
	"lampwise/internal/picture/lutfile"
)

// setexportgrades.go takes reference grades, and the files that they load, into
// an exported set and out of it again.

const (
	carriedFolder = "grades"
	mostGrade     = 1 << 20 // bytes of a grade's text
)

// gradeCarrier puts grades into an archive, each once.
type gradeCarrier struct {
	write          func(name string, data []byte) error
	at             map[string]string // by the grade's file
	carried, notes []string
}

func (c *gradeCarrier) note(format string, args ...any) {
	c.notes = append(c.notes, fmt.Sprintf(format, args...))
}

// carry puts a grade and what it loads into the archive, and says where it
// lies there; empty: it can't be read, which a note tells. A file that the grade
// loads from elsewhere than beside it is laid beside it, and named so in the
// carried text.
func (c *gradeCarrier) carry(file string) (string, error) {
	if at, known := c.at[file]; known {
		return at, nil
	}
	c.at[file] = ""
	text, err := readFile(file, mostGrade)
	if err != nil {
		c.note("the reference grade %s is not in the file: it cannot be read", file)
		return "", nil
	}
	g, err := grade.Parse(text, file)
	if err != nil {
		c.note("the reference grade %s is not in the file: %v", file, err)
		return "", nil
	}
	folder := path.Join(carriedFolder, fmt.Sprint(len(c.carried)+1))
	for _, name := range loadedFiles(g) {
		from := name
		if !filepath.IsAbs(from) {
			from = filepath.Join(filepath.Dir(file), from)
		}
		data, err := readFile(from, lutfile.MaxFileBytes)
		if err != nil {
			c.note("%s, which %s loads, is not in the file: it cannot be read", from, filepath.Base(file))
			continue
		}
		to := filepath.ToSlash(filepath.Clean(name))
		if !filepath.IsLocal(name) {
			sum := sha256.Sum256(data)
			to = hex.EncodeToString(sum[:4]) + "-" + filepath.Base(name)
			text = renamedIn(text, name, to)
		}
		if err := c.write(path.Join(folder, to), data); err != nil {
			return "", err
		}
	}
	if _, err := grade.Parse(text, file); err != nil {
		return "", fmt.Errorf("export %s: %w", file, err)
	}
	at := path.Join(folder, filepath.Base(file))
	c.at[file], c.carried = at, append(c.carried, file)
	return at, c.write(at, text)
}

// loadedFiles are the files that a grade names, each once.
func loadedFiles(g *grade.Grade) (names []string) {
	seen := map[string]bool{"": true}
	put := func(name string) {
		if !seen[name] {
			seen[name], names = true, append(names, name)
		}
	}
	put(g.Convert.LUT)
	put(g.Look.LUT)
	if g.Saturation.CDL != nil {
		put(g.Saturation.CDL.File)
	}
	return names
}

// renamedIn replaces a file's name in a grade's text, however it is quoted.
func renamedIn(text []byte, from, to string) []byte {
	for _, quoted := range []string{`"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(from) + `"`, `'` + from + `'`} {
		text = bytes.ReplaceAll(text, []byte(quoted), []byte(`"`+to+`"`))
	}
	return text
}

// gradeUnpacker takes grades out of an archive, each once.
type gradeUnpacker struct {
	archive       *zip.Reader
	file          string            // the archive's name, for messages
	folder        string            // where what is taken out goes
	at            map[string]string // by the place in the archive
	placed, notes []string
}

// place says which file an episode's reference grade is here: where it was,
// when it stands there as it was exported, else as it is taken out.
func (u *gradeUnpacker) place(carried, was string) (string, error) {
	if carried == "" {
		return was, nil
	}
	if at, known := u.at[carried]; known {
		return at, nil
	}
	if !filepath.IsLocal(carried) || path.Dir(path.Dir(carried)) != carriedFolder {
		return "", badExport(u.file, "a grade lies in it as %q", carried)
	}
	text, err := entryOf(u.archive, u.file, carried, mostGrade)
	if err != nil {
		return "", err
	}
	g, err := grade.Parse(text, path.Base(carried))
	if err != nil {
		return "", badExport(u.file, "%v", err)
	}
	files := map[string][]byte{path.Base(carried): text}
	for _, name := range loadedFiles(g) {
		if !filepath.IsLocal(name) {
			u.notes = append(u.notes, fmt.Sprintf("%s loads %s, which is not in the file", path.Base(carried), name))
			continue
		}
		data, err := entryOf(u.archive, u.file, path.Join(path.Dir(carried), filepath.ToSlash(name)), lutfile.MaxFileBytes)
		if err != nil {
			u.notes = append(u.notes, fmt.Sprintf("%s loads %s, which is not in the file", path.Base(carried), name))
			continue
		}
		files[name] = data
	}
	if sameFiles(filepath.Dir(was), filepath.Base(was), path.Base(carried), files) {
		u.at[carried], u.placed = was, append(u.placed, was)
		return was, nil
	}
	// A folder named by what is in it: imported twice it is there once.
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(files)) {
		fmt.Fprintf(h, "%s %d\n%s", name, len(files[name]), files[name])
	}
	folder := filepath.Join(u.folder, hex.EncodeToString(h.Sum(nil)[:6]))
	for name, data := range files {
		to := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return "", storageFault(to, err)
		}
		if err := writeFile(to, true, data); err != nil {
			return "", err
		}
	}
	at := filepath.Join(folder, path.Base(carried))
	u.at[carried], u.placed = at, append(u.placed, at)
	return at, nil
}

// sameFiles says whether the files stand in a folder as they are, the one called
// as under another name.
func sameFiles(folder, name, as string, files map[string][]byte) bool {
	for f, data := range files {
		if f == as {
			f = name
		}
		if here, err := os.ReadFile(filepath.Join(folder, filepath.FromSlash(f))); err != nil || !bytes.Equal(here, data) {
			return false
		}
	}
	return true
}
