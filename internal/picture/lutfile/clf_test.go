package lutfile

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

const clfHead = `<?xml version="1.0" encoding="UTF-8"?>` + "\n"

// list puts process nodes into a ProcessList of version 3.
func list(nodes string) string {
	return clfHead + `<ProcessList id="a" compCLFversion="3.0" xmlns="` + spaceAcademy + `">` + "\n" + nodes + "\n</ProcessList>\n"
}

// list2 is the same of version 2.
func list2(nodes string) string {
	return clfHead + `<ProcessList id="a" compCLFversion="2.0">` + "\n" + nodes + "\n</ProcessList>\n"
}

// depths32 are the attributes most nodes here have.
const depths32 = ` inBitDepth="32f" outBitDepth="32f"`

func mustCLF(t *testing.T, text string) *picture.Chain {
	t.Helper()
	c, err := ReadCLF(strings.NewReader(text), "a.clf")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Results of nodes the official set has none of, from OpenColorIO 2.1.2
// (FileTransform, no optimisation) for 0.1 0.5 0.9 and 0.2 0.4 0.25.
func TestRareNodesAgainstReferenceLibrary(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want [2][3]float64
	}{
		"hueAdjust": {
			list(`<LUT1D inBitDepth="32f" outBitDepth="32f" hueAdjust="dw3"><Array dim="3 1">0 0.8 1</Array></LUT1D>`),
			[2][3]float64{{0.15999996662139893, 0.5600000619888306, 0.9599999785423279}, {0.3199999928474426, 0.6399999856948853, 0.3999999761581421}},
		},
		"rawHalfs at an integer depth": {
			list(`<LUT1D inBitDepth="10i" outBitDepth="10i" rawHalfs="true"><Array dim="3 1">0 14336 15360</Array></LUT1D>`),
			[2][3]float64{{9.7751704743132e-05, 0.0004887585528194904, 0.0008797653717920184}, {0.000195503409486264, 0.00039100684807635844, 0.0002443792764097452}},
		},
		"rawHalfs": {
			list(`<LUT1D inBitDepth="10i" outBitDepth="16f" rawHalfs="true"><Array dim="3 1">0 14336 15360</Array></LUT1D>`),
			[2][3]float64{{0.09999999403953552, 0.5, 0.8999999761581421}, {0.19999998807907104, 0.4000000059604645, 0.25}},
		},
		"IndexMap of a 1-D LUT, version 2": {
			list2(`<LUT1D inBitDepth="10i" outBitDepth="10i"><IndexMap dim="2">64@0 940@3</IndexMap><Array dim="4 1">0 100 900 1023</Array></LUT1D>`),
			[2][3]float64{{0.012821540236473083, 0.5142006874084473, 0.9920529127120972}, {0.04706811532378197, 0.24022817611694336, 0.06419140100479126}},
		},
		"IndexMap of a 3-D LUT, version 2": {
			list2(`<LUT3D inBitDepth="32f" outBitDepth="10i"><IndexMap dim="2"> -1e-1@0 1.9e1@ 1 </IndexMap><Array dim="2 2 2 3">0 30 33 0 0 133 0 0 223 0 0 324 0 192 335 0 241 448 26 308 580 87 384 743</Array></LUT3D>`),
			[2][3]float64{{9.387030331708957e-06, 0.028664585202932358, 0.04632863774895668}, {1.0899419976340141e-05, 0.030602699145674706, 0.04357472434639931}},
		},
	} {
		chain := mustCLF(t, c.text)
		for i, in := range [2][3]float64{{0.1, 0.5, 0.9}, {0.2, 0.4, 0.25}} {
			got := chain.Apply(in)
			for ch := range 3 {
				if e := guarded(got[ch], c.want[i][ch]); e > ourTolerance {
					t.Errorf("%s: %v gives %v, want %v", name, in, got, c.want[i])
					break
				}
			}
		}
	}
}

