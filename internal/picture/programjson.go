package picture

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"lampwise/internal/fault"
)

// maxProgramBytes bounds a program's file: some cubes of the largest size,
// each number as it is printed.
const maxProgramBytes = 1 << 29

// programSchema is raised when a program's meaning changes.
const programSchema = 1

type programFile struct {
	Schema   int               `json:"schema"`
	Input    Input             `json:"input"`
	Ops      []json.RawMessage `json:"ops"`
	Vignette *Vignette         `json:"vignette,omitempty"`
	Output   Output            `json:"output"`
	Error    *Measured         `json:"error,omitempty"`
}

// newOp makes the empty op of a kind.
func newOp(kind string) Op {
	for _, op := range []Op{&Matrix{}, &Curves{}, &LUT3D{}, &Shift{}, &Compress{}, &Range{}, &Power{}, &LogOp{}, &CDL{}, &Norm{}, &Mix{}} {
		if op.Kind() == kind {
			return op
		}
	}
	return nil
}

// MarshalJSON implements json.Marshaler: each op is its fields after its kind.
func (p *Program) MarshalJSON() ([]byte, error) {
	f := programFile{Schema: programSchema, Input: p.Input, Ops: []json.RawMessage{}, Vignette: p.Vignette, Output: p.Output, Error: p.Error}
	for _, op := range p.Ops {
		raw, err := tagOp(op)
		if err != nil {
			return nil, err
		}
		f.Ops = append(f.Ops, raw)
	}
	return json.Marshal(f)
}

// tagOp writes an op: its kind, then its fields.
func tagOp(op Op) (json.RawMessage, error) {
	raw, err := json.Marshal(op)
	if err != nil {
		return nil, fmt.Errorf("op %s: %w", op.Kind(), err)
	}
	tagged := fmt.Appendf(nil, `{"kind":%q`, op.Kind())
	if len(raw) > len("{}") {
		tagged = append(tagged, ',')
	}
	return append(tagged, raw[1:]...), nil
}

// UnmarshalJSON implements json.Unmarshaler, strictly: an unknown field or
// kind, a number out of bounds or a count that doesn't fit is an error.
func (p *Program) UnmarshalJSON(data []byte) error {
	var f programFile
	if err := strict(data, &f); err != nil {
		return err
	}
	if f.Schema != programSchema {
		return fmt.Errorf("schema %d; this version reads schema %d", f.Schema, programSchema)
	}
	if len(f.Ops) > MaxOps {
		return fmt.Errorf("%d ops, at most %d are allowed", len(f.Ops), MaxOps)
	}
	out := Program{Input: f.Input, Vignette: f.Vignette, Output: f.Output, Error: f.Error}
	for i, raw := range f.Ops {
		op, err := readOp(raw)
		if err != nil {
			return fmt.Errorf("op %d: %w", i+1, err)
		}
		out.Ops = append(out.Ops, op)
	}
	if err := out.Check(); err != nil {
		return err
	}
	*p = out
	return nil
}

func readOp(raw json.RawMessage) (Op, error) {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil {
		return nil, err
	}
	var kind string
	if err := json.Unmarshal(fields["kind"], &kind); err != nil {
		return nil, errors.New(`no "kind"`)
	}
	op := newOp(kind)
	if op == nil {
		return nil, fmt.Errorf("unknown kind %q", kind)
	}
	delete(fields, "kind")
	rest, err := json.Marshal(fields)
	if err != nil {
		return nil, err
	}
	if err := strict(rest, op); err != nil {
		return nil, fmt.Errorf("%s: %w", kind, err)
	}
	return op, nil
}

func strict(data []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something follows the end of the object")
	}
	return nil
}

// ReadProgram reads a program's JSON; name stands for it in errors.
func ReadProgram(r io.Reader, name string) (*Program, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxProgramBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	const hint = "make the program again from its grade"
	if len(data) > maxProgramBytes {
		return nil, fault.New(fault.Input, "program-size", hint, "%s: longer than %d bytes", name, maxProgramBytes)
	}
	p := new(Program)
	if err := strict(data, p); err != nil {
		where := name
		if at, ok := errorOffset(err, len(data)); ok {
			where = fmt.Sprintf("%s:%d", name, 1+bytes.Count(data[:at], []byte("\n")))
		}
		return nil, fault.Wrap(err, fault.Input, "program-wrong", hint, "%s: %v", where, err)
	}
	return p, nil
}

// errorOffset is the byte at which the JSON reader stopped, as far as it says.
func errorOffset(err error, n int) (at int, ok bool) {
	var syntax *json.SyntaxError
	var typed *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return min(int(syntax.Offset), n), true
	case errors.As(err, &typed):
		return min(int(typed.Offset), n), true
	}
	return 0, false
}

// LoadProgram reads a program from a file.
func LoadProgram(path string) (*Program, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fault.Wrap(err, fault.Input, "program-open", "", "%v", err)
	}
	defer f.Close()
	return ReadProgram(f, path)
}
