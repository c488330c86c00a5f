package picture

import (
	"math/rand/v2"
	"testing"
)

// keeper keeps tables in memory and counts.
type keeper struct {
	data   []byte
	loaded int
	kept   int
}

func (k *keeper) Load() []byte     { k.loaded++; return k.data }
func (k *keeper) Keep(data []byte) { k.kept++; k.data = data }

// Tables kept from an earlier run make the very same kernel, without baking.
func TestKeptTablesMakeTheSameKernel(t *testing.T) {
	k := filmKernel()
	p := k.programCopy()
	want := Measured{Over: "lattice", Points: 5, MaxDE: 0.31, MeanDE: 0.0071, Neutral: 0.2, Exact: 1.0 / 3}
	from := &keeper{data: k.plan.pack(want)}
	again := *p
	other, err := Compile(&again, nil, plainFormat(64, 48), KernelOptions{Tables: from})
	if err != nil {
		t.Fatal(err)
	}
	if from.loaded != 1 || from.kept != 0 {
		t.Errorf("loaded %d times, kept %d times; want 1 and 0", from.loaded, from.kept)
	}
	if *again.Error != want {
		t.Errorf("the measured error came back as %+v, not %+v", *again.Error, want)
	}
	if other.plan.display != k.plan.display || len(other.plan.steps) != len(k.plan.steps) {
		t.Fatalf("display %+v of %d steps, want %+v of %d", other.plan.display, len(other.plan.steps), k.plan.display, len(k.plan.steps))
	}
	cells, flagged := k.plan.cells()
	if c, f := other.plan.cells(); c != cells || f != flagged {
		t.Errorf("%d cells, %d of them exact; want %d and %d", c, f, cells, flagged)
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 100_000 {
		u := [3]uint16{uint16(r.UintN(1 << 16)), uint16(r.UintN(1 << 16)), uint16(r.UintN(1 << 16))}
		a, x := k.plan.at(u)
		b, y := other.plan.at(u)
		if a != b || x != y {
			t.Fatalf("%v: %v exact %v, want %v exact %v", u, b, y, a, x)
		}
	}
}

// What is not whole, or not of the program, is not taken.
func TestDamagedTablesAreRefused(t *testing.T) {
	data := filmKernel().plan.pack(Measured{})
	if _, ok := unpack(data); !ok {
		t.Fatal("whole tables are refused")
	}
	r := rand.New(rand.NewPCG(3, 4))
	for range 6 {
		at := r.IntN(len(data))
		data[at] ^= 1 << r.IntN(8)
		if _, ok := unpack(data); ok {
			t.Errorf("a flipped bit in byte %d goes unnoticed", at)
		}
		data = filmKernel().plan.pack(Measured{})
		if _, ok := unpack(data[:r.IntN(len(data))]); ok {
			t.Error("cut tables go unnoticed")
		}
	}
	for _, bad := range [][]byte{nil, {}, []byte(tablesMagic), append([]byte(tablesMagic), 0xff, 0xff, 0xff, 0xff)} {
		if _, ok := unpack(bad); ok {
			t.Errorf("%q is taken", bad)
		}
	}
	k, _ := unpack(data)
	if k.take(domain{}) != nil {
		t.Error("tables of another domain are taken")
	}
}
