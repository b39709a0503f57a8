package reliability

import (
	"errors"
	"strings"
	"testing"
)

const example = `{"parts":{
 "sensor":{"rate":[2e-6,3e-6,5e-6],"test":"1 y"},
 "panel":{"rate":2e-6,"seen":0.75,"test":"1 y","repair":"24 h"},
 "a":{"unavailable":0.005},"b":{"rate":1e-5,"notice":"1 h","repair":"24 h"},"c":{"rate":4e-6,"coverage":0.7,"test":"1 y","renewal":"10 y"}},
 "works":{"all":["sensor","panel",{"least":2,"of":["a","b","c"]},{"any":["a","b"]}]}}`

func TestRead(t *testing.T) {
	s, top, err := Read([]byte(example))
	if err != nil {
		t.Fatal(err)
	}
	d, err := s.Diagram(0, top)
	if err != nil {
		t.Fatal(err)
	}
	if r := d.Ranges()[0]; !(r.Low > 0 && r.Low < r.Mid && r.Mid < r.High && r.High < 0.2) {
		t.Errorf("%v", r)
	}
}

func TestReadRefuses(t *testing.T) {
	for text, says := range map[string]string{
		``:                              "EOF",
		`{"parts":{}}`:                  "0 of them",
		`{"parts":{"a":{}}}`:            "parts/a: rate",
		`{"parts":{"a":{"rate":1e-6}}}`: "how long",
		`{"parts":{"a":{"rate":-1,"test":"1 y"}}}`:                                "rate",
		`{"parts":{"a":{"unavailable":2}},"works":"a"}`:                           "unavailable",
		`{"parts":{"a":{"unavailable":[0.3,0.2,0.1]}}}`:                           "rising",
		`{"parts":{"a":{"unavailable":0.1}},"works":"b"}`:                         `no part "b"`,
		`{"parts":{"a":{"unavailable":0.1}},"works":{"all":[]}}`:                  "works: no arrangement",
		`{"parts":{"a":{"unavailable":0.1}},"works":{"least":2,"of":["a"]}}`:      "no arrangement",
		`{"parts":{"a":{"unavailable":0.1}},"works":{"all":["a",{"any":["x"]}]}}`: "works/1/0",
		`{"parts":{"a":{"unavailable":0.1,"x":1}},"works":"a"}`:                   "unknown field",
		`{"parts":{"a":{"rate":1e-6,"test":"-1 y"}},"works":"a"}`:                 "test interval",
	} {
		_, _, err := Read([]byte(text))
		if !errors.Is(err, ErrFile) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", text, err, says)
		}
	}
}

// Whatever is read is solved or refused, and what is solved is a probability in order.
func FuzzRead(f *testing.F) {
	f.Add(example)
	f.Add(`{"parts":{"a":{"unavailable":[0,0.5,1]}},"works":{"any":["a","a"]}}`)
	f.Fuzz(func(t *testing.T, text string) {
		s, top, err := Read([]byte(text))
		if err != nil {
			return
		}
		d, err := s.Diagram(10_000, top)
		if err != nil {
			return
		}
		const dust = 1e-12
		if r := d.Ranges()[0]; !(r.Low >= 0 && r.Low <= r.Mid+dust && r.Mid <= r.High+dust && r.High <= 1+dust) {
			t.Errorf("%s: %v", text, r)
		}
		_, _ = d.CutSets(top, CutLimit{Sets: 100})
		d.Spreads(10, 1)
	})
}
