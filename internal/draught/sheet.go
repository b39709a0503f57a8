package draught

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

const (
	// touching is the distance in metres under which two places of a drawing are one: hands and tapes are not finer, and a
	// corner on a slanted wall is rounded to a millimetre.
	touching = 0.005
	// sameLine is how far a coordinate may be from one that is drawn already to be taken for it, metres.
	sameLine = 0.0006
	// reach is how far from a wall an opening may be put down, metres.
	reach = 0.6
	// thick is the thickness of a wall of which nobody said any; partitions are about so.
	thick = "0.1 m"
)

// sheet is one storey while an act is being done to it.
type sheet struct {
	lang   *words.Language
	was    *site.Site
	site   *site.Site // its collections are copies, its values are not: nothing is changed in place
	storey site.StoreyID

	touched []touch
	made    []string
	goes    []string
	said    words.Text
	typed   map[int64]quantity.Length // lengths as typed, by tenths of a millimetre
}

func lay(lang *words.Language, was *site.Site, storey site.StoreyID) *sheet {
	s := *was
	s.Storeys, s.Rooms, s.Walls, s.Openings = cloned(was.Storeys), cloned(was.Rooms), cloned(was.Walls), cloned(was.Openings)
	s.Materials, s.Devices, s.Heads = cloned(was.Materials), cloned(was.Devices), cloned(was.Heads)
	return &sheet{lang: lang, was: was, site: &s, storey: storey, made: []string{}, goes: []string{}}
}

func cloned[M ~map[K]V, K comparable, V any](m M) M {
	if m == nil {
		return M{}
	}
	return maps.Clone(m)
}

func (e *sheet) touch(of, id string) {
	if t := (touch{of, id}); !slices.Contains(e.touched, t) {
		e.touched = append(e.touched, t)
	}
}

func (e *sheet) setRoom(id site.RoomID, r site.Room) {
	e.touch("rooms", string(id))
	e.site.Rooms[id] = r
	if e.typed != nil {
		e.note(r.Outline...)
	}
}

func (e *sheet) setWall(id site.WallID, w site.Wall) {
	e.touch("walls", string(id))
	e.site.Walls[id] = w
}

func (e *sheet) setOpening(id site.OpeningID, o site.Opening) {
	e.touch("openings", string(id))
	e.site.Openings[id] = o
}

func (e *sheet) setDevice(id site.DeviceID, d site.Device) {
	e.touch("devices", string(id))
	e.site.Devices[id] = d
}

func (e *sheet) setHead(id site.HeadID, h site.Head) {
	e.touch("heads", string(id))
	e.site.Heads[id] = h
}

func (e *sheet) new(of, id string) { e.made = append(e.made, "/"+of+"/"+id) }

// free returns an id that reads like a name and that nothing of its kind has: its words in small letters, with a number
// when they are taken.
func free(name string, taken func(string) bool) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch r {
		case 'ä', 'à', 'á', 'â', 'å':
			b.WriteByte('a')
		case 'ö', 'ò', 'ó', 'ô', 'ø':
			b.WriteByte('o')
		case 'ü', 'ù', 'ú', 'û':
			b.WriteByte('u')
		case 'é', 'è', 'ê', 'ë':
			b.WriteByte('e')
		case 'í', 'ì', 'î', 'ï':
			b.WriteByte('i')
		case 'ç':
			b.WriteByte('c')
		case 'ñ':
			b.WriteByte('n')
		case 'ß':
			b.WriteString("ss")
		default:
			if r < 'a' || r > 'z' {
				if r < '0' || r > '9' {
					r = '-'
				}
			}
			if text := b.String(); r != '-' || text != "" && text[len(text)-1] != '-' {
				b.WriteRune(r)
			}
		}
	}
	base := strings.Trim(b.String()[:min(b.Len(), 26)], "-")
	if base == "" {
		base = "new"
	}
	id := base
	for n := 2; taken(id); n++ {
		id = base + "-" + strconv.Itoa(n)
	}
	return id
}

// length writes a coordinate: as typed where that very length is drawn already, else to the millimetre, or to the quarter
// of an inch where the site is in feet.
func (e *sheet) length(v float64) quantity.Length {
	e.learn()
	key := int64(math.Round(v * 1e4))
	for _, d := range []int64{0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6} {
		if t, ok := e.typed[key+d]; ok && math.Abs(t.SI()-v) <= sameLine {
			return t
		}
	}
	t := e.written(v)
	e.typed[int64(math.Round(t.SI()*1e4))] = t
	return t
}

func (e *sheet) written(v float64) quantity.Length {
	if e.site.Premises.Units == "imperial" {
		return feet(v)
	}
	return metres(v)
}

func metres(v float64) quantity.Length {
	return quantity.MustParse[quantity.LengthDimension](strconv.FormatFloat(quantity.Round(v, 3), 'f', -1, 64))
}

