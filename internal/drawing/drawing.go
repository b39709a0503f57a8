// Package drawing makes the plan of a storey as plain shapes in metres, from the site alone.
//
// One model serves the screen (SVG) and paper (PDF): both draw the same shapes, neither computes any.
package drawing

import "proofbell/geom"

// Plan is one storey, ready to draw. Coordinates are metres on the plan, y up.
type Plan struct {
	Storey  string     `json:"storey"`
	Name    string     `json:"name"`
	Min     geom.Point `json:"min"` // bounds of everything drawn
	Max     geom.Point `json:"max"`
	Rooms   []Room     `json:"rooms"`
	Walls   []Wall     `json:"walls"`
	Leaves  []Leaf     `json:"leaves"`
	Marks   []Mark     `json:"marks"`
	North   float64    `json:"north"`             // degrees clockwise from up
	Scale   float64    `json:"scale"`             // a round length for the scale bar, metres
	Missing []string   `json:"missing,omitempty"` // what could not be drawn and why, in words: "Linen store: no outline yet"
}

// Room is a room's outline and where its name stands.
type Room struct {
	ID      string       `json:"id"`
	Name    string       `json:"name"`
	Outline []geom.Point `json:"outline"`
	Lines   []string     `json:"lines"` // the name, broken so that it fits
	Label   geom.Point   `json:"label"` // middle of the lines
}

// Wall is one solid piece of wall, openings already cut out.
type Wall struct {
	ID      string       `json:"id"`
	Outline []geom.Point `json:"outline"`
	Hatch   string       `json:"hatch,omitempty"` // "stone" is hatched, anything else solid
}

// Leaf is a door or window in its opening.
type Leaf struct {
	ID    string     `json:"id"`
	Kind  string     `json:"kind"`
	From  geom.Point `json:"from"` // jambs
	To    geom.Point `json:"to"`
	Hinge geom.Point `json:"hinge"` // doors: where the leaf hangs
	Tip   geom.Point `json:"tip"`   // doors: end of the open leaf; the arc runs from Tip to the other jamb
	Swing bool       `json:"swing"` // whether leaf and arc are drawn
	Large bool       `json:"large"` // arc flag: false for the quarter circle
	Sweep bool       `json:"sweep"` // direction of the arc, in the drawing's y-up frame: true is anticlockwise
	Fire  bool       `json:"fire,omitempty"`
}

// Mark is a device or head on the plan.
type Mark struct {
	ID    string     `json:"id"`
	What  string     `json:"what"`  // device or head
	Shape string     `json:"shape"` // circle smoke or gas, triangle heat, square contact, segment motion, hexagon bridge, pentagon button, cross other
	At    geom.Point `json:"at"`
	Text  string     `json:"text"` // zone number, or the head's own name
	Say   string     `json:"say"`  // "Zone 13, Lounge smoke, in the lounge"
	Zones []string   `json:"zones,omitempty"`
}
