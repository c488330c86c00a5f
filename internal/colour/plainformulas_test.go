package colour

import (
	"math"
)

// plainFormula is a curve exactly as its source prints it, with math.Log10
// and math.Pow and nothing precomputed: the slow, obvious judge of Encode and Decode.
type plainFormula struct {
	encode, decode func(float64) float64
	// step is the published mismatch of the two pieces, in y; between the
	// pieces' ends Decode may differ from the published decoding by as much
	// light as step is worth.
	stepFrom, stepTo float64 // the y it touches
	decodeRelative   float64 // published rounding of the decoding's own constants
}

func log10(x float64) float64 { return math.Log10(x) }
func pow10(y float64) float64 { return math.Pow(10, y) }

var plainFormulas = map[string]plainFormula{
	"log-420": {
		encode: func(x float64) float64 {
			if x >= 0.01125000 {
				return (420 + log10((x+0.01)/(0.18+0.01))*261.5) / 1023
			}
			return (x*(171.2102946929-95)/0.01125000 + 95) / 1023
		},
		decode: func(y float64) float64 {
			if y >= 171.2102946929/1023 {
				return pow10((y*1023-420)/261.5)*(0.18+0.01) - 0.01
			}
			return (y*1023 - 95) * 0.01125000 / (171.2102946929 - 95)
		},
	},
	"log-433": {
		encode: func(x float64) float64 {
			if x < 0.01 {
				return 5.6*x + 0.125
			}
			return 0.241514*log10(x+0.00873) + 0.598206
		},
		decode: func(y float64) float64 {
			if y < 0.181 {
				return (y - 0.125) / 5.6
			}
			return pow10((y-0.598206)/0.241514) - 0.00873
		},
	},
	"log-400a": {
		encode: func(x float64) float64 {
			if x > 0.010591 {
				return 0.247190*log10(5.555556*x+0.052272) + 0.385537
			}
			return 5.367655*x + 0.092809
		},
		decode: func(y float64) float64 {
			if y > 5.367655*0.010591+0.092809 {
				return (pow10((y-0.385537)/0.247190) - 0.052272) / 5.555556
			}
			return (y - 0.092809) / 5.367655
		},
		stepFrom: 0.14965, stepTo: 0.14966,
	},
	"log-285": {
		encode: func(x float64) float64 {
			a, b, c, s, t := log285Numbers()
			if x >= t {
				return (math.Log2(a*x+64)-6)/14*b + c
			}
			return (x - t) / s
		},
		decode: func(y float64) float64 {
			a, b, c, s, t := log285Numbers()
			if y >= 0 {
				return (math.Pow(2, 14*((y-c)/b)+6) - 64) / a
			}
			return y*s + t
		},
	},
	"log-407": {
		encode: func(x float64) float64 {
			t := x / 0.9
			if t < 0 {
				return -(0.24136077*log10(-87.09937546*t+1) - 0.092864125)
			}
			return 0.24136077*log10(87.09937546*t+1) + 0.092864125
		},
		decode: func(y float64) float64 {
			if y < 0.092864125 {
				return 0.9 * -(pow10((0.092864125-y)/0.24136077) - 1) / 87.09937546
			}
			return 0.9 * (pow10((y-0.092864125)/0.24136077) - 1) / 87.09937546
		},
	},
	"log-351a": {
		encode: func(x float64) float64 {
			t := x / 0.9
			switch {
			case t < -0.014:
				return -0.36726845*log10(-14.98325*t+1) + 0.12783901
			case t <= 0.014:
				return 1.9754798*t + 0.12512219
			}
			return 0.36726845*log10(14.98325*t+1) + 0.12240537
		},
		decode: func(y float64) float64 {
			switch {
			case y < 0.097465473:
				return 0.9 * -(pow10((0.12783901-y)/0.36726845) - 1) / 14.98325
			case y <= 0.15277891:
				return 0.9 * (y - 0.12512219) / 1.9754798
			}
			return 0.9 * (pow10((y-0.12240537)/0.36726845) - 1) / 14.98325
		},
	},
	"log-351b": {
		encode: func(x float64) float64 {
			t := x / 0.9
			if t < 0 {
				return -(0.45310179*log10(-10.1596*t+1) - 0.12512248)
			}
			return 0.45310179*log10(10.1596*t+1) + 0.12512248
		},
		decode: func(y float64) float64 {
			if y < 0.12512248 {
				return 0.9 * -(pow10((0.12512248-y)/0.45310179) - 1) / 10.1596
			}
			return 0.9 * (pow10((y-0.12512248)/0.45310179) - 1) / 10.1596
		},
	},
	"log-470": {
		encode: func(x float64) float64 {
			if x >= 0.000890 {
				return 0.344676*log10(0.555556*x+0.009468) + 0.790453
			}
			return 8.735631*x + 0.092864
		},
		decode: func(y float64) float64 {
			if y >= 0.100537775223865 {
				return (pow10((y-0.790453)/0.344676) - 0.009468) / 0.555556
			}
			return (y - 0.092864) / 8.735631
		},
	},
	"log-400b": {
		encode: func(x float64) float64 {
			if x >= 0.000889 {
				return 0.245281*log10(5.555556*x+0.064829) + 0.384316
			}
			return 8.799461*x + 0.092864
		},
		decode: func(y float64) float64 {
			if y >= 0.100686685370811 {
				return (pow10((y-0.384316)/0.245281) - 0.064829) / 5.555556
			}
			return (y - 0.092864) / 8.799461
		},
	},
	"log-372": {
		encode: func(x float64) float64 {
			if x < 0.328 {
				return 650 * math.Copysign(math.Pow(math.Abs(x+0.0075), 1.0/3), x+0.0075) / 1023
			}
			return (150*math.Log(x) + 619) / 1023
		},
		decode: func(y float64) float64 {
			if code := y * 1023; code < 452 {
				return math.Pow(code/650, 3) - 0.0075
			}
			return math.Exp((y*1023 - 619) / 150)
		},
		// The encoding leaves 451.65..451.79 unused; the decoding's printed cut is 452.
		stepFrom: 451.6 / 1023, stepTo: 452.0 / 1023,
	},
	"log-445": {
		encode: func(x float64) float64 {
			if x <= 0.006 {
				return 8*x + 0.09
			}
			return 0.27*log10(1.3*x+0.0115) + 0.6
		},
		decode: func(y float64) float64 {
			if y <= 0.1380 {
				return (y - 0.09) / 8
			}
			return (pow10((y-0.6)/0.27) - 0.0115) / 1.3
		},
	},
	"log-392": {
		encode: func(x float64) float64 {
			if x < 0.005 {
				return 8.283605932402494*x + 0.09246575342465753
			}
			return 0.08692876065491224*math.Log(x+0.005494072432257808) + 0.5300133392291939
		},
		decode: func(y float64) float64 {
			if y < 8.283605932402494*0.005+0.09246575342465753 {
				return (y - 0.09246575342465753) / 8.283605932402494
			}
			return math.Exp((y-0.5300133392291939)/0.08692876065491224) - 0.005494072432257808
		},
	},
	"log-341": {
		encode: func(x float64) float64 {
			if t := x + 0.01; t < 0 {
				return 15.1927 * t
			}
			return 0.224282 * log10(155.975327*(x+0.01)+1)
		},
		decode: func(y float64) float64 {
			if y < 0 {
				return y/15.1927 - 0.01
			}
			return (pow10(y/0.224282)-1)/155.975327 - 0.01
		},
	},
	"log-408": {
		encode: func(x float64) float64 {
			if x <= 0.0078 {
				return 6.025*x + 0.0929
			}
			return 0.256663*log10(0.9892*x+0.0108) + 0.584555
		},
		decode: func(y float64) float64 {
			if y <= 0.14 {
				return (y - 0.0929) / 6.025
			}
			return (pow10(3.89616*y-2.27752) - 0.0108) / 0.9892
		},
		stepFrom: 0.1398, stepTo: 0.1401,
		// 3.89616 and 2.27752 stand for 1/0.256663 and 0.584555/0.256663.
		decodeRelative: 3e-6,
	},
	"log-500": {
		encode: func(x float64) float64 {
			switch {
			case x < -0.05641088:
				return 0
			case x < 0.01:
				return 47.28711236 * math.Pow(x+0.05641088, 2)
			}
			return 0.08550479*math.Log2(x+0.00964052) + 0.69336945
		},
		decode: func(y float64) float64 {
			switch cut := 47.28711236 * math.Pow(0.01+0.05641088, 2); {
			case y <= 0:
				return -0.05641088
			case y < cut:
				return math.Sqrt(y/47.28711236) - 0.05641088
			}
			return math.Pow(2, (y-0.69336945)/0.08550479) - 0.00964052
		},
	},
	"log-347": {
		encode: func(x float64) float64 {
			t := x * (155.0 / 219) / 0.9
			v := 5*t + 0.030001222851889303
			if t >= 0 {
				v = 0.432699*log10(t+0.037584) + 0.616596 + 0.03
			}
			return (64 + 876*v) / 1023
		},
		decode: func(y float64) float64 {
			v := (y*1023 - 64) / 876
			t := (v - 0.030001222851889303) / 5
			if t >= 0 {
				t = pow10((v-0.616596-0.03)/0.432699) - 0.037584
			}
			return t * 0.9 / (155.0 / 219)
		},
	},
	"intermediate-344": {
		encode: func(x float64) float64 {
			if x <= 0.00262409 {
				return 10.44426855 * x
			}
			return 0.07329248 * (math.Log2(x+0.0075) + 7)
		},
		decode: func(y float64) float64 {
			if y <= 0.02740668 {
				return y / 10.44426855
			}
			return math.Pow(2, y/0.07329248-7) - 0.0075
		},
		stepFrom: 0.0274066, stepTo: 0.0274068,
	},
	"acescct": {
		encode: func(x float64) float64 {
			if x <= 0.0078125 {
				return 10.5402377416545*x + 0.0729055341958355
			}
			return (math.Log2(x) + 9.72) / 17.52
		},
		decode: func(y float64) float64 {
			if y <= 0.155251141552511 {
				return (y - 0.0729055341958355) / 10.5402377416545
			}
			return math.Pow(2, y*17.52-9.72)
		},
	},
	"acescc": {
		encode: func(x float64) float64 {
			switch {
			case x <= 0:
				return (math.Log2(math.Pow(2, -16)) + 9.72) / 17.52
			case x < math.Pow(2, -15):
				return (math.Log2(math.Pow(2, -16)+x*0.5) + 9.72) / 17.52
			}
			return (math.Log2(x) + 9.72) / 17.52
		},
		decode: func(y float64) float64 {
			if y <= (9.72-15)/17.52 {
				return (math.Pow(2, y*17.52-9.72) - math.Pow(2, -16)) * 2
			}
			return math.Pow(2, y*17.52-9.72)
		},
	},
}