func TestCLFIsRead(t *testing.T) {
	slope := 6.0
	low, high := 0.25, 0.5
	for name, c := range map[string]struct {
		text string
		want picture.Chain
	}{
		"metadata": {
			clfHead + `<c:ProcessList xmlns:c="http://www.smpte-ra.org/ns/2136-1/2024" name=" Pegboard  night "><c:Id>urn:uuid:1</c:Id>
				<c:Description>one &amp; <!-- x -->
				two</c:Description><c:Description/><c:InputDescriptor>camera</c:InputDescriptor><c:OutputDescriptor>screen</c:OutputDescriptor>
				<c:Info><Anything><Description>no</Description></Anything></c:Info>
				<c:Matrix inBitDepth="10i" outBitDepth="8i"><c:Description>d</c:Description><c:Array dim="3 4">255 0 0 51 0 255 0 0 0 0 255 0</c:Array></c:Matrix></c:ProcessList>`,
			picture.Chain{
				Title: "Pegboard  night", Description: []string{"one & two"}, Input: "camera", Output: "screen",
				Ops: []picture.Op{&picture.Matrix{M: [3][3]float64{{1023, 0, 0}, {0, 1023, 0}, {0, 0, 1023}}, Offset: [3]float64{0.2, 0, 0}}},
			},
		},
		"byte order mark, no header": {
			"\ufeff \r\n" + `<ProcessList id="1" compCLFversion="3"><Range inBitDepth="8i" outBitDepth="10i"><minInValue>63.75</minInValue><minOutValue>255.75</minOutValue></Range></ProcessList>`,
			picture.Chain{Ops: []picture.Op{&picture.Range{Slope: 1, Min: &low}}},
		},
		"both bounds": {
			list(`<Range inBitDepth="32f" outBitDepth="32f" style="Clamp"><maxOutValue>0.5</maxOutValue><minInValue>0</minInValue><maxInValue>1</maxInValue><minOutValue>0.25</minOutValue></Range>`),
			picture.Chain{Ops: []picture.Op{&picture.Range{Slope: 0.25, Offset: 0.25, Min: &low, Max: &high}}},
		},
		"camera log": {
			list(`<Log inBitDepth="32f" outBitDepth="32f" style="cameraLinToLog"><LogParams base="10" logSideSlope="0.25" logSideOffset="0.5" linSideSlope="5" linSideOffset="0.05" linSideBreak="0.01" linearSlope="6"/></Log>`),
			picture.Chain{Ops: []picture.Op{&picture.LogOp{Style: "cameraLinToLog", Params: func() (p [3]picture.LogParams) {
				for ch := range p {
					p[ch] = picture.LogParams{Base: 10, LogSideSlope: 0.25, LogSideOffset: 0.5, LinSideSlope: 5, LinSideOffset: 0.05, LinSideBreak: 0.01, LinearSlope: &slope}
				}
				return
			}()}}},
		},
		"blue fastest": {
			list(`<LUT3D inBitDepth="10i" outBitDepth="8i" interpolation="tetrahedral"><Array dim="2 2 2 3">0 0 0 0 0 255 0 255 0 0 255 255 255 0 0 255 0 255 255 255 0 255 255 255</Array></LUT3D>`),
			picture.Chain{Ops: []picture.Op{&picture.LUT3D{
				Size: 2, Hi: three(1), Interp: picture.Tetrahedral, Strength: 1,
				Data: []float64{0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 1, 0, 0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 1, 1},
			}}},
		},
		"pure log": {
			list(`<Log inBitDepth="32f" outBitDepth="32f" style="antiLog10"/>`),
			picture.Chain{Ops: []picture.Op{&picture.LogOp{Style: "antiLog10", Params: [3]picture.LogParams{
				{Base: 10, LinSideSlope: 1, LogSideSlope: 1}, {Base: 10, LinSideSlope: 1, LogSideSlope: 1}, {Base: 10, LinSideSlope: 1, LogSideSlope: 1},
			}}}},
		},
		"ISO 8859-1": {
			`<?xml version="1.0" encoding="ISO-8859-1"?><ProcessList id="1" compCLFversion="3"><Description>caf` + "\xe9" + `</Description><ASC_CDL inBitDepth="32f" outBitDepth="32f"/></ProcessList>`,
			picture.Chain{Description: []string{"café"}, Ops: []picture.Op{&picture.CDL{Slope: three(1), Power: three(1), Saturation: 1, Style: "Fwd"}}},
		},
	} {
		if got := mustCLF(t, c.text); !reflect.DeepEqual(*got, c.want) {
			t.Errorf("%s: %+v, want %+v", name, *got, c.want)
		}
	}
}

