package drawing

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
)

// The hall is 6 by 4 m; its south wall is 0.2 m thick, so the line of its size lies 0.25 m within the face: at 0.35.
func TestSizesOfSides(t *testing.T) {
	s := decode(t, room)
	got := Sizes(nil, s, "g", nil)
	if len(got) != 4 || got[0].Say != "6.00 m" || got[1].Say != "4.00 m" || got[0].M != 6 || math.Abs(got[0].From.Y-0.35) > 1e-9 || got[0].To.X != 6 {
		t.Errorf("%+v", got)
	}
	s.Premises.Units = "imperial" // 4 m are 13 ft 1.48 in
	if got := Sizes(nil, s, "g", nil); got[1].Say != "13 ft 1.5 in" {
		t.Errorf("%+v", got[1])
	}
}

func TestTheStoreyBelow(t *testing.T) {
	s := decode(t, `storeys: {g: {name: Ground, level: 0 m}, u: {name: Upper, level: 2.9 m}, c: {name: Cellar, level: -2.5 m}}`)
	if id, ok := Below(s, "u"); !ok || id != "g" {
		t.Error(id)
	}
	if id, ok := Below(s, "g"); !ok || id != "c" {
		t.Error(id)
	}
	if id, ok := Below(s, "c"); ok {
		t.Error(id)
	}
}

// The picture is sound XML, to a scale of 1:50, and holds names, sizes, doors and marks.
func TestPictureOfAPlan(t *testing.T) {
	s := decode(t, room+`
openings: {d: {storey: g, kind: door, at: [2, 0], width: 1 m, rooms: [hall]}, w: {storey: g, kind: window, at: [4, 0], width: 1 m, rooms: [hall]}}
models: {smoke: {name: "A & <B>", class: smoke}}
devices: {d: {model: smoke, room: hall, at: [3, 2]}}
`)
	p := Storeys(s)[0]
	raw := p.SVG(Sheet{Sizes: Sizes(nil, s, "g", nil), Below: &p})
	texts, arcs := "", 0
	d := xml.NewDecoder(strings.NewReader(string(raw)))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.CharData:
			texts += strings.TrimSpace(string(e)) + "|"
		case xml.StartElement:
			for _, a := range e.Attr {
				if a.Name.Local == "d" && strings.Contains(a.Value, "A200.0 200.0") { // a leaf of 1 m
					arcs++
				}
				if e.Name.Local == "svg" && a.Name.Local == "width" && a.Value != "160.0mm" { // 6 m and a metre at each side, 1:50
					t.Errorf("the sheet is %s wide", a.Value)
				}
			}
		}
	}
	for _, want := range []string{"Hall", "6.00 m", "4.00 m", "A & <B>, in Hall", "1:50", "N"} {
		if !strings.Contains(texts, want) {
			t.Errorf("%q is not in %s", want, texts)
		}
	}
	if strings.Count(texts, "6.00 m") != 1 || arcs != 1 {
		t.Errorf("%d arcs, texts %s", arcs, texts)
	}
}
