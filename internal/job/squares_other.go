//go:build !amd64 || purego

package job

// No wide forms for this processor, or none wanted.
const buildHasWide = false

var wideSquares = false

func (*lightSquares) wide(*lightDecoder, *squareRow) int { return 0 }