// A half domain's table holds entries for infinities and NaNs, which nothing
// finite reaches; they must not make the file unreadable nor the ops infinite.
func TestHalfDomain(t *testing.T) {
	var raw, text strings.Builder
	for i := range halfCodes {
		fmt.Fprintln(&raw, i)
		fmt.Fprintln(&text, picture.HalfValue(uint16(i)))
	}
	for name, array := range map[string]string{" rawHalfs=\"true\"": raw.String(), "": text.String()} {
		c := mustCLF(t, list(`<LUT1D`+depths32+` halfDomain="true"`+name+`><Array dim="65536 1">`+array+`</Array></LUT1D>`))
		curves := c.Ops[0].(*picture.Curves)
		for i, x := range curves.Samples[2] {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("sample %d is %g", i, x)
			}
		}
		for _, x := range []float64{0, 0.18, -3.3, 65000, 1e-7, -6e-5} {
			if got := c.Apply(three(x))[0]; math.Abs(got-x) > 1e-12*math.Abs(x) {
				t.Errorf("identity%s at %g: %g", name, x, got)
			}
		}
		if got := c.Apply(three(1e9)); got != three(maxHalf) {
			t.Errorf("identity%s at 1e9: %v", name, got)
		}
	}
	// A NaN at a place that is reached is refused; an overflow is held.
	at := func(code int, s string) string {
		lines := strings.Split(text.String(), "\n")
		lines[code] = s
		return list(`<LUT1D` + depths32 + ` halfDomain="true"><Array dim="65536 1">` + strings.Join(lines, "\n") + `</Array></LUT1D>`)
	}
	_, err := ReadCLF(strings.NewReader(at(15360, "NaN")), "a.clf")
	checkFault(t, err, "a.clf", 3+15360, "lut-number", "entry 15360 is not a finite number")
	if got := mustCLF(t, at(15360, "INF")).Apply(three(1)); got != three(maxHalf) {
		t.Errorf("an infinity at 1 gives %v", got)
	}
}

