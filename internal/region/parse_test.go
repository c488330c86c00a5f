package region

import (
	"strings"
	"testing"

	"lampwise/internal/fault"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		text string
		want Region
	}{
		{"face-lit=41,22,6,9", Region{Name: FaceLit, Box: Box{0.41, 0.22, 0.06, 0.09}, Shape: ShapeBox}},
		{"work-bench-2=0,0,100,100", Region{Name: "work-bench-2", Box: Box{0, 0, 1, 1}, Shape: ShapeBox}},
		{"lamp=ellipse:70.5, 10 ,5,8.25", Region{Name: "lamp", Box: Box{0.705, 0.1, 0.05, 0.0825}, Shape: ShapeEllipse}},
		{"card=box:1e1,2,3,4", Region{Name: Card, Box: Box{0.1, 0.02, 0.03, 0.04}, Shape: ShapeBox}},
		{"chair=5,5,5,5", Region{Name: "chair", Box: Box{0.05, 0.05, 0.05, 0.05}, Shape: ShapeBox}},
	} {
		r, err := Parse(c.text)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		if r.Name != c.want.Name || r.Box != c.want.Box || r.Shape != c.want.Shape || r.Confidence != 1 {
			t.Errorf("%s: %+v", c.text, r)
		}
		if err := r.Check(); err != nil {
			t.Errorf("%s: %v", c.text, err)
		}
	}
}

func TestParseFaults(t *testing.T) {
	for _, c := range []struct{ text, code, hint string }{
		{"", "region-syntax", "name=x,y,w,h"},
		{"face-lit", "region-syntax", "name=x,y,w,h"},
		{"=1,2,3,4", "region-name", "name=x,y,w,h"},
		{"Face_Lit=1,2,3,4", "region-name", "write face-lit"},
		{"face lit=1,2,3,4", "region-name", "write face-lit"},
		{"-x=1,2,3,4", "region-name", "write x"},
		{"a--b=1,2,3,4", "region-name", "write a-b"},
		{"gesicht-ü=1,2,3,4", "region-name", "write gesicht"},
		{"facelit=1,2,3,4", "region-name", "Did you mean face-lit?"},
		{"face-shades=1,2,3,4", "region-name", "Did you mean face-shade?"},
		{"backgroud=1,2,3,4", "region-name", "Did you mean background?"},
		{strings.Repeat("a", 33) + "=1,2,3,4", "region-name", "shorter"},
		{"x=elipse:1,2,3,4", "region-shape", "Did you mean ellipse?"},
		{"x=star:1,2,3,4", "region-shape", "box or ellipse"},
		{"x=1,2,3", "region-syntax", "name=x,y,w,h"},
		{"x=1,2,3,4,5", "region-syntax", "name=x,y,w,h"},
		{"x=1,2,3,", "region-syntax", "name=x,y,w,h"},
		{"x=1,2,3,4%", "region-syntax", "Leave the % out"},
		{"x=1,2,NaN,4", "region-syntax", "name=x,y,w,h"},
		{"x=1,2,Inf,4", "region-syntax", "name=x,y,w,h"},
		{"x=1,2,0x10,4", "region-syntax", "name=x,y,w,h"},
		{"x=1,2,1_0,4", "region-syntax", "name=x,y,w,h"},
		{"x=-1,2,3,4", "region-box", "not pixels"},
		{"x=640,360,200,100", "region-box", "not pixels"},
		{"x=1,2,0,4", "region-box", "width and a height"},
		{"x=50,2,51,4", "region-box", "x+w and y+h"},
		{"x=40,50,70,90", "region-box", "write x=40,50,30,40"},
	} {
		_, err := Parse(c.text)
		f, ok := fault.As(err)
		if !ok {
			t.Errorf("%q: %v is no fault", c.text, err)
			continue
		}
		if f.Class != fault.Usage || f.Code != c.code || !strings.Contains(f.Hint, c.hint) {
			t.Errorf("%q: %s, %q, hint %q; want %s, hint with %q", c.text, f.Code, f.Message, f.Hint, c.code, c.hint)
		}
		if strings.Contains(f.Message, "\n") {
			t.Errorf("%q: more than one line: %q", c.text, f.Message)
		}
	}
}

func TestParseAll(t *testing.T) {
	if r, err := ParseAll([]string{"a=1,2,3,4", "b=1,2,3,4"}); err != nil || len(r) != 2 {
		t.Errorf("%v, %v", r, err)
	}
	_, err := ParseAll([]string{"a=1,2,3,4", "a=5,2,3,4"})
	if f, ok := fault.As(err); !ok || f.Code != "region-twice" {
		t.Errorf("a name given twice: %v", err)
	}
	_, err = ParseAll(make([]string, maxDrawn+1))
	if f, ok := fault.As(err); !ok || f.Code != "region-many" {
		t.Errorf("too many: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"face-lit=41,22,6,9", "a=ellipse:0,0,100,100", "x=1,2,3", "=,,,", "x=box:1e-9,1,1,1", "x=99.9999999,0,0.0000001,1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := Parse(text)
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("%q: %v is no fault", text, err)
			}
			return
		}
		if err := r.Check(); err != nil {
			t.Fatalf("%q passes Parse and not Check: %v", text, err)
		}
		if n := len(r.Pixels(64, 36)); n < 1 || n > 64*36 {
			t.Fatalf("%q: %d pixels", text, n)
		}
		// Written out in millionths of a per cent it reads as the same, unless
		// it's thinner than that.
		again, err := Parse(r.String())
		if err != nil {
			if r.Box.W < 1e-8 || r.Box.H < 1e-8 || r.Box.X+r.Box.W > 1-1e-8 || r.Box.Y+r.Box.H > 1-1e-8 {
				return
			}
			t.Fatalf("%q is written %q, which doesn't read: %v", text, r.String(), err)
		}
		if again.String() != r.String() {
			t.Fatalf("%q is written %q and then %q", text, r.String(), again.String())
		}
	})
}
