package job

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"lampwise/internal/book"
	"lampwise/internal/grade"
	"lampwise/internal/picture/lutfile"
)

// setexportgrades.go takes reference grades, and the files that they load, into
// an exported set and out of it again.

const (
	carriedFolder = "grades"
	mostGrade     = 1 << 20 // bytes of a grade's text
)

// gradeCarrier puts grades into an archive, each once. What lay in one folder
// lies in one there, too, with the LUTs that were beside it.
type gradeCarrier struct {
	write          func(name string, data []byte) error
	at             map[string]string // by the grade's file: its place in the archive
	folders        map[string]string // by the folder it was in
	written        map[string]bool   // places in the archive
	carried, notes []string
}

func newGradeCarrier(write func(name string, data []byte) error) *gradeCarrier {
	return &gradeCarrier{write: write, at: map[string]string{}, folders: map[string]string{}, written: map[string]bool{}}
}

func (c *gradeCarrier) note(format string, args ...any) {
	c.notes = append(c.notes, fmt.Sprintf(format, args...))
}

// put writes one entry, unless it is there.
func (c *gradeCarrier) put(name string, data []byte) error {
	if c.written[name] {
		return nil
	}
	c.written[name] = true
	return c.write(name, data)
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
		c.note("the grade %s is not in the file: it cannot be read", file)
		return "", nil
	}
	g, err := grade.Parse(text, file)
	if err != nil {
		c.note("the grade %s is not in the file: %v", file, err)
		return "", nil
	}
	folder := c.folders[filepath.Dir(file)]
	if folder == "" {
		folder = path.Join(carriedFolder, fmt.Sprint(len(c.folders)+1))
		c.folders[filepath.Dir(file)] = folder
	}
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
			// However the name was written: the carried grade loads its files or it is said.
			if now, err := grade.Parse(text, file); err != nil || !slices.Contains(loadedFiles(now), to) {
				c.note("%s loads %s by a name that could not be changed: write it plainly in the grade and export again", filepath.Base(file), from)
			}
		}
		if err := c.put(path.Join(folder, to), data); err != nil {
			return "", err
		}
	}
	if _, err := grade.Parse(text, file); err != nil {
		return "", fmt.Errorf("export %s: %w", file, err)
	}
	at := path.Join(folder, filepath.Base(file))
	c.at[file], c.carried = at, append(c.carried, file)
	return at, c.put(at, text)
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

// gradeUnpacker takes grades out of an archive, folder by folder.
type gradeUnpacker struct {
	archive       *zip.Reader
	file          string            // the archive's name, for messages
	folder        string            // where what is taken out goes
	at            map[string]string // by the folder in the archive: where it is here
	seen          map[string]bool   // grades
	placed, notes []string
}

// place says which file a carried grade is here: where it was, when it stands
// there as it was, else as it is taken out.
func (u *gradeUnpacker) place(carried, was string) (string, error) {
	if carried == "" {
		return was, nil
	}
	from := path.Dir(carried)
	if !filepath.IsLocal(carried) || path.Dir(from) != carriedFolder {
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
	if filepath.IsAbs(was) && u.stands(text, g, from, was) {
		u.told(was)
		return was, nil
	}
	if _, known := u.at[from]; !known {
		if u.at[from], err = u.unpack(from); err != nil {
			return "", err
		}
	}
	at := filepath.Join(u.at[from], path.Base(carried))
	if u.told(at) {
		for _, name := range loadedFiles(g) {
			if absent(filepath.Join(u.at[from], name)) == nil || filepath.IsAbs(name) {
				u.notes = append(u.notes, fmt.Sprintf("%s loads %s, which was not in the file", path.Base(carried), name))
			}
		}
	}
	return at, nil
}

// told lists a grade, and says whether it wasn't yet.
func (u *gradeUnpacker) told(at string) bool {
	if u.seen[at] {
		return false
	}
	u.seen[at], u.placed = true, append(u.placed, at)
	return true
}

// stands says whether a grade and what it loads stand where they were, as they
// were.
func (u *gradeUnpacker) stands(text []byte, g *grade.Grade, from, was string) bool {
	if here, err := os.ReadFile(was); err != nil || !bytes.Equal(here, text) {
		return false
	}
	for _, name := range loadedFiles(g) {
		want, err := entryOf(u.archive, u.file, path.Join(from, filepath.ToSlash(name)), lutfile.MaxFileBytes)
		if err != nil {
			return false
		}
		if here, err := os.ReadFile(filepath.Join(filepath.Dir(was), name)); err != nil || !bytes.Equal(here, want) {
			return false
		}
	}
	return true
}

// unpack takes a folder of the archive out into one named by what is in it, so
// that what is imported twice is there once.
func (u *gradeUnpacker) unpack(from string) (string, error) {
	files, size := map[string][]byte{}, 0
	for _, f := range u.archive.File {
		name, inside := strings.CutPrefix(f.Name, from+"/")
		if !inside || strings.HasSuffix(name, "/") {
			continue
		}
		if !filepath.IsLocal(filepath.FromSlash(name)) {
			return "", badExport(u.file, "a file lies in it as %q", f.Name)
		}
		data, err := entryOf(u.archive, u.file, f.Name, lutfile.MaxFileBytes)
		if err != nil {
			return "", err
		}
		if size += len(data); size > mostExport {
			return "", badExport(u.file, "its grades are too large")
		}
		files[name] = data
	}
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
	return folder, nil
}

// placeMatched places the grade that was matched to a clip, and writes down where
// it is now.
func (u *gradeUnpacker) placeMatched(c *book.EpisodeClip, carried string) error {
	if carried == "" {
		return nil
	}
	found, err := answerIn(*c)
	if err != nil || found == nil {
		return badExport(u.file, "a grade is matched to clip %d, of which nothing was found", c.Number)
	}
	at, err := u.place(carried, found.Grade)
	if err != nil || at == found.Grade {
		return err
	}
	found.Grade = at
	c.Answer, err = json.Marshal(found)
	return err
}