var badCLF = map[string]badFile{
	"empty":               {"", 0, "lut-empty", "empty"},
	"header only":         {clfHead, 0, "lut-empty", "no XML element"},
	"not XML":             {"LUT_3D_SIZE 2\n", 1, "lut-xml", "text outside the root element"},
	"UTF-16":              {"\xff\xfe<\x00", 0, "lut-encoding", "UTF-16"},
	"declared UTF-16":     {`<?xml version="1.0" encoding="UTF-16"?><ProcessList/>`, 1, "lut-encoding", `the encoding "UTF-16" isn't read`},
	"Windows code page":   {`<?xml version="1.0" encoding="windows-1252"?><ProcessList/>`, 1, "lut-encoding", "windows-1252"},
	"not UTF-8":           {clfHead + "<ProcessList>\n\xe9</ProcessList>", 3, "lut-xml", "invalid UTF-8"},
	"XML 1.1":             {`<?xml version="1.1"?><ProcessList/>`, 1, "lut-xml", "unsupported version"},
	"entity bomb":         {"<?xml version=\"1.0\"?>\n<!DOCTYPE b [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;\">]>\n<ProcessList id=\"1\" compCLFversion=\"3\"><Description>&b;</Description></ProcessList>", 2, "lut-xml", "document type"},
	"outside entity":      {"<!DOCTYPE b [<!ENTITY x SYSTEM \"file:///etc/passwd\">]><ProcessList>&x;</ProcessList>", 1, "lut-xml", "document type"},
	"unknown entity":      {clfHead + "<ProcessList>&b;</ProcessList>", 2, "lut-xml", "invalid character entity &b;"},
	"truncated":           {strings.TrimSuffix(list("<Matrix"+depths32+">\n<Array dim=\"3 3\">1 0 0"), "\n</ProcessList>\n"), 4, "lut-truncated", "ends inside <Array> (line 4)"},
	"truncated in a tag":  {clfHead + "<ProcessList id=\"1", 2, "lut-xml", "unexpected EOF"},
	"two roots":           {clfHead + "<ProcessList/>\n<ProcessList/>", 3, "lut-xml", "<ProcessList> after the end of <ProcessList>"},
	"text after root":     {clfHead + "<ProcessList/>\nmore", 2, "lut-xml", `text outside the root element: "more"`},
	"attribute twice":     {clfHead + `<ProcessList id="1" id="2"/>`, 2, "lut-xml", "the attribute id twice"},
	"too deep":            {clfHead + strings.Repeat("<a>\n", 40), 34, "lut-xml", "deeper than 32"},
	"too many elements":   {clfHead + "<a>" + strings.Repeat("<b/>", 1<<16), 2, "lut-xml", "more than 65536 elements"},
	"too many attributes": {clfHead + "<a" + manyAttributes(65) + "/>", 2, "lut-xml", "more than 64 attributes"},
	"other root":          {clfHead + "<ProcesList/>", 2, "lut-element", "<ProcesList> where <ProcessList> was expected"},
	"no version":          {clfHead + `<ProcessList id="1"/>`, 2, "lut-version", "no compCLFversion"},
	"version 0":           {clfHead + `<ProcessList id="1" compCLFversion="0"/>`, 2, "lut-version", "has never been"},
	"version 3.0.1":       {clfHead + `<ProcessList id="1" compCLFversion="3.0.1"/>`, 2, "lut-version", "newer than 3.0"},
	"version 4":           {clfHead + `<ProcessList id="1" compCLFversion="4"/>`, 2, "lut-version", "newer than 3.0"},
	"other namespace":     {clfHead + `<ProcessList id="1" compCLFversion="3" xmlns="urn:x"/>`, 2, "lut-version", `unknown namespace "urn:x"`},
	"empty Id":            {clfHead + `<ProcessList xmlns="` + spaceSMPTE + `"><Id> </Id></ProcessList>`, 2, "lut-clf", "is empty"},
	"no Id":               {clfHead + `<ProcessList xmlns="` + spaceSMPTE + `"/>`, 2, "lut-clf", "has no id"},
	"nodes beyond number": {list(strings.Repeat(`<ASC_CDL`+depths32+"/>\n", MaxOps+1)), 3 + MaxOps, "lut-clf", "more than 256 process nodes"},
	"bypass":              {list(`<ASC_CDL` + depths32 + ` bypass="true"/>`), 3, "lut-clf", "bypass"},

	"NaN":                {list(`<Matrix` + depths32 + ">\n<Array dim=\"3 3\">1 0 0\n0 NaN 0 0 0 1</Array></Matrix>"), 5, "lut-number", `"NaN" is not a finite number`},
	"infinity":           {list(`<LUT1D` + depths32 + "><Array dim=\"2 1\">0\nINF</Array></LUT1D>"), 4, "lut-number", `"INF" is not a finite number`},
	"comment in number":  {list(`<LUT1D` + depths32 + "><Array dim=\"2 1\">0 1<!-- x -->2</Array></LUT1D>"), 3, "lut-number", "in the middle of a number"},
	"no array":           {list(`<LUT1D` + depths32 + "/>"), 3, "lut-element", "no <Array>"},
	"two arrays":         {list(`<LUT1D` + depths32 + "><Array dim=\"2 1\">0 1</Array>\n<Array dim=\"2 1\">0 1</Array></LUT1D>"), 4, "lut-element", "a second <Array>"},
	"no dim":             {list(`<LUT1D` + depths32 + "><Array>0 1</Array></LUT1D>"), 3, "lut-dim", "no dim"},
	"dim of words":       {list(`<LUT1D` + depths32 + "><Array dim=\"two 1\">0 1</Array></LUT1D>"), 3, "lut-dim", "not a list of sizes"},
	"1-D of 2 columns":   {list(`<LUT1D` + depths32 + "><Array dim=\"2 2\">0 1 0 1</Array></LUT1D>"), 3, "lut-dim", `"N 1" or "N 3" was expected`},
	"1-D of 1 entry":     {list(`<LUT1D` + depths32 + "><Array dim=\"1 1\">0</Array></LUT1D>"), 3, "lut-size", "1 entries; 2 to 65536"},
	"1-D huge":           {list(`<LUT1D` + depths32 + "><Array dim=\"200000 1\">0</Array></LUT1D>"), 3, "lut-size", "200000 entries"},
	"1-D cubic":          {list(`<LUT1D` + depths32 + " interpolation=\"cubic\"><Array dim=\"2 1\">0 1</Array></LUT1D>"), 3, "lut-clf", `interpolation "cubic"`},
	"1-D hue":            {list(`<LUT1D` + depths32 + " hueAdjust=\"dw4\"><Array dim=\"2 1\">0 1</Array></LUT1D>"), 3, "lut-clf", `hueAdjust="dw4"`},
	"raw half, fraction": {list(`<LUT1D` + depths32 + " rawHalfs=\"true\"><Array dim=\"2 1\">0 0.5</Array></LUT1D>"), 3, "lut-number", "pattern of a half float"},
	"raw half, NaN":      {list(`<LUT1D` + depths32 + " rawHalfs=\"true\"><Array dim=\"2 1\">0 32000</Array></LUT1D>"), 3, "lut-number", "entry 1 is not a finite number"},
	"raw half, negative": {list(`<LUT1D` + depths32 + " rawHalfs=\"true\"><Array dim=\"2 1\">-1 0</Array></LUT1D>"), 3, "lut-number", "pattern of a half float"},
	"3-D huge":           {list(`<LUT3D` + depths32 + "><Array dim=\"130 130 130 3\">0</Array></LUT3D>"), 3, "lut-size", "size 130; 2 to 129"},
	"3-D of 1 channel":   {list(`<LUT3D` + depths32 + "><Array dim=\"2 2 2 1\">0</Array></LUT3D>"), 3, "lut-dim", `"N N N 3" was expected`},
	"3-D interpolation":  {list(`<LUT3D` + depths32 + " interpolation=\"cubic\"/>"), 3, "lut-clf", `interpolation "cubic"`},
	"matrix 4 by 4":      {list(`<Matrix` + depths32 + "><Array dim=\"4 4\">1</Array></Matrix>"), 3, "lut-dim", `"3 3" or "3 4" was expected`},
	"matrix too large":   {list(`<Matrix inBitDepth="16i" outBitDepth="32f"><Array dim="3 3">3e38 0 0 0 1 0 0 0 1</Array></Matrix>`), 3, "lut-number", "too large"},
	"node misspelt":      {list(`<Matrx` + depths32 + "/>"), 3, "lut-element", "<Matrx> is no process node"},
	"child misspelt":     {list(`<Range` + depths32 + "><minInvalue>0</minInvalue></Range>"), 3, "lut-element", "<minInvalue> has no place in <Range>"},
	"half a pair":        {list(`<Range` + depths32 + "><minInValue>0</minInValue></Range>"), 3, "lut-clf", "only one of minInValue and minOutValue"},
	"half the other":     {list(`<Range` + depths32 + "><maxOutValue>0</maxOutValue></Range>"), 3, "lut-clf", "only one of maxInValue and maxOutValue"},
	"range output falls": {list(`<Range` + depths32 + "><minInValue>0</minInValue><maxInValue>1</maxInValue><minOutValue>1</minOutValue><maxOutValue>0</maxOutValue></Range>"), 3, "lut-clf", "minOutValue 1 and maxOutValue 0"},
	"range too steep":    {list(`<Range` + depths32 + "><minInValue>0</minInValue><maxInValue>1e-30</maxInValue><minOutValue>0</minOutValue><maxOutValue>1e30</maxOutValue></Range>"), 3, "lut-clf", "too far apart"},
	"range style":        {list(`<Range` + depths32 + " style=\"clamp\"/>"), 3, "lut-style", `unknown style "clamp"`},
	"log without style":  {list(`<Log` + depths32 + "/>"), 3, "lut-style", "no style"},
	"log base 1":         {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams base=\"1\"/></Log>"), 3, "lut-param", "the base 1"},
	"log slope 0":        {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams linSideSlope=\"0\"/></Log>"), 3, "lut-param", "a slope of 0"},
	"log bases":          {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams channel=\"R\" base=\"2\"/><LogParams channel=\"G\" base=\"10\"/><LogParams channel=\"B\" base=\"2\"/></Log>"), 3, "lut-param", "different bases"},
	"log channel absent": {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams channel=\"R\"/></Log>"), 3, "lut-param", "for every channel"},
	"log channel twice":  {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams channel=\"R\"/>\n<LogParams channel=\"R\"/></Log>"), 4, "lut-param", "for the channel R"},
	"log channel odd":    {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams channel=\"RG\"/></Log>"), 3, "lut-param", `the channel "RG"`},
	"log channel mixed":  {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams/><LogParams channel=\"R\"/></Log>"), 3, "lut-param", "one of them without a channel"},
	"log pure, params":   {list(`<Log` + depths32 + " style=\"log10\"><LogParams/></Log>"), 3, "lut-param", "<LogParams> with the style log10"},
	"log no argument":    {list(`<Log` + depths32 + " style=\"cameraLinToLog\"><LogParams linSideBreak=\"-1\"/></Log>"), 3, "lut-param", "the logarithm's argument is -1"},
	"log line flat":      {list(`<Log` + depths32 + " style=\"cameraLinToLog\"><LogParams linSideBreak=\"1\" linearSlope=\"0\"/></Log>"), 3, "lut-param", "a linearSlope of 0"},
	"log number":         {list(`<Log` + depths32 + " style=\"linToLog\"><LogParams base=\"two\"/></Log>"), 3, "lut-number", `base "two" is not a number`},
	"exponent none":      {list(`<Exponent` + depths32 + " style=\"basicFwd\"/>"), 3, "lut-param", "no <ExponentParams>"},
	"exponent absent":    {list(`<Exponent` + depths32 + " style=\"basicFwd\"><ExponentParams/></Exponent>"), 3, "lut-param", "no exponent"},
	"exponent 0":         {list(`<Exponent` + depths32 + " style=\"basicFwd\"><ExponentParams exponent=\"0\"/></Exponent>"), 3, "lut-param", "the exponent 0; 0.01 to 100"},
	"exponent offset":    {list(`<Exponent` + depths32 + " style=\"monCurveFwd\"><ExponentParams exponent=\"2\"/></Exponent>"), 3, "lut-param", "no offset"},
	"exponent offset 1":  {list(`<Exponent` + depths32 + " style=\"monCurveFwd\"><ExponentParams exponent=\"2\" offset=\"1\"/></Exponent>"), 3, "lut-param", "the offset 1; 0 to 0.9"},
	"exponent version":   {list2(`<Exponent` + depths32 + " style=\"basicFwd\"><ExponentParams exponent=\"2\"/></Exponent>"), 3, "lut-version", "<Exponent> needs version 3"},
	"cdl saturation":     {list(`<ASC_CDL` + depths32 + "><SatNode><Saturation>-1</Saturation></SatNode></ASC_CDL>"), 3, "lut-param", "<Saturation> is -1"},
	"cdl slope":          {list(`<ASC_CDL` + depths32 + "><SOPNode><Slope>1 -1 1</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode></ASC_CDL>"), 3, "lut-param", "<Slope> is -1"},
	"cdl undone":         {list(`<ASC_CDL` + depths32 + " style=\"Rev\"><SatNode><Saturation>0</Saturation></SatNode></ASC_CDL>"), 3, "lut-param", "<ASC_CDL> cannot be computed: saturation 0"},
	"log too steep":      {list(`<Log` + depths32 + " style=\"cameraLinToLog\"><LogParams linSideSlope=\"3e38\" linSideOffset=\"1e-30\" linSideBreak=\"0\"/></Log>"), 3, "lut-param", "<Log> cannot be computed: channel 1: straight part"},
	"cdl no saturation":  {list(`<ASC_CDL` + depths32 + "><SatNode/></ASC_CDL>"), 3, "lut-param", "no <Saturation>"},
	"index map, many":    {list2(`<LUT1D` + depths32 + "><IndexMap dim=\"3\">0@0 0.5@1 1@2</IndexMap><Array dim=\"3 1\">0 0.5 1</Array></LUT1D>"), 3, "lut-clf", `other than one "in@0 in@2"`},
	"index map, inside":  {list2(`<LUT1D` + depths32 + "><IndexMap dim=\"2\">0@0 0.5@1</IndexMap><Array dim=\"3 1\">0 0.5 1</Array></LUT1D>"), 3, "lut-clf", "0 and 2 was expected"},
	"index map, falls":   {list2(`<LUT1D` + depths32 + "><IndexMap dim=\"2\">1@0 0@2</IndexMap><Array dim=\"3 1\">0 0.5 1</Array></LUT1D>"), 3, "lut-clf", "must rise"},
}

