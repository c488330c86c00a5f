package picture

import "fmt"

// To makes a kernel that writes the same picture in another way (depth, chroma
// sampling, dither) from the same baked tables. Limiter and matrix must stay,
// since the tables' tolerance was judged by them.
func (k *Kernel) To(o Output) (*Kernel, error) {
	if err := o.Check(); err != nil {
		return nil, fmt.Errorf("picture: output: %w", err)
	}
	if was := k.program.Output; o.Limiter != was.Limiter || o.Matrix != was.Matrix || o.Range != was.Range {
		return nil, fmt.Errorf("picture: a kernel for %+v cannot write %+v", was, o)
	}
	p := k.program
	p.Output = o
	other := newKernel(&p, k.exact, k.in, k.options)
	other.plan = k.plan
	other.ready()
	return other, nil
}
