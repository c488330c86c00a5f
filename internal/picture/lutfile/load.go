package lutfile

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Load reads a look-up file of any kind this package knows. The content
// decides which it is; the name is only for messages.
//
// A Color Decision List with several corrections needs one of them chosen:
// Load("day.ccc#cc0002") takes the one with the id cc0002. A file whose own
// name is "day.ccc#cc0002" goes first.
func Load(path string) (*picture.Chain, error) {
	real, id := path, ""
	if _, err := os.Stat(path); err != nil {
		if i := strings.LastIndexByte(path, '#'); i > 0 {
			if _, err := os.Stat(path[:i]); err == nil {
				real, id = path[:i], path[i+1:]
			}
		}
	}
	f := file(real)
	info, err := os.Stat(real)
	if err != nil {
		return nil, fault.Wrap(err, fault.Input, "lut-missing", "check the name and the folder", "%s: cannot be opened: %v", real, plain(err))
	}
	if !info.Mode().IsRegular() {
		return nil, f.wrong(0, "lut-missing", "give a .cube, .clf, .cc, .ccc or .cdl file", "not a file")
	}
	if info.Size() > MaxFileBytes {
		return nil, f.wrong(0, "lut-too-large", hintExport, "%d MiB; the most a look-up file may have is %d", info.Size()>>20, MaxFileBytes>>20)
	}
	r, err := os.Open(real)
	if err != nil {
		return nil, fault.Wrap(err, fault.Input, "lut-missing", "check that you may read it", "%s: cannot be opened: %v", real, plain(err))
	}
	defer r.Close()

	br, err := f.open(r)
	if err != nil {
		return nil, err
	}
	if !isXML(br) {
		if id != "" {
			return nil, f.wrong(0, "lut-choice", "leave out #"+id, "holds one look-up table, without ids")
		}
		chain, err := readCube(br, f)
		return chain, f.nameKind(err)
	}
	root, err := f.readTree(br, "Info")
	if err != nil {
		return nil, err
	}
	switch root.name {
	case rootCLF:
		if id != "" {
			return nil, f.wrong(0, "lut-choice", "leave out #"+id, "holds one list of operations, without ids to choose from")
		}
		return f.clf(root)
	case rootCC, rootCCC, rootCDL:
		list, err := f.cdl(root)
		if err != nil {
			return nil, err
		}
		return f.choose(list, id)
	}
	return nil, f.wrong(root.line, "lut-kind", "give a .cube, .clf, .cc, .ccc or .cdl file",
		"XML, but neither %s nor an ASC Color Decision List: it begins with <%s>", clfStandards, shortName(root.name))
}

// nameKind adds, for text that isn't XML and not called .cube, that a cube was
// looked for.
func (f file) nameKind(err error) error {
	known, ok := fault.As(err)
	if !ok || strings.EqualFold(filepath.Ext(string(f)), ".cube") {
		return err
	}
	known.Hint = strings.TrimSuffix("it was read as a text cube, since it isn't XML; "+known.Hint, "; ")
	return known
}

// choose picks the correction with that id, or the only one.
func (f file) choose(list []Correction, id string) (*picture.Chain, error) {
	if id == "" && len(list) == 1 {
		return list[0].Chain(), nil
	}
	var ids []string
	for _, c := range list {
		if c.ID == "" {
			continue
		}
		if c.ID == id {
			return c.Chain(), nil
		}
		ids = append(ids, c.ID)
	}
	hint := "none of them has an id: give each one, or use a file with one correction"
	if len(ids) > 0 {
		const most = 8
		some := strings.Join(ids[:min(most, len(ids))], ", ")
		if len(ids) > most {
			some += fmt.Sprintf(" and %d more", len(ids)-most)
		}
		hint = fmt.Sprintf("name one as %s#%s; there are %s", f, ids[0], some)
		if near, ok := fault.Nearest(id, ids); ok {
			hint = fmt.Sprintf("did you mean #%s? there are %s", near, some)
		}
	}
	if id == "" {
		return nil, f.wrong(0, "lut-choice", hint, "holds %d corrections; one is needed", len(list))
	}
	return nil, f.wrong(0, "lut-choice", hint, "no correction has the id %s", shown([]byte(id)))
}
