package colour

import (
	"slices"

	"lampwise/internal/fault"
)

// Gamut is a set of RGB primaries with its white, as CIE 1931 chromaticities.
type Gamut struct {
	ID         string
	R, G, B, W XY
	Note       string
}

// D65 is the white of BT.709 and BT.2020 as they print it.
var D65 = XY{0.3127, 0.3290}

// ACESWhite is the white of AP0 and AP1 (SMPTE ST 2065-1).
var ACESWhite = XY{0.32168, 0.33767}

// gamuts: camera gamuts are named after their red x and green y in
// ten-thousandths; primaries from their makers' published technical notes.
var gamuts = append([]*Gamut{
	{ID: "r7300-g8550", R: XY{0.730, 0.280}, G: XY{0.140, 0.855}, B: XY{0.100, -0.050}, W: D65},
	{ID: "r7660-g8000", R: XY{0.766, 0.275}, G: XY{0.225, 0.800}, B: XY{0.089, -0.087}, W: D65},
	{ID: "r7300-g8400", R: XY{0.730, 0.280}, G: XY{0.165, 0.840}, B: XY{0.100, -0.030}, W: D65},
	{ID: "r6840-g8480", R: XY{0.6840, 0.3130}, G: XY{0.2210, 0.8480}, B: XY{0.0861, -0.1020}, W: D65},
	{ID: "r7347-g8576", R: XY{0.7347, 0.2653}, G: XY{0.1424, 0.8576}, B: XY{0.0991, -0.0308}, W: D65},
	{ID: "r7400-g11400", R: XY{0.740, 0.270}, G: XY{0.170, 1.140}, B: XY{0.080, -0.100}, W: D65},
	{ID: "r7803-g14940", R: XY{0.780308, 0.304253}, G: XY{0.121595, 1.493994}, B: XY{0.095612, -0.084589}, W: D65},
	{ID: "r7177-g8616", R: XY{0.7177215, 0.3171181}, G: XY{0.2280410, 0.8615690}, B: XY{0.1005841, -0.0820452}, W: XY{0.3127170, 0.3290312}},
	{ID: "r8000-g9877", R: XY{0.8000, 0.3130}, G: XY{0.1682, 0.9877}, B: XY{0.0790, -0.1155}, W: D65},
	{ID: "r7100-g8800", R: XY{0.71, 0.31}, G: XY{0.21, 0.88}, B: XY{0.09, -0.08}, W: D65},
	{ID: "bt709", R: XY{0.640, 0.330}, G: XY{0.300, 0.600}, B: XY{0.150, 0.060}, W: D65, Note: "ITU-R BT.709-6, item 1.3"},
	{ID: "bt2020", R: XY{0.708, 0.292}, G: XY{0.170, 0.797}, B: XY{0.131, 0.046}, W: D65, Note: "ITU-R BT.2020-2, table 3"},
	{ID: "p3d65", R: XY{0.680, 0.320}, G: XY{0.265, 0.690}, B: XY{0.150, 0.060}, W: D65, Note: "SMPTE EG 432-1"},
	{ID: "ap0", R: XY{0.7347, 0.2653}, G: XY{0.0000, 1.0000}, B: XY{0.0001, -0.0770}, W: ACESWhite, Note: "SMPTE ST 2065-1"},
	{ID: "ap1", R: XY{0.713, 0.293}, G: XY{0.165, 0.830}, B: XY{0.128, 0.044}, W: ACESWhite, Note: "Academy S-2014-004"},
}, matrixGamuts()...)

