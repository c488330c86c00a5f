package demo

import "lampwise/internal/colour"

// Palette colours. Materials mix them.
const (
	colWhite = iota // perfect white
	colPlaster
	colPlasterWarm
	colPegboard
	colPegboardDark
	colConcrete
	colPine
	colPineDark
	colSteel
	colAluminium
	colBrass
	colBlack
	colRubber
	colCotton
	colCottonDark
	colCanvas
	colLeather
	colSkin
	colSkinFlushed
	colLip
	colHair
	colHairLight
	colSclera
	colIris
	colRed
	colOrange
	colYellow
	colGreen
	colBlue
	colTeal
	colCardboard
	colPaper
	colChrome
	colAnodised
	colSteelPaint
	colRag
	colGrey18
	colChart // the first of 24
	colCount = colChart + 24
)

// painted are the palette's colours that are given by their look: linear
// BT.709 reflectance under D65. Chosen by eye for the example.
var painted = map[int][3]float64{
	colPlaster:      {0.52, 0.51, 0.48},
	colPlasterWarm:  {0.44, 0.41, 0.36},
	colPegboard:     {0.165, 0.185, 0.185},
	colPegboardDark: {0.115, 0.130, 0.135},
	colConcrete:     {0.22, 0.215, 0.20},
	colPine:         {0.50, 0.33, 0.17},
	colPineDark:     {0.27, 0.15, 0.065},
	colSteel:        {0.56, 0.55, 0.53},
	colAluminium:    {0.80, 0.81, 0.82},
	colBrass:        {0.78, 0.58, 0.26},
	colBlack:        {0.018, 0.018, 0.020},
	colRubber:       {0.030, 0.030, 0.031},
	colCotton:       {0.060, 0.095, 0.165},
	colCottonDark:   {0.035, 0.055, 0.10},
	colCanvas:       {0.21, 0.145, 0.085},
	colLeather:      {0.16, 0.075, 0.035},
	colHair:         {0.050, 0.032, 0.020},
	colHairLight:    {0.17, 0.11, 0.065},
	colSclera:       {0.50, 0.45, 0.42},
	colIris:         {0.075, 0.060, 0.040},
	colRed:          {0.42, 0.030, 0.025},
	colOrange:       {0.60, 0.20, 0.03},
	colYellow:       {0.68, 0.50, 0.04},
	colGreen:        {0.06, 0.20, 0.08},
	colBlue:         {0.03, 0.10, 0.33},
	colTeal:         {0.04, 0.24, 0.26},
	colChrome:       {0.76, 0.765, 0.77},
	colAnodised:     {0.33, 0.335, 0.35},
	colSteelPaint:   {0.17, 0.18, 0.19},
	colRag:          {0.45, 0.10, 0.07},
	colCardboard:    {0.38, 0.26, 0.15},
	colPaper:        {0.74, 0.73, 0.68},
}

// skinSpectrum is light skin at the bands: low in the violet (haemoglobin's
// Soret band), a plateau with the two dips of oxygenated blood at 540 and
// 577 nm, and a rise to the red. Values from memory of published measurements'
// shape, made for the example.
var skinSpectrum = spectrum{
	0.165, 0.160, 0.195, 0.235, 0.268, 0.292, 0.302, 0.290,
	0.300, 0.322, 0.430, 0.505, 0.545, 0.570, 0.588, 0.600,
}

// flushedSpectrum is skin with more blood in it (cheeks, ears, knuckles).
var flushedSpectrum = spectrum{
	0.120, 0.112, 0.140, 0.172, 0.198, 0.218, 0.222, 0.205,
	0.214, 0.238, 0.368, 0.462, 0.512, 0.542, 0.562, 0.575,
}

var lipSpectrum = spectrum{
	0.105, 0.095, 0.110, 0.128, 0.142, 0.150, 0.148, 0.134,
	0.140, 0.165, 0.280, 0.365, 0.412, 0.440, 0.458, 0.470,
}

// chartXYY is the average of 30 measured 24-patch charts: CIE xyY under D50,
// 2° observer (colour-science 0.4.6, characterisation data sets, "average of
// 30 charts"; truth/chart24.csv, set avg30). Facts, typed in.
var chartXYY = [24][3]float64{
	{0.4325, 0.3788, 0.1034},
	{0.4191, 0.3748, 0.3525},
	{0.2761, 0.3004, 0.1847},
	{0.3700, 0.4501, 0.1335},
	{0.3020, 0.2877, 0.2324},
	{0.2856, 0.3910, 0.4174},
	{0.5291, 0.4075, 0.3117},
	{0.2338, 0.2155, 0.1140},
	{0.5008, 0.3293, 0.1979},
	{0.3326, 0.2556, 0.0644},
	{0.3989, 0.4998, 0.4435},
	{0.4962, 0.4428, 0.4358},
	{0.2040, 0.1696, 0.0579},
	{0.3270, 0.5033, 0.2307},
	{0.5709, 0.3298, 0.1268},
	{0.4694, 0.4732, 0.6081},
	{0.4177, 0.2704, 0.2007},
	{0.2151, 0.3037, 0.1903},
	{0.3488, 0.3628, 0.9129},
	{0.3451, 0.3596, 0.5885},
	{0.3446, 0.3590, 0.3595},
	{0.3438, 0.3589, 0.1912},
	{0.3423, 0.3576, 0.0893},
	{0.3439, 0.3565, 0.0320},
}

// whiteD50 is the chart's white (CIE 15, D50 2°).
var whiteD50 = colour.XY{X: 0.34570, Y: 0.35854}

func makePalette() []spectrum {
	p := make([]spectrum, colCount)
	p[colWhite] = evenSpectrum
	d65, d50 := daylightSpectrum(6504), daylightSpectrum(5003)
	toXYZ := bt709ToXYZ()
	white := xyzUnder(&d65, &evenSpectrum)
	for c, rgb := range painted {
		v := toXYZ.Apply(rgb)
		// The observer's fit puts its white a little beside D65: colours are
		// given against its own white, so that a grey stays a grey.
		for i, w := range toXYZ.Apply([3]float64{1, 1, 1}) {
			v[i] *= white[i] / w
		}
		p[c] = reflecting(&d65, v)
	}
	p[colSkin], p[colSkinFlushed], p[colLip] = skinSpectrum, flushedSpectrum, lipSpectrum
	for i := range p[colGrey18] {
		p[colGrey18][i] = 0.18
	}
	white50 := xyzUnder(&d50, &evenSpectrum)
	for i, c := range chartXYY {
		v := colour.XY{X: c[0], Y: c[1]}.XYZ()
		for k, w := range whiteD50.XYZ() {
			v[k] *= c[2] * white50[k] / w
		}
		p[colChart+i] = reflecting(&d50, v)
	}
	return p
}

func bt709ToXYZ() colour.Mat3 {
	g, err := colour.GamutByID("bt709")
	if err != nil {
		panic(err) // a gamut that is always there
	}
	return g.ToXYZ()
}
