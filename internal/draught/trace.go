package draught

import (
	"math"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Trace says what a storey is traced over: a picture under the plan, and how it lies there. What is left out stays as it is.
type Trace struct {
	Blob   string       `json:"blob,omitempty"`   // content address of the picture; empty: the one that is there
	Width  int          `json:"width,omitempty"`  // pixels
	Height int          `json:"height,omitempty"` // pixels
	At     *geom.Point  `json:"at,omitempty"`     // where its upper left corner lies on the plan
	Pixels []geom.Point `json:"pixels,omitempty"` // two places in the picture, in pixels from its upper left corner, x right and y down
	Length string       `json:"length,omitempty"` // how far these two are apart in the building, as typed
	Level  bool         `json:"level,omitempty"`  // turn it so that the line between them lies along an axis of the plan
	Turn   *float64     `json:"turn,omitempty"`   // degrees anticlockwise about its upper left corner
	Off    bool         `json:"off,omitempty"`    // take the picture away
}

// trace lays a picture under a storey, sets its scale by two places and their true distance, moves or turns it, or takes it away.
func (e *sheet) trace(a Operation) error {
	if err := e.needStorey(); err != nil {
		return err
	}
	s := e.site.Storeys[e.storey]
	e.touch("storeys", string(e.storey))
	if a.Tracing == nil || a.Tracing.Off {
		s.Tracing = nil
		e.site.Storeys[e.storey] = s
		e.said = words.Later("The picture under %s is taken away", s.Name)
		return nil
	}
	t := site.Tracing{}
	if s.Tracing != nil {
		t = *s.Tracing
	}
	w := a.Tracing
	if w.Blob != "" && w.Blob != t.Blob {
		if w.Width < 1 || w.Height < 1 || w.Width > 100000 || w.Height > 100000 {
			return e.refuse(words.Later("a picture can not be %d by %d pixels", w.Width, w.Height), words.Later("choose another picture"))
		}
		// Ten metres across until somebody says how far two places are apart.
		t = site.Tracing{Blob: w.Blob, Width: w.Width, Height: w.Height, Scale: 10 / float64(w.Width)}
		t.At = e.place(geom.Point{X: 0, Y: t.Scale * float64(w.Height)})
	}
	if t.Blob == "" {
		return e.refuse(words.Later("there is no picture under %s", s.Name), words.Later("choose a photograph, an image or a page of a PDF first"))
	}
	if w.At != nil {
		t.At = e.place(geom.Point{X: quantity.Round(w.At.X, 3), Y: quantity.Round(w.At.Y, 3)})
	}
	if w.Turn != nil {
		t.Turn = quantity.Round(math.Mod(*w.Turn, 360), 3)
	}
	if len(w.Pixels) > 0 || w.Length != "" {
		if err := e.scale(&t, w); err != nil {
			return err
		}
	}
	s.Tracing = &t
	e.site.Storeys[e.storey] = s
	e.said = words.Later("Picture under %s, %s wide", s.Name, e.show(t.Scale*float64(t.Width)))
	return nil
}

// scale sets metres per pixel from two places and their true distance. The first of them keeps its place on the plan.
func (e *sheet) scale(t *site.Tracing, w *Trace) error {
	if len(w.Pixels) != 2 {
		return e.refuse(words.Later("the scale is set by two places in the picture"), words.Later("tap two places that are far apart, and write their distance"))
	}
	p, q := w.Pixels[0], w.Pixels[1]
	far := p.Distance(q)
	if far < 10 {
		return e.refuse(words.Later("the two places are less than 10 pixels apart"), words.Later("tap two places that are far apart: the farther, the better the scale"))
	}
	length, err := e.read(w.Length, words.Later("distance"))
	if err != nil {
		return err
	}
	if length.SI() < 0.1 || length.SI() > 10000 {
		return e.refuse(words.Later("a distance of %s can not be", w.Length), words.Later("write a length between 0.1 m and 10 km"))
	}
	still := OnPlan(*t, p)
	t.Scale = length.SI() / far
	if w.Level {
		// The line runs at this angle in the picture, y up; the nearest axis is where it belongs.
		angle := math.Atan2(-(q.Y-p.Y), q.X-p.X) * 180 / math.Pi
		turned := angle + t.Turn
		t.Turn = quantity.Round(t.Turn+math.Round(turned/90)*90-turned, 3)
	}
	t.At = nil
	at := still.Sub(OnPlan(*t, p))
	t.At = site.Coordinates{metres(at.X), metres(at.Y)}
	return nil
}

// OnPlan returns where a place in a picture, in pixels from its upper left corner, lies on the plan.
func OnPlan(t site.Tracing, pixel geom.Point) geom.Point {
	at, _ := t.At.Point()
	sin, cos := math.Sincos(t.Turn * math.Pi / 180)
	x, y := pixel.X*t.Scale, -pixel.Y*t.Scale
	return at.Add(geom.Point{X: x*cos - y*sin, Y: x*sin + y*cos})
}