// matrixGamuts are published only as matrices to AP0, the maker's adaptation
// included. Primaries and white follow from the matrix.
func matrixGamuts() []*Gamut {
	ap0 := Gamut{R: XY{0.7347, 0.2653}, G: XY{0.0000, 1.0000}, B: XY{0.0001, -0.0770}, W: ACESWhite}
	from := func(id string, toAP0 Mat3) *Gamut {
		m := ap0.ToXYZ().Mul(toAP0)
		column := func(j int) XY { return XYZ{m[0][j], m[1][j], m[2][j]}.XY() }
		return &Gamut{
			ID: id, R: column(0), G: column(1), B: column(2), W: XYZ(m.Apply([3]float64{1, 1, 1})).XY(),
			Note: "published as a matrix to AP0 only; already adapted to its white",
		}
	}
	return []*Gamut{
		from("r7300-g8550-variant", Mat3{
			{0.7933297411, 0.0890786256, 0.1175916333},
			{0.0155810585, 1.0327123069, -0.0482933654},
			{-0.0188647478, 0.0127694121, 1.0060953358},
		}),
		from("r7660-g8000-variant", Mat3{
			{0.6742570921, 0.2205717359, 0.1051711720},
			{-0.0093136061, 1.1059588614, -0.0966452553},
			{-0.0382090673, -0.0179383766, 1.0561474439},
		}),
	}
}

// Gamuts returns every gamut in a fixed order: cameras, then standards.
func Gamuts() []*Gamut { return slices.Clone(gamuts) }

// GamutByID returns the gamut of that id. An unknown id is a fault that
// offers the nearest one.
func GamutByID(id string) (*Gamut, error) {
	ids := make([]string, len(gamuts))
	for i, g := range gamuts {
		if g.ID == id {
			return g, nil
		}
		ids[i] = g.ID
	}
	hint := "`lampwise curves` lists each curve's gamuts"
	if near, ok := fault.Nearest(id, ids); ok {
		hint = "did you mean " + near + "? " + hint
	}
	return nil, fault.New(fault.Usage, "gamut-unknown", hint, "no gamut is called %q", id)
}

// MustGamut returns the gamut of an id that is written in the program itself;
// it panics where there is none.
func MustGamut(id string) *Gamut {
	g, err := GamutByID(id)
	if err != nil {
		panic("colour: " + err.Error())
	}
	return g
}

// ToXYZ returns the matrix linear RGB → XYZ, RGB (1, 1, 1) giving the white
// at Y = 1 (SMPTE RP 177). Primaries on one line, or a white whose
// y is 0, give non-finite elements; see Check.
//
// Source: SMPTE RP 177, primaries to a matrix
func (g *Gamut) ToXYZ() Mat3 {
	p := Mat3{
		{g.R.X, g.G.X, g.B.X},
		{g.R.Y, g.G.Y, g.B.Y},
		{1 - g.R.X - g.R.Y, 1 - g.G.X - g.G.Y, 1 - g.B.X - g.B.Y},
	}
	s := p.Inverse().Apply(g.W.XYZ())
	return p.Mul(Diagonal(s[0], s[1], s[2]))
}

// FromXYZ returns the inverse of ToXYZ.
func (g *Gamut) FromXYZ() Mat3 { return g.ToXYZ().Inverse() }

// Check says, as a fault, whether the primaries can serve: they span a
// triangle and the white is made of positive amounts of all three.
func (g *Gamut) Check() error {
	m := g.ToXYZ()
	for _, row := range m {
		if !Finite(row) {
			return fault.New(fault.Input, "gamut", "give the primaries' and the white's CIE 1931 x and y", "gamut %q: its primaries span no triangle or its white has y = 0", g.ID)
		}
	}
	// Each primary's share of the white's X + Y + Z is its column's sum.
	for j, name := range []string{"red", "green", "blue"} {
		if m[0][j]+m[1][j]+m[2][j] <= 0 {
			return fault.New(fault.Input, "gamut", "the white must lie inside the triangle of the primaries", "gamut %q: its white needs a negative amount of %s", g.ID, name)
		}
	}
	return nil
}

// LuminanceWeights returns the share of Y that linear R, G and B each give.
func (g *Gamut) LuminanceWeights() (r, gr, b float64) {
	m := g.ToXYZ()
	return m[1][0], m[1][1], m[1][2]
}

// RGBToRGB returns the matrix from one gamut's linear RGB to another's,
// adapted with cat where their whites differ.
func RGBToRGB(from, to *Gamut, cat CAT) Mat3 {
	m := from.ToXYZ()
	if from.W != to.W {
		m = Adapt(from.W, to.W, cat).Mul(m)
	}
	return to.FromXYZ().Mul(m)
}
