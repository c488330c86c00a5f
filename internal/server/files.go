package server

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// A file is named to the page by the number of its folder and its path inside:
// "0/episode-1.mov". Nothing else is ever opened.

// ListedFile is a file in an opened folder.
type ListedFile struct {
	ID     string `json:"id"`
	Name   string `json:"name"` // path inside its folder
	Folder int    `json:"folder"`
	Bytes  int64  `json:"bytes"`
	Kind   string `json:"kind"` // clip, still, grade, plan, lut
}

const (
	maxListed = 2000 // files told of
	maxDepth  = 3    // folders deep
)

var kinds = map[string]string{
	".mov": "clip", ".mp4": "clip", ".mkv": "clip", ".mxf": "clip", ".m4v": "clip", ".avi": "clip",
	".png": "still", ".tif": "still", ".tiff": "still", ".jpg": "still", ".jpeg": "still",
	".toml": "grade", ".cube": "lut", ".clf": "lut",
}

func realFolders(folders []string) ([]string, error) {
	var out []string
	for _, f := range folders {
		abs, err := filepath.Abs(f)
		if err == nil {
			abs, err = filepath.EvalSymlinks(abs)
		}
		if err != nil {
			return nil, fault.Wrap(err, fault.Input, "no-folder", "Name a folder that exists.", "%s: no such folder", f)
		}
		if st, err := os.Stat(abs); err != nil || !st.IsDir() {
			return nil, fault.New(fault.Input, "no-folder", "Name the folder your clips are in.", "%s: is not a folder", f)
		}
		out = append(out, abs)
	}
	return out, nil
}

// list tells the files in the opened folders that the page can use.
func (s *Server) list() []ListedFile {
	out := []ListedFile{}
	for n, root := range s.folders {
		_ = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			rel, e := filepath.Rel(root, path)
			if err != nil || e != nil {
				return nil //nolint:nilerr // what can't be read isn't listed
			}
			if d.IsDir() {
				if rel != "." && (strings.HasPrefix(d.Name(), ".") || strings.Count(rel, string(filepath.Separator)) >= maxDepth) {
					return fs.SkipDir
				}
				return nil
			}
			kind := kinds[strings.ToLower(filepath.Ext(path))]
			if kind == "" || strings.HasPrefix(d.Name(), ".") || !d.Type().IsRegular() {
				return nil
			}
			if len(out) >= maxListed {
				return fs.SkipAll
			}
			f := ListedFile{ID: strconv.Itoa(n) + "/" + filepath.ToSlash(rel), Name: filepath.ToSlash(rel), Folder: n, Kind: kind}
			if kind == "grade" && job.IsPlan(path) {
				f.Kind = "plan"
			}
			if st, err := d.Info(); err == nil {
				f.Bytes = st.Size()
			}
			out = append(out, f)
			return nil
		})
	}
	slices.SortFunc(out, func(a, b ListedFile) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// path is the file that an id names; it may not exist yet, its folder must.
func (s *Server) path(id string) (string, error) {
	outside := fault.New(fault.Usage, "outside", "Start lampwise serve with the folder it lies in.", "%q lies in no folder that was opened", id)
	n, rel, ok := strings.Cut(id, "/")
	i, err := strconv.Atoi(n)
	if !ok || err != nil || i < 0 || i >= len(s.folders) || !filepath.IsLocal(filepath.FromSlash(rel)) {
		return "", outside
	}
	full := filepath.Join(s.folders[i], filepath.FromSlash(rel))
	folder, err := filepath.EvalSymlinks(filepath.Dir(full))
	if err != nil {
		return "", fault.Wrap(err, fault.Input, "no-folder", "Was it moved or renamed? Load the page again.", "%s: its folder is gone", rel)
	}
	real := filepath.Join(folder, filepath.Base(full))
	if to, err := filepath.EvalSymlinks(real); err == nil {
		real = to
	}
	if inside, err := filepath.Rel(s.folders[i], real); err != nil || !filepath.IsLocal(inside) {
		return "", outside
	}
	return real, nil
}

// there is path for a file that is to be read: it must stand there.
func (s *Server) there(id string) (string, error) {
	path, err := s.path(id)
	if err != nil {
		return "", err
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		_, rel, _ := strings.Cut(id, "/")
		return "", fault.Wrap(err, fault.Input, "gone", "Was it moved or renamed, or its disk unplugged? Put it back and the page goes on by itself, or choose another.", "%s is not in its folder any more", rel)
	}
	return path, nil
}

// optional is there for an id that may be empty.
func (s *Server) optional(id string) (string, error) {
	if id == "" {
		return "", nil
	}
	return s.there(id)
}
