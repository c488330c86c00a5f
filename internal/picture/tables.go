package picture

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
)

// Tables keeps a kernel's baked tables from one run to the next: baking and
// measuring them is what compiling spends its seconds on. Whoever implements
// it answers for it that what is loaded was kept for the same program, exact
// path, range and depth, by the same build of this package.
type Tables interface {
	// Load gives what Keep was given, or nil. Damage does no harm: it is found, and
	// the tables are baked anew.
	Load() []byte
	// Keep is given what to keep; failing to is no error.
	Keep(data []byte)
}

// tablesMagic begins kept tables; its number changes with their form.
const tablesMagic = "lampwise tables 2\n"

// tablesHead stands before the nodes of kept tables.
type tablesHead struct {
	Error      Measured
	Zero, Unit int // of the display
	Cubes      []cubeHead
}

type cubeHead struct {
	N, Flagged int
	In, Out    [2][3]float64 // lo and hi
}

// pack is the plan's baked tables, and what they err by, as bytes.
func (p *plan) pack(m Measured) []byte {
	head := tablesHead{Error: m, Zero: p.display.zero, Unit: p.display.unit}
	var baked []*cube
	size := 0
	for _, s := range p.steps {
		if c, ok := s.(*cube); ok && c.baked {
			baked = append(baked, c)
			head.Cubes = append(head.Cubes, cubeHead{c.n, c.flagged, [2][3]float64{c.in.lo, c.in.hi}, [2][3]float64{c.out.lo, c.out.hi}})
			size += 8 * len(c.nodes)
		}
	}
	text, err := json.Marshal(head)
	if err != nil || len(baked) == 0 {
		return nil // numbers that cannot be written are not worth keeping
	}
	out := make([]byte, 0, len(tablesMagic)+4+len(text)+size+sha256.Size)
	out = append(out, tablesMagic...)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(text)))
	out = append(out, text...)
	for _, c := range baked {
		for _, v := range c.nodes {
			out = binary.LittleEndian.AppendUint64(out, v)
		}
	}
	sum := sha256.Sum256(out)
	return append(out, sum[:]...)
}

// kept is tables as they were packed.
type kept struct {
	head  tablesHead
	cubes []*cube
}

// unpack reads what pack wrote; ok is false where it is not whole.
func unpack(data []byte) (k *kept, ok bool) {
	end := len(data) - sha256.Size
	if end < len(tablesMagic)+4 || !bytes.HasPrefix(data, []byte(tablesMagic)) {
		return nil, false
	}
	if sum := sha256.Sum256(data[:end]); !bytes.Equal(sum[:], data[end:]) {
		return nil, false
	}
	rest := data[len(tablesMagic):end]
	length := int(binary.LittleEndian.Uint32(rest))
	rest = rest[4:]
	k = &kept{}
	if length > len(rest) || json.Unmarshal(rest[:length], &k.head) != nil || k.head.Unit <= 0 {
		return nil, false
	}
	rest = rest[length:]
	for _, h := range k.head.Cubes {
		if h.N != fineGrid {
			return nil, false
		}
		c := newEmptyCube(h.N, domain{h.In[0], h.In[1]}, domain{h.Out[0], h.Out[1]})
		c.baked, c.flagged = true, h.Flagged
		size := 8 * len(c.nodes)
		if len(rest) < size {
			return nil, false
		}
		for i := range c.nodes {
			c.nodes[i] = binary.LittleEndian.Uint64(rest[8*i:])
		}
		rest = rest[size:]
		k.cubes = append(k.cubes, c)
	}
	return k, len(rest) == 0 && len(k.cubes) > 0
}

// take gives the next kept table, if it is one of the domain asked for.
func (k *kept) take(in domain) *cube {
	if k == nil || len(k.cubes) == 0 || k.cubes[0].in != in {
		return nil
	}
	c := k.cubes[0]
	k.cubes = k.cubes[1:]
	return c
}
