package picture

import (
	"encoding/json"
	"errors"
	"fmt"
)

// Mix is a list of ops at part strength: out = in + Strength·(Ops(in) − in).
// For one 3-D LUT use its own Strength.
type Mix struct {
	Ops      []Op
	Strength float64 // 0..1
}

// Kind implements Op.
func (m *Mix) Kind() string { return "mix" }

// Apply implements Op.
func (m *Mix) Apply(v [3]float64) [3]float64 {
	to := v
	for _, op := range m.Ops {
		to = op.Apply(to)
	}
	for ch := range v {
		v[ch] = total(v[ch] + m.Strength*(to[ch]-v[ch]))
	}
	return v
}

// Check implements Checker. A mix inside a mix is refused, so that a program
// is no deeper than it looks.
func (m *Mix) Check() error {
	if !(m.Strength >= 0 && m.Strength <= 1) {
		return fmt.Errorf("strength %v is not within 0 to 1", m.Strength)
	}
	for _, op := range m.Ops {
		if _, nested := op.(*Mix); nested {
			return errors.New("a mix holds another mix")
		}
	}
	return CheckOps(m.Ops)
}

type mixFile struct {
	Ops      []json.RawMessage `json:"ops"`
	Strength float64           `json:"strength"`
}

// MarshalJSON implements json.Marshaler.
func (m *Mix) MarshalJSON() ([]byte, error) {
	f := mixFile{Ops: []json.RawMessage{}, Strength: m.Strength}
	for _, op := range m.Ops {
		raw, err := tagOp(op)
		if err != nil {
			return nil, err
		}
		f.Ops = append(f.Ops, raw)
	}
	return json.Marshal(f)
}

// UnmarshalJSON implements json.Unmarshaler, strictly.
func (m *Mix) UnmarshalJSON(data []byte) error {
	var f mixFile
	if err := strict(data, &f); err != nil {
		return err
	}
	if len(f.Ops) > MaxOps {
		return fmt.Errorf("%d ops, at most %d are allowed", len(f.Ops), MaxOps)
	}
	out := Mix{Strength: f.Strength}
	for i, raw := range f.Ops {
		op, err := readOp(raw)
		if err != nil {
			return fmt.Errorf("op %d: %w", i+1, err)
		}
		out.Ops = append(out.Ops, op)
	}
	*m = out
	return nil
}
