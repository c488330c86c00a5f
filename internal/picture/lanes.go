package picture

// lanes are the u of one block in the form the portable kernel works on: a
// pixel's three in one number, 21 bits apart, so that one instruction does
// three channels.
type lanes [block]uint64

const (
	laneG    = 21 // where green begins
	laneB    = 42
	laneMask = 1<<laneG - 1
	oneEach  = 1 | 1<<laneG | 1<<laneB // times a number: that number in every lane
	uEach    = domainTop * oneEach
)

func pack3(r, g, b uint64) uint64 { return r | g<<laneG | b<<laneB }

func unpack3(v uint64) [3]uint16 {
	return [3]uint16{uint16(v), uint16(v >> laneG), uint16(v >> laneB)}
}

// toPixels gives them apart.
func (l *lanes) toPixels(p *pixels) {
	for x, v := range l {
		p.r[x], p.g[x], p.b[x] = uint16(v), uint16(v>>laneG), uint16(v>>laneB)
	}
}

// laneRow is a row of a frame.
type laneRow []lanes

func (row laneRow) put(x int, u [3]uint16) {
	row[x/block][x%block] = pack3(uint64(u[0]), uint64(u[1]), uint64(u[2]))
}
