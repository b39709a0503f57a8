package draught

import (
	"cmp"

	"proofbell/geom"
	"proofbell/internal/words"
)

// mostTaken keeps one act within what a person can look over.
const mostTaken = 500

// take draws the rooms and walls that were found in a drawing made elsewhere, moved so that its lower left corner lies at
// At. What can not be drawn is passed over and said.
func (e *sheet) take(a Operation) error {
	if err := e.needStorey(); err != nil {
		return err
	}
	if a.Take == nil || len(a.Take.Rooms)+len(a.Take.Walls) == 0 {
		return e.refuse(words.Later("nothing was chosen"), words.Later("choose rooms or walls of the drawing"))
	}
	if len(a.Take.Rooms) > mostTaken || len(a.Take.Walls) > 4*mostTaken {
		return e.refuse(words.Later("the drawing has %d rooms and %d walls", len(a.Take.Rooms), len(a.Take.Walls)), words.Later("take at most %d rooms and %d walls at once", mostTaken, 4*mostTaken))
	}
	by := geom.Point{}
	if a.At != nil {
		by = *a.At
	}
	var first *no
	rooms, walls := 0, 0
	for _, r := range a.Take.Rooms {
		o := Operation{Name: r.Name, Material: a.Material, Thick: a.Thick}
		for _, p := range r.Points {
			o.Points = append(o.Points, p.Add(by))
		}
		if err := e.whole(o, (*sheet).room); err != nil {
			first = cmp.Or(first, err)
			e.goes = append(e.goes, e.lang.Say("%s is passed over: %s.", r.Name, err.say.In(e.lang)))
			continue
		}
		rooms++
	}
	for _, w := range a.Take.Walls {
		o := Operation{Points: []geom.Point{w.From.Add(by), w.To.Add(by)}, Material: a.Material, Thick: a.Thick}
		if err := e.whole(o, (*sheet).wall); err != nil {
			first = cmp.Or(first, err)
			continue
		}
		walls++
	}
	if rooms+walls == 0 {
		return first
	}
	e.said = words.Later("%d rooms and %d walls of the drawing", rooms, walls)
	return nil
}

// whole does a part of an act entirely or not at all.
func (e *sheet) whole(o Operation, op func(*sheet, Operation) error) *no {
	before, made, goes, touched := *e.site, len(e.made), len(e.goes), len(e.touched)
	next := lay(e.lang, e.site, e.storey)
	next.was, next.typed = e.was, nil
	next.touched, next.made, next.goes = e.touched, e.made, e.goes
	if err := next.do(op, o); err != nil {
		*e.site, e.made, e.goes, e.touched = before, e.made[:made], e.goes[:goes], e.touched[:touched]
		refused, _ := err.(*no)
		return refused
	}
	*e.site, e.made, e.goes, e.touched = *next.site, next.made, next.goes, next.touched
	return nil
}
