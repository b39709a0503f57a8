package reliability

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// ErrFile marks a system file that can not be read. The error's text says where and what to do.
var ErrFile = errors.New("not a system file")

// Bounds of a system file.
const (
	mostBytes = 1 << 20
	mostParts = 5000
	mostDepth = 50
)

// filePart is one part of a system file.
type filePart struct {
	Unavailable numbers           `json:"unavailable"` // a probability, or three: low, middle, high
	Rate        numbers           `json:"rate"`        // failures an hour, instead
	Test        quantity.Duration `json:"test"`        // interval of the test that shows them
	Notice      quantity.Duration `json:"notice"`      // time until a failure is reported
	Repair      quantity.Duration `json:"repair"`
	Seen        float64           `json:"seen"`     // share of failures seen at once, with test
	Coverage    *float64          `json:"coverage"` // share of failures that the test shows, with renewal
	Renewal     quantity.Duration `json:"renewal"`
	Kind        string            `json:"kind"` // parts of one kind are better or worse together
}

// numbers is one number or three.
type numbers []float64

// UnmarshalJSON reads either.
func (n *numbers) UnmarshalJSON(raw []byte) error {
	if len(raw) > 0 && raw[0] == '[' {
		return json.Unmarshal(raw, (*[]float64)(n))
	}
	var one float64
	if err := json.Unmarshal(raw, &one); err != nil {
		return err
	}
	*n = numbers{one, one, one}
	return nil
}

func (n numbers) span() (r Range, ok bool) {
	if len(n) != 3 || !(n[0] >= 0 && n[0] <= n[1] && n[1] <= n[2]) {
		return r, false
	}
	return Range{n[0], n[1], n[2]}, true
}

// Read builds a system from a system file in JSON (docs/cli.md) and returns what it says works.
func Read(text []byte) (*System, Node, error) {
	refuse := func(say words.Text, try words.Text) (*System, Node, error) {
		return nil, 0, fmt.Errorf("%w: %w", &words.Error{Say: say, Try: try}, ErrFile)
	}
	if len(text) > mostBytes {
		return refuse(words.Later("the file is larger than %d bytes", mostBytes), words.Later("describe a smaller system"))
	}
	var file struct {
		Parts map[string]filePart `json:"parts"`
		Works json.RawMessage     `json:"works"`
	}
	if err := strict(text, &file); err != nil {
		return refuse(words.Later("%s", words.Said(err)), words.Later("see docs/cli.md"))
	}
	if len(file.Parts) == 0 || len(file.Parts) > mostParts {
		return refuse(words.Later("parts: %d of them", len(file.Parts)), words.Later("name 1 to %d", mostParts))
	}
	s := &System{}
	var ids []string
	for id := range file.Parts {
		ids = append(ids, id)
	}
	sorts.By(ids, func(a, b string) int {
		if a < b {
			return -1
		}
		return 1
	})
	nodes := map[string]Node{}
	for _, id := range ids {
		u, err := file.Parts[id].figure()
		if err != nil {
			return refuse(words.Later("parts/%s: %s", id, words.Said(err)), words.Later("give unavailable, or rate with test, or rate with notice and repair"))
		}
		nodes[id] = s.Part(Part{ID: id, Unavailable: u, Rate: file.Parts[id].Kind})
	}
	top, err := s.works(file.Works, nodes, "works", 0)
	if err != nil {
		return refuse(words.Said(err), words.Later("write the id of a part, or {all: [...]}, {any: [...]}, {least: 2, of: [...]}"))
	}
	return s, top, nil
}

// strict reads JSON that may hold nothing unknown and nothing after it.
func strict(text []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return err
	}
	if d.More() {
		return &words.Error{Say: words.Later("something stands after the end")}
	}
	return nil
}

func (p filePart) figure() (Range, error) {
	hours := func(d quantity.Duration) float64 { return d.SI() / 3600 }
	if len(p.Unavailable) > 0 {
		r, ok := p.Unavailable.span()
		if !ok || !r.Valid() || len(p.Rate) > 0 {
			return r, &words.Error{Say: words.Later("unavailable is no probability from 0 to 1, or three of them rising, or stands beside a rate")}
		}
		return r, nil
	}
	r, ok := p.Rate.span()
	if !ok {
		return r, &words.Error{Say: words.Later("rate is no number of failures an hour, or three of them rising")}
	}
	model := func(rate float64) (float64, error) {
		switch {
		case p.Coverage != nil:
			return PartlyTested(rate, *p.Coverage, hours(p.Test), hours(p.Renewal))
		case p.Seen != 0:
			return Diagnosed(rate, p.Seen, hours(p.Test), hours(p.Repair))
		case !p.Test.IsZero():
			return Tested(rate, hours(p.Test))
		case !p.Notice.IsZero() || !p.Repair.IsZero():
			return Supervised(rate, hours(p.Notice), hours(p.Repair))
		}
		return math.NaN(), &words.Error{Say: words.Later("a rate alone says nothing of how long a failure lasts")}
	}
	low, err1 := model(r.Low)
	mid, err2 := model(r.Mid)
	high, err3 := model(r.High)
	return Range{low, mid, high}, errors.Join(err1, err2, err3)
}

func (s *System) works(raw json.RawMessage, nodes map[string]Node, where string, depth int) (Node, error) {
	if depth > mostDepth {
		return 0, &words.Error{Say: words.Later("%s: deeper than %d", where, mostDepth)}
	}
	var id string
	if json.Unmarshal(raw, &id) == nil {
		n, ok := nodes[id]
		if !ok {
			return 0, &words.Error{Say: words.Later("%s: there is no part %q", where, id)}
		}
		return n, nil
	}
	var a struct {
		All   []json.RawMessage `json:"all"`
		Any   []json.RawMessage `json:"any"`
		Least int               `json:"least"`
		Of    []json.RawMessage `json:"of"`
	}
	if err := strict(raw, &a); err != nil {
		return 0, &words.Error{Say: words.Later("%s: %s", where, words.Said(err))}
	}
	given := 0
	var list []json.RawMessage
	for _, one := range [][]json.RawMessage{a.All, a.Any, a.Of} {
		if one != nil {
			given++
			list = one
		}
	}
	if given != 1 || len(list) == 0 || (a.Of != nil) != (a.Least != 0) || a.Of != nil && (a.Least < 1 || a.Least > len(a.Of)) {
		return 0, &words.Error{Say: words.Later("%s: no arrangement", where)}
	}
	var of []Node
	for i, one := range list {
		n, err := s.works(one, nodes, fmt.Sprintf("%s/%d", where, i), depth+1)
		if err != nil {
			return 0, err
		}
		of = append(of, n)
	}
	switch {
	case a.All != nil:
		return s.All(of...), nil
	case a.Any != nil:
		return s.Any(of...), nil
	}
	return s.AtLeast(a.Least, of...), nil
}
