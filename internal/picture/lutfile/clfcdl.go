package lutfile

import "lampwise/internal/picture"

// readASCCDL (S-2014-006, ASC_CDL).
func readASCCDL(p *process) (picture.Op, error) {
	if err := p.allow(p.f, "Description", "SOPNode", "SatNode"); err != nil {
		return nil, err
	}
	style, err := p.style(picture.CDLFwd, cdlStyles...)
	if err != nil {
		return nil, err
	}
	op := identityCDL()
	op.Style = style
	sop, err := p.alone(p.f, "SOPNode")
	if err != nil {
		return nil, err
	}
	if sop != nil {
		if err := sop.allow(p.f, "Description", "Slope", "Offset", "Power"); err != nil {
			return nil, err
		}
		if err := p.f.sop(sop, op, true); err != nil {
			return nil, err
		}
	}
	sat, err := p.alone(p.f, "SatNode")
	if err != nil {
		return nil, err
	}
	if sat != nil {
		if err := sat.allow(p.f, "Description", "Saturation"); err != nil {
			return nil, err
		}
		if err := p.f.sat(sat, op, true); err != nil {
			return nil, err
		}
	}
	return op, nil
}

var cdlStyles = []string{picture.CDLFwd, picture.CDLRev, picture.CDLFwdNoClamp, picture.CDLRevNoClamp}

func identityCDL() *picture.CDL {
	return &picture.CDL{Slope: three(1), Power: three(1), Saturation: 1, Style: picture.CDLFwd}
}

// sop reads slope, offset and power; all says whether each must be there.
func (f file) sop(n *node, op *picture.CDL, all bool) error {
	for _, part := range []struct {
		name string
		into *[3]float64
	}{{"Slope", &op.Slope}, {"Offset", &op.Offset}, {"Power", &op.Power}} {
		e, err := n.alone(f, part.name)
		if err != nil {
			return err
		}
		if e == nil {
			if all {
				return f.wrong(n.line, "lut-param", "<"+n.name+"> has Slope, Offset and Power", "<%s> has no <%s>", n.name, part.name)
			}
			continue
		}
		x, err := e.exactly(f, 3)
		if err != nil {
			return err
		}
		for ch := range 3 {
			switch {
			case part.name == "Slope" && x[ch] < 0:
				return f.wrong(e.line, "lut-param", "a slope is 0 or more", "<Slope> is %g", x[ch])
			case part.name == "Power" && x[ch] <= 0:
				return f.wrong(e.line, "lut-param", "a power is above 0", "<Power> is %g", x[ch])
			}
			part.into[ch] = x[ch]
		}
	}
	return nil
}

// sat reads the saturation; must says whether it has to be there.
func (f file) sat(n *node, op *picture.CDL, must bool) error {
	e, err := n.alone(f, "Saturation")
	if err != nil {
		return err
	}
	if e == nil {
		if must {
			return f.wrong(n.line, "lut-param", "<"+n.name+"> has a Saturation", "<%s> has no <Saturation>", n.name)
		}
		return nil
	}
	x, err := e.one(f)
	if err != nil {
		return err
	}
	if x < 0 {
		return f.wrong(e.line, "lut-param", "a saturation is 0 or more", "<Saturation> is %g", x)
	}
	op.Saturation = x
	return nil
}