func manyAttributes(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, " a%d=\"\"", i)
	}
	return b.String()
}

func TestBadCLFIsRefused(t *testing.T) {
	for name, c := range badCLF {
		t.Run(name, func(t *testing.T) {
			_, err := ReadCLF(strings.NewReader(c.text), "looks/bad.clf")
			checkFault(t, err, "looks/bad.clf", c.line, c.code, c.says)
		})
	}
}

func TestCLFSuggestions(t *testing.T) {
	for text, hint := range map[string]string{
		list(`<Matrx` + depths32 + "/>"):                                                  "did you mean Matrix?",
		list(`<Range` + depths32 + "><minInvalue>0</minInvalue></Range>"):                 "did you mean minInValue?",
		list(`<Exponent` + depths32 + ` style="basicFwdd"/>`):                             "did you mean basicFwd?",
		list(`<LUT1D` + depths32 + ` halfDomain="false"><Array dim="2 1"/></LUT1D>`):      "leave halfDomain out",
		list(`<Matrix inBitDepth="10" outBitDepth="32f"/>`):                               "8i, 10i, 12i, 16i, 16f or 32f",
		clfHead + `<ProcessList id="1" compCLFversion="4"/>`:                              "export it for version 3.0",
		`<?xml version="1.0" encoding="windows-1252"?><ProcessList/>`:                     "UTF-8",
		"<!DOCTYPE b [<!ENTITY x SYSTEM \"file:///etc/x\">]><ProcessList/>":               "remove the <!DOCTYPE",
		list(`<Range` + depths32 + ` style="noClamp"><minInValue>0</minInValue></Range>`): "the minima, the maxima, or all four",
	} {
		_, err := ReadCLF(strings.NewReader(text), "a.clf")
		checkHint(t, err, hint)
	}
}
