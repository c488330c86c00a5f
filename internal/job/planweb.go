package job

import (
	"fmt"
	"path/filepath"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/light"
	"lampwise/internal/light/lumfile"
)

// loadWebs reads the photometric files that a plan names, once each; their
// names are taken from the plan's folder.
func loadWebs(p *light.Plan, dir string) (map[string]light.Distribution, error) {
	out := map[string]light.Distribution{}
	for i := range p.Lamps {
		name := p.Lamps[i].Photometry
		if name == "" || out[name] != nil {
			continue
		}
		path := name
		if !filepath.IsAbs(path) {
			path = filepath.Join(dir, filepath.FromSlash(name))
		}
		w, err := readWeb(path)
		if err != nil {
			return nil, err
		}
		out[name] = w
	}
	return out, nil
}

// inFile turns a fault of another package into one of a plan's file.
func inFile(file string, err error) error {
	if f, ok := fault.As(err); ok && !strings.HasPrefix(f.Message, file) {
		return fault.Wrap(err, f.Class, f.Code, f.Hint, "%s: %s", file, f.Message)
	}
	return fmt.Errorf("%s: %w", file, err)
}

// readWeb reads one photometric file.
func readWeb(path string) (light.Distribution, error) {
	w, err := lumfile.Load(path)
	if err != nil {
		return nil, err
	}
	return w, nil
}
