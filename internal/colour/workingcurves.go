package colour

// workingCurves are log spaces to grade in, y = 10-bit code/1023.
var workingCurves = []*Curve{
	{
		ID: "intermediate-344", Kind: KindWorking, Levels: LevelsData, Gamuts: []string{"r8000-g9877"},
		Source: makerNote, Note: "a grading space, not a camera",
		form: newPiecewise(logPieces{
			// 0.07329248·(log2(x + 0.0075) + 7)
			base: 2, linSlope: 1, linOffset: 0.0075, logSlope: 0.07329248, logOffset: 7.0 * 0.07329248,
			cut: 0.00262409, lineSlope: 10.44426855, lineStart: 0, decodeCut: 0.02740668,
		}),
	},
	{
		ID: "acescct", Kind: KindWorking, Levels: LevelsData, Gamuts: []string{"ap1"},
		Source: "Academy S-2016-001, section 4.4",
		Note:   "not cut at 65504, the half-float limit the document gives",
		form: newPiecewise(logPieces{
			// (log2(x) + 9.72)/17.52
			base: 2, linSlope: 1, linOffset: 0, logSlope: 1 / accStops, logOffset: accOffset / accStops,
			cut: 0.0078125, lineSlope: 10.5402377416545, lineStart: 0.0729055341958355, decodeCut: 0.155251141552511,
		}),
	},
	{
		ID: "acescc", Kind: KindWorking, Levels: LevelsData, Gamuts: []string{"ap1"},
		Source: "Academy S-2014-003, section 4.4",
		Note:   "all logarithm: light at or below 0 is recorded at one code, −366.7; not cut at 65504",
		form:   pureLog{},
	},
}