// feet writes a length to the quarter of an inch: "9 ft 6.25 in".
func feet(v float64) quantity.Length {
	quarters := math.Round(math.Abs(v) / 0.0254 * 4)
	ft, in := math.Floor(quarters/48), math.Mod(quarters, 48)/4
	text := ""
	if ft > 0 {
		text = strconv.FormatFloat(ft, 'f', -1, 64) + " ft"
	}
	if in > 0 || ft == 0 {
		text = strings.TrimSpace(text + " " + strconv.FormatFloat(in, 'f', -1, 64) + " in")
	}
	if v < 0 && quarters > 0 {
		text = "-" + text
	}
	return quantity.MustParse[quantity.LengthDimension](text)
}

// learn reads the lengths that stand in the drawing of the storey, and of the other storeys after it.
func (e *sheet) learn() {
	if e.typed != nil {
		return
	}
	e.typed = map[int64]quantity.Length{0: metres(0)}
	if e.site.Premises.Units == "imperial" {
		e.typed[0] = feet(0)
	}
	for _, here := range []bool{true, false} {
		for _, id := range site.SortedIDs(e.site.Rooms) {
			if r := e.site.Rooms[id]; (r.Storey == e.storey) == here {
				e.note(r.Outline...)
			}
		}
		for _, id := range site.SortedIDs(e.site.Walls) {
			if w := e.site.Walls[id]; (w.Storey == e.storey) == here {
				e.note(w.From, w.To)
			}
		}
	}
}

// note keeps lengths as they were typed. The first of two that are the same stays.
func (e *sheet) note(all ...site.Coordinates) {
	for _, c := range all {
		for i, t := range c {
			if key := int64(math.Round(t.SI() * 1e4)); i < 2 && e.typed[key].IsZero() {
				e.typed[key] = t
			}
		}
	}
}

// sum adds a typed length to a coordinate. What was typed stays as typed from zero, and between feet and inches.
func (e *sheet) sum(from float64, by quantity.Length, sign float64) quantity.Length {
	e.learn()
	v := from + sign*by.SI()
	if math.Abs(from) < 1e-9 && sign > 0 {
		return by
	}
	if text := by.String(); strings.ContainsAny(text, `fi'"`) {
		if f := feet(v); math.Abs(f.SI()-v) < 1e-6 {
			return f
		}
	}
	exact := quantity.MustParse[quantity.LengthDimension](strconv.FormatFloat(quantity.Round(v, 5), 'f', -1, 64))
	for d := int64(-1); d <= 1; d++ {
		if t, ok := e.typed[int64(math.Round(v*1e4))+d]; ok && math.Abs(t.SI()-v) < geom.Near {
			return t
		}
	}
	return exact
}

func (e *sheet) place(p geom.Point) site.Coordinates {
	return site.Coordinates{e.length(p.X), e.length(p.Y)}
}

func (e *sheet) outline(p []geom.Point) site.Outline {
	out := make(site.Outline, len(p))
	for i, q := range p {
		out[i] = e.place(q)
	}
	return out
}

// settle is where a place comes to lie that somebody pointed at: on a corner, a side or a coordinate that is drawn already,
// else on the millimetre.
func (e *sheet) settle(p geom.Point) geom.Point {
	rooms := e.rooms()
	for _, r := range rooms {
		for _, c := range r.poly {
			if same(c, p) {
				return c
			}
		}
	}
	for _, s := range edgesOf(rooms) {
		if s.within(p) {
			t, _ := s.foot(p)
			p = s.at(t)
			break
		}
	}
	return geom.Point{X: e.length(p.X).SI(), Y: e.length(p.Y).SI()}
}

// read reads a length that was typed. Empty texts give the zero value.
func (e *sheet) read(text string, what words.Text) (quantity.Length, error) {
	if strings.TrimSpace(text) == "" {
		return quantity.Length{}, nil
	}
	v, err := quantity.Parse[quantity.LengthDimension](text)
	if err != nil {
		why, ok := site.Refused(err)
		if !ok {
			why = &words.Error{Say: words.Said(err)}
		}
		return v, e.refuse(words.Later("%s: %s", what, why.Say), why.Try)
	}
	return v, nil
}

// room is a room with its outline.
type room struct {
	id   site.RoomID
	name string
	poly geom.Polygon
}

// rooms are those of the storey that have an outline, as they stand now.
func (e *sheet) rooms() []room {
	var out []room
	for _, id := range site.SortedIDs(e.site.Rooms) {
		r := e.site.Rooms[id]
		if poly := r.Outline.Polygon(); r.Storey == e.storey && len(poly) >= 3 {
			out = append(out, room{id, r.Name, poly})
		}
	}
	return out
}

// roomAt returns the room of the storey at a place.
func (e *sheet) roomAt(p geom.Point) (site.RoomID, bool) {
	return e.site.RoomAt(e.storey, p)
}

// show writes a length for a sentence.
func (e *sheet) show(v float64) string {
	if e.site.Premises.Units == "imperial" {
		return quantity.FeetInches(quantity.Metre(v))
	}
	return e.lang.Number(v, 2) + " m"
}

// area writes an area for a sentence.
func (e *sheet) area(v float64) string {
	if e.site.Premises.Units == "imperial" {
		return e.lang.Number(v/(0.3048*0.3048), 0) + " sq ft"
	}
	return e.lang.Number(v, 1) + " m²"
}
