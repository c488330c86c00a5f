package job

import (
	"bufio"
	"bytes"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/unit"
)

// DimmerTable is a typed dimmer curve.
type DimmerTable struct {
	File   string
	Dimmer *lamps.Dimmer
}

const (
	mostTableBytes = 1 << 16
	mostTableLines = 1024
)

// ReadDimmerTable reads a text file with a line for each setting: what the
// dimmer reads in per cent, and the light it gives in per cent of full (lux
// over lux at full). Empty lines and what follows a # are left out.
func ReadDimmerTable(path string) (*DimmerTable, error) {
	data, err := readFile(path, mostTableBytes)
	if err != nil {
		return nil, err
	}
	return parseDimmerTable(data, path)
}

func parseDimmerTable(data []byte, name string) (*DimmerTable, error) {
	const hint = "Two numbers a line, both in per cent: what the dimmer reads, and the light against full. For example: 50 38"
	var points []lamps.DimmerPoint
	lines := bufio.NewScanner(bytes.NewReader(data))
	for n := 1; lines.Scan(); n++ {
		if n > mostTableLines {
			return nil, fault.New(fault.Input, "dimmer-table", hint, "%s: has more than %d lines", name, mostTableLines)
		}
		text, _, _ := strings.Cut(lines.Text(), "#")
		fields := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\t' || r == ';' || r == ',' || r == '%' })
		if len(fields) == 0 {
			continue
		}
		if len(fields) != 2 {
			return nil, fault.New(fault.Input, "dimmer-table", hint, "%s:%d: has %d numbers, not 2", name, n, len(fields))
		}
		var v [2]float64
		for i, f := range fields {
			x, err := strconv.ParseFloat(f, 64)
			if err != nil || !(x >= 0 && x <= 100) {
				return nil, fault.New(fault.Input, "dimmer-table", hint, "%s:%d: %q is no per cent from 0 to 100", name, n, f)
			}
			v[i] = x / 100
		}
		points = append(points, lamps.DimmerPoint{Setting: v[0], Level: v[1]})
	}
	if err := lines.Err(); err != nil {
		return nil, fault.Wrap(err, fault.Input, "dimmer-table", hint, "%s: cannot be read as lines: %v", name, err)
	}
	if len(points) == 0 {
		return nil, fault.New(fault.Input, "dimmer-table", hint, "%s: holds no setting", name)
	}
	d, err := lamps.NewDimmer(points)
	if err != nil {
		if f, ok := fault.As(err); ok {
			return nil, fault.Wrap(err, f.Class, f.Code, f.Hint, "%s: %s", name, f.Message)
		}
		return nil, err
	}
	return &DimmerTable{File: name, Dimmer: d}, nil
}

// ParseDimmerReadings reads "key=50%, rim=70%": where dimmers stand.
func ParseDimmerReadings(text string) ([]DimmerReading, error) {
	const hint = `Write for example --dimmers "key=50%, rim=70%".`
	var out []DimmerReading
	seen := map[string]bool{}
	for _, part := range strings.Split(text, ",") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		name, value, ok := strings.Cut(part, "=")
		name = strings.TrimSpace(name)
		x, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(value), "%")), 64)
		if !ok || err != nil || !(x > 0 && x <= 100) {
			return nil, fault.New(fault.Usage, "dimmer-reading", hint, "%q is no dimmer reading above 0 and up to 100 %%", part)
		}
		if seen[name] {
			return nil, fault.New(fault.Usage, "dimmer-reading", hint, "%q stands there twice", name)
		}
		seen[name] = true
		out = append(out, DimmerReading{name, x / 100})
	}
	return out, nil
}

// ParseFilament reads "rim=2750": a lamp's colour temperature at full, in K.
func ParseFilament(text string) (lamp string, k unit.Kelvin, err error) {
	name, value, ok := strings.Cut(text, "=")
	x, bad := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(value), "K"), 64)
	if !ok || bad != nil || !(x >= 1800 && x <= 3700) {
		return "", 0, fault.New(fault.Usage, "filament", "Write for example --filament rim=2800; glowing wires have 1800 to 3700 K.", "%q is no lamp with a filament's colour temperature", text)
	}
	return strings.TrimSpace(name), unit.Kelvin(x), nil
}
