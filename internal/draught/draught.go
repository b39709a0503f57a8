// Package draught edits the drawing of a building: what a hand does on the plan becomes a merge patch of the site.
//
// Each operation is a pure function from a site and an Operation to a patch. Rooms share their walls: a wall is drawn once,
// is split where another room meets a part of it, and follows when a corner or a side is moved, with the openings in it
// and what is fixed to it. Whatever would leave a site that can not be drawn is refused, with its place and a remedy.
package draught

import (
	"encoding/json"
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// Operation is one operation on the drawing. Which members count depends on Op; places are metres on the plan, y up. Lengths
// that were typed come as they were typed ("9 ft 6 in") and are kept so.
type Operation struct {
	Op     string        `json:"op"` // see Ops
	Storey site.StoreyID `json:"storey,omitempty"`
	ID     string        `json:"id,omitempty"`   // what is changed; empty: something new
	Name   string        `json:"name,omitempty"` // of a room, storey or opening
	Use    string        `json:"use,omitempty"`  // room: its use

	Points []geom.Point `json:"points,omitempty"` // room: corners, or two opposite ones of a rectangle; divide, wall: the line; corner-in: the place
	Width  string       `json:"width,omitempty"`  // rectangle: across, as typed; opening: its width
	Depth  string       `json:"depth,omitempty"`  // rectangle: up the plan, as typed
	Corner int          `json:"corner,omitempty"` // of a room's outline, from 0
	Side   int          `json:"side,omitempty"`   // of a room's outline: from corner Side to the next
	At     *geom.Point  `json:"at,omitempty"`     // where it is put
	By     float64      `json:"by,omitempty"`     // side: moved outwards, metres; negative: inwards
	Length string       `json:"length,omitempty"` // side: how long it is to be, as typed; its far end moves
	Start  bool         `json:"start,omitempty"`  // side with length: its near end moves
	Whole  bool         `json:"whole,omitempty"`  // side: the whole straight run, other rooms' sides too

	Kind     string `json:"kind,omitempty"`  // opening; head
	Hinge    string `json:"hinge,omitempty"` // opening: start, end
	Swing    string `json:"swing,omitempty"` // opening: room id, out
	Open     bool   `json:"open,omitempty"`  // opening: stands open
	Fire     bool   `json:"fire,omitempty"`  // opening: a fire door
	What     string `json:"what,omitempty"`  // material: wall, side, opening
	Material string `json:"material,omitempty"`
	Thick    string `json:"thick,omitempty"`  // wall: thickness as typed
	Model    string `json:"model,omitempty"`  // device
	Height   string `json:"height,omitempty"` // device, head: above the floor, as typed; empty: by rule. storey: of its ceiling
	Level    string `json:"level,omitempty"`  // storey: height of its floor above the ground floor, as typed
	From     string `json:"from,omitempty"`   // storey: the one that is copied; join: the room that goes into ID

	Tracing *Trace    `json:"tracing,omitempty"` // trace
	Take    *Outlines `json:"take,omitempty"`    // take: rooms and walls of an imported drawing
}

// Acted is what an act does.
type Acted struct {
	Patch   site.Patch `json:"patch"`   // RFC 7396; null when refused
	Say     string     `json:"say"`     // what was done, for the log and a screen reader: "Kitchen, 12.0 m²"
	Made    []string   `json:"made"`    // JSON pointers of what is new: "/rooms/kitchen"
	Goes    []string   `json:"goes"`    // what goes with it or loses its place, a sentence each
	Refused *Refusal   `json:"refused"` // nil: it can be done
}

// Refusal says why an act can not be done.
type Refusal struct {
	Say string      `json:"say"`
	Try string      `json:"try"`
	At  *geom.Point `json:"at"` // where on the plan; nil: nowhere in particular
}

// Ops are the operations by name.
var ops = map[string]func(*sheet, Operation) error{
	"room": (*sheet).room, "opening": (*sheet).opening, "device": (*sheet).device, "head": (*sheet).head,
	"corner": (*sheet).corner, "side": (*sheet).side, "corner-in": (*sheet).cornerIn, "corner-out": (*sheet).cornerOut,
	"divide": (*sheet).divide, "join": (*sheet).join, "room-out": (*sheet).roomOut, "move": (*sheet).move,
	"opening-out": (*sheet).openingOut, "wall": (*sheet).wall, "wall-out": (*sheet).wallOut, "material": (*sheet).material,
	"storey": (*sheet).newStorey, "trace": (*sheet).trace, "take": (*sheet).take,
}

// Do works an act out. It never changes s. What can not be done is said in Acted.Refused.
func Do(lang *words.Language, s *site.Site, a Operation) Acted {
	out, _ := Try(lang, s, a)
	return out
}

// Try is Do, with the site as it would be: for a preview, unchecked. It is s itself when the act is refused.
func Try(lang *words.Language, s *site.Site, a Operation) (Acted, *site.Site) {
	e := lay(lang, s, a.Storey)
	op := ops[a.Op]
	err := error(e.refuse(words.Later("the plan knows no operation %q", a.Op), words.Later("reload the page")))
	if op != nil {
		err = e.do(op, a)
	}
	if no, refused := err.(*no); refused {
		return Acted{Made: []string{}, Goes: []string{}, Refused: no.in(lang)}, s
	}
	return Acted{Patch: e.patch(), Say: e.said.In(lang), Made: e.made, Goes: e.goes}, e.site
}

// do does an operation whose places can be.
func (e *sheet) do(op func(*sheet, Operation) error, a Operation) error {
	places := a.Points
	if a.At != nil {
		places = append(slices.Clone(places), *a.At)
	}
	for _, p := range append(places, geom.Point{X: a.By}) {
		if far := max(math.Abs(p.X), math.Abs(p.Y)); !(far < 1e4) { // or no number
			return e.refuse(words.Later("a place lies more than 10 km away"), words.Later("check the lengths and their units"))
		}
	}
	return op(e, a)
}

// no is a refusal while it is not yet said to anybody.
type no struct {
	say, try words.Text
	at       *geom.Point
}

func (n *no) Error() string { return n.say.String() }

func (n *no) in(lang *words.Language) *Refusal {
	return &Refusal{Say: words.Upper(n.say.In(lang)) + ".", Try: words.Upper(n.try.In(lang)) + ".", At: n.at}
}

func (e *sheet) refuse(say, try words.Text) *no { return &no{say: say, try: try} }

func (e *sheet) refuseAt(at geom.Point, say, try words.Text) *no {
	return &no{say: say, try: try, at: &at}
}

// patch returns what was touched as a merge patch.
func (e *sheet) patch() site.Patch {
	before, _ := json.Marshal(e.members(e.was)) // values of a site: can not fail
	after, _ := json.Marshal(e.members(e.site))
	p, _ := site.Diff(before, after)
	return p
}

// touch names a member that was changed.
type touch struct{ of, id string }

// members are those of a site that were touched.
func (e *sheet) members(s *site.Site) map[string]any {
	out := map[string]any{}
	for _, t := range e.touched {
		if t.of == "panel" {
			out[t.of] = s.Panel
			continue
		}
		all, _ := out[t.of].(map[string]any)
		if all == nil { // also when nothing is left of it: the patch takes out members, not the collection
			all = map[string]any{}
			out[t.of] = all
		}
		if v, ok := member(s, t); ok {
			all[t.id] = v
		}
	}
	return out
}

// member is what a site has of it.
func member(s *site.Site, t touch) (v any, there bool) {
	switch t.of {
	case "storeys":
		v, there = s.Storeys[site.StoreyID(t.id)]
	case "rooms":
		v, there = s.Rooms[site.RoomID(t.id)]
	case "materials":
		v, there = s.Materials[site.MaterialID(t.id)]
	case "walls":
		v, there = s.Walls[site.WallID(t.id)]
	case "openings":
		v, there = s.Openings[site.OpeningID(t.id)]
	case "devices":
		v, there = s.Devices[site.DeviceID(t.id)]
	case "heads":
		v, there = s.Heads[site.HeadID(t.id)]
	}
	return v, there
}
