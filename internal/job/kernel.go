package job

import (
	"lampwise/internal/picture"
)

// Kernel compiles the work's program for its clip's frames.
func (w *Work) Kernel(threads int) (executor, error) {
	return &plainExecutor{w}, nil
}

// plainExecutor runs the reference.
type plainExecutor struct{ w *Work }

func (p *plainExecutor) Run(in, out *picture.Frame) {
	if err := p.w.Program.RunPlain(in, out); err != nil {
		panic(err) // formats were checked when the work was opened
	}
}

func (p *plainExecutor) Name() string { return "plain" }
