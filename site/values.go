package site

import (
	"encoding/json"
	"strings"
	"time"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// Coordinates are two or three lengths from the building's origin: x, y and, optionally, z (height above the ground floor).
type Coordinates []quantity.Length

// Point returns the place on the plan. ok is false while the place is not known.
func (c Coordinates) Point() (p geom.Point, ok bool) {
	if len(c) < 2 {
		return p, false
	}
	return geom.Point{X: c[0].SI(), Y: c[1].SI()}, true
}

// Height returns z in metres. ok is false while it is not known.
func (c Coordinates) Height() (z float64, ok bool) {
	if len(c) < 3 {
		return 0, false
	}
	return c[2].SI(), true
}

// Outline is the closed outline of a room, without the first corner repeated. Replaced whole by a patch.
type Outline []Coordinates

// Polygon returns the outline for geometry.
func (o Outline) Polygon() geom.Polygon {
	poly := make(geom.Polygon, 0, len(o))
	for _, c := range o {
		if p, ok := c.Point(); ok {
			poly = append(poly, p)
		}
	}
	return poly
}

// Date is a day, a month or a year: "2026-09-15", "2019-04", "2017". The zero value is "not known".
type Date struct{ text string }

var writeDate = words.Mark("write 2019-04-23, 2019-04 or 2019")

// ParseDate reads a full or partial date.
func ParseDate(text string) (Date, error) {
	layout := "2006-01-02"
	if !isDate(text) {
		return Date{}, &words.Error{Say: words.Later("%q is not a date", clip(text)), Try: words.Later(writeDate)}
	}
	if _, err := time.Parse(layout[:len(text)], text); err != nil {
		return Date{}, &words.Error{Say: words.Later("%q is not a day of the calendar", text), Try: words.Later(writeDate)}
	}
	return Date{text}, nil
}

// String returns the date as written.
func (d Date) String() string { return d.text }

// IsZero reports whether the date is not known.
func (d Date) IsZero() bool { return d.text == "" }

// First returns the first day that the date may mean, in UTC.
func (d Date) First() time.Time {
	t, _ := time.Parse("2006-01-02"[:len(d.text)], d.text)
	return t
}

// Last returns the last day that the date may mean, in UTC.
func (d Date) Last() time.Time {
	t := d.First()
	switch len(d.text) {
	case 4:
		return t.AddDate(1, 0, -1)
	case 7:
		return t.AddDate(0, 1, -1)
	}
	return t
}

// AddMonths returns the date that many months later, as precise as it was: 2019-04 and 120 months are 2029-04. A day that
// its month does not have gives way to the last one: 2024-02-29 and 12 months are 2025-02-28. The zero value stays zero.
func (d Date) AddMonths(months int) Date {
	if d.IsZero() {
		return d
	}
	if len(d.text) == 4 && months%12 != 0 { // months can not be counted on from a year: its first day may be meant
		return Date{AddMonths(d.First(), months).Format("2006-01")}
	}
	return Date{AddMonths(d.First(), months).Format("2006-01-02"[:len(d.text)])}
}

// AddMonths returns the same day that many months later, or the last day of a month that does not have it.
func AddMonths(t time.Time, months int) time.Time {
	first := time.Date(t.Year(), t.Month()+time.Month(months), 1, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), t.Location())
	last := time.Date(first.Year(), first.Month()+1, 0, 0, 0, 0, 0, time.UTC).Day()
	return first.AddDate(0, 0, min(t.Day(), last)-1)
}

// MarshalJSON writes the text.
func (d Date) MarshalJSON() ([]byte, error) { return json.Marshal(d.text) }

// UnmarshalJSON reads the text.
func (d *Date) UnmarshalJSON(raw []byte) error {
	var text string
	if err := json.Unmarshal(raw, &text); err != nil {
		text = strings.TrimSpace(string(raw)) // an unquoted year
	}
	v, err := ParseDate(text)
	if err != nil {
		return err
	}
	*d = v
	return nil
}
