package site_test

import (
	"fmt"
	"reflect"
	"strings"

	"pgregory.net/rapid"

	"proofbell/quantity"
	"proofbell/site"
)

// anySite draws a site that is sound in form: every member may be there or not, texts are whatever a person can type,
// ids refer to what is described.
func anySite() *rapid.Generator[*site.Site] {
	return rapid.Custom(func(t *rapid.T) *site.Site {
		g := generator{t: t, ids: map[reflect.Type][]string{}}
		s := &site.Site{Format: site.Format}
		root := reflect.ValueOf(s).Elem()
		for i := range root.NumField() { // which ids there are, before anything refers to one
			if m := root.Field(i).Type(); m.Kind() == reflect.Map {
				g.ids[m.Key()] = g.someIDs("ids of "+m.Key().Name(), 0)
			}
		}
		g.ids[reflect.TypeFor[site.PathID]()] = g.someIDs("paths", 0)
		g.ids[reflect.TypeFor[site.StoreyID]()] = g.someIDs("storeys", 1) // walls can not do without
		g.fill(root, "")
		return s
	})
}

type generator struct {
	t      *rapid.T
	places int
	ids    map[reflect.Type][]string
}

func (g *generator) someIDs(label string, least int) []string {
	pool := []string{"1", "2", "10", "09", "A", "yes", "null", "G1", "wheel-hatch", "0x1", "1e3", "no"}
	return rapid.SliceOfNDistinct(rapid.SampledFrom(pool), least, 4, rapid.ID[string]).Draw(g.t, label)
}

func (g *generator) chance() bool { return rapid.IntRange(0, 2).Draw(g.t, "given") > 0 }

var anyText = rapid.OneOf(
	rapid.SampledFrom([]string{
		"0017", "yes", "null", "~", "2.90", "0x1F", "1_000", ".inf", "- a", "-", "---", "a: b", "a #b", "#a", "'", `"`, "\\", "{a", "[", "]", "&a", "*a", "!a",
		"%a", "@a", "`a", "? a", ": a", "a:", "a ", " a", "a\nb", "a\n\n b\n", "\t", "<<", "...", "2026-09-15", "Größe", "漢字", "🔔", "é", "\u2028", "\u0085", "\u00a0", "|", ">", "true", "1e3", "12:30:45", "=", "\r", "\x01", "\x7f", "\ufeff",
	}),
	rapid.StringN(1, 12, -1).Filter(func(s string) bool { return !strings.Contains(s, "\x00") }),
)

func (g *generator) fill(v reflect.Value, tag reflect.StructTag) {
	switch v.Interface().(type) {
	case site.Date:
		text := rapid.SampledFrom([]string{"2017", "2019-04", "2026-09-15", "2024-02-29"}).Draw(g.t, "date")
		d, err := site.ParseDate(text)
		if err != nil {
			panic(err)
		}
		v.Set(reflect.ValueOf(d))
		return
	case site.Token:
		g.places++ // each names one thing
		v.SetString(fmt.Sprintf("7K2M-%04d", g.places))
		return
	case site.Outline:
		x := rapid.IntRange(0, 50).Draw(g.t, "x")
		var o site.Outline
		for _, c := range [][2]int{{x, 0}, {x + 4, 0}, {x + 4, 3}, {x + 1, 3}, {x, 1}} {
			o = append(o, site.Coordinates{g.length(c[0]), g.length(c[1])})
		}
		v.Set(reflect.ValueOf(o))
		return
	case site.Coordinates:
		g.places++ // the two places of a wall differ
		c := site.Coordinates{g.length(rapid.IntRange(-9, 9).Draw(g.t, "x")), g.length(g.places)}
		v.Set(reflect.ValueOf(c))
		return
	case quantity.Length:
		v.Set(reflect.ValueOf(g.length(rapid.IntRange(1, 9).Draw(g.t, "length"))))
		return
	}
	if typed, ok := v.Addr().Interface().(interface{ UnmarshalJSON([]byte) error }); ok {
		n := rapid.IntRange(1, 99).Draw(g.t, "amount")
		for _, unit := range []string{"s", "A", "Ah", "V", "dBA", "dB", "dBm", "MHz", "C", "%", "W", "ohm", "mm2"} {
			if typed.UnmarshalJSON([]byte(fmt.Sprintf(`"%d.%02d %s"`, n, n, unit))) == nil {
				return
			}
		}
		panic("no unit fits " + v.Type().String())
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		g.fill(v.Elem(), "")
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			described := f.Type.Kind() == reflect.Map || f.Type == reflect.TypeFor[site.Account]()
			required := described || !strings.Contains(f.Tag.Get("json"), ",")
			if f.Name == "Format" && v.Type() == reflect.TypeFor[site.Site]() || !required && !g.chance() {
				continue
			}
			g.fill(v.Field(i), f.Tag)
		}
		if o, ok := v.Addr().Interface().(*site.Opening); ok {
			o.Swing = ""
			if len(o.Rooms) == 2 && o.Rooms[0] == o.Rooms[1] {
				o.Rooms = o.Rooms[:1]
			}
		}
		if s, ok := v.Addr().Interface().(*site.Site); ok {
			s.Practice = s.Practice || s.Planted != nil
		}
		if c, ok := v.Addr().Interface().(*site.Circuit); ok {
			g.joined(c)
		}
		if p, ok := v.Addr().Interface().(*site.Premises); ok {
			p.RiskAssessment = "2019"
		}
		if p, ok := v.Addr().Interface().(*site.Takeover); ok {
			p.Authority = "asked"
		}
		if z, ok := v.Addr().Interface().(*site.Zone); ok {
			z.Terminal, z.LossWindow = "", "200 s"
		}
	case reflect.Map:
		ids, known := g.ids[v.Type().Key()]
		if !known || v.Type().Elem() == reflect.TypeFor[site.StationZone]() {
			ids = g.someIDs("keys", 0)
		}
		if len(ids) == 0 {
			return
		}
		m := reflect.MakeMap(v.Type())
		for _, id := range ids {
			item := reflect.New(v.Type().Elem()).Elem()
			g.fill(item, "")
			m.SetMapIndex(reflect.ValueOf(id).Convert(v.Type().Key()), item)
		}
		v.Set(m)
	case reflect.Slice:
		n := rapid.IntRange(1, 2).Draw(g.t, "items")
		list := reflect.MakeSlice(v.Type(), n, n)
		for i := range n {
			g.fill(list.Index(i), tag)
			if list.Index(i).Kind() == reflect.String && list.Index(i).String() == "" {
				return // nothing of that kind to refer to
			}
		}
		v.Set(list)
	case reflect.String:
		switch list := site.Words(tag.Get("words")); {
		case strings.HasSuffix(v.Type().Name(), "ID"):
			if ids := g.ids[v.Type()]; len(ids) > 0 {
				v.SetString(rapid.SampledFrom(ids).Draw(g.t, "reference"))
			}
		case len(list) > 0:
			v.SetString(rapid.SampledFrom(list).Draw(g.t, "word"))
		default:
			v.SetString(anyText.Draw(g.t, "text"))
		}
	case reflect.Bool:
		v.SetBool(rapid.Bool().Draw(g.t, "bool"))
	case reflect.Int:
		v.SetInt(int64(rapid.IntRange(0, 9).Draw(g.t, "int")))
	case reflect.Float64:
		v.SetFloat(float64(rapid.IntRange(2, 20).Draw(g.t, "float")) / 4)
	default:
		panic(v.Type().String())
	}
}

// joined makes a tree of the parts of a circuit, and its windows those of states.
func (g *generator) joined(c *site.Circuit) {
	before := []site.PartID{""}
	for _, id := range site.SortedIDs(c.Parts) {
		p := c.Parts[id]
		p.From = rapid.SampledFrom(before).Draw(g.t, "from")
		c.Parts[id], before = p, append(before, id)
	}
	c.Ring.From = rapid.SampledFrom(before).Draw(g.t, "ring")
	windows := c.Input.Windows
	c.Input.Windows = nil
	for _, w := range windows {
		if w.To.SI() < w.From.SI() {
			w.From, w.To = w.To, w.From
		}
		c.Input.Windows = map[string]site.InputWindow{rapid.SampledFrom(site.Words("input-state")).Draw(g.t, "state"): w}
	}
}

func (g *generator) length(n int) quantity.Length {
	text := rapid.SampledFrom([]string{"%d", "%d.00", "%d m", "%d00 cm"}).Draw(g.t, "unit")
	return quantity.MustParse[quantity.LengthDimension](fmt.Sprintf(text, n))
}

// jsonValue draws any JSON value without nulls in its objects.
func jsonValue(depth int) *rapid.Generator[any] {
	return rapid.Custom(func(t *rapid.T) any {
		switch k := rapid.IntRange(0, 6).Draw(t, "kind"); {
		case k < 2 && depth > 0:
			return rapid.MapOfN(rapid.SampledFrom([]string{"a", "b", "c", "", "/", "~"}), jsonValue(depth-1), 0, 4).Draw(t, "object")
		case k == 2 && depth > 0:
			return rapid.SliceOfN(jsonValue(depth-1), 0, 3).Draw(t, "list")
		case k == 3:
			return rapid.Bool().Draw(t, "bool")
		case k == 4:
			return rapid.IntRange(-3, 3).Draw(t, "number")
		}
		return rapid.StringN(0, 3, -1).Draw(t, "text")
	})
}

func jsonObject() *rapid.Generator[map[string]any] {
	return rapid.MapOfN(rapid.SampledFrom([]string{"a", "b", "c", "d", "e/f"}), jsonValue(3), 0, 5)
}

// anyPatch draws a merge patch: an object in which any member may be null.
func anyPatch(depth int) *rapid.Generator[any] {
	return rapid.Custom(func(t *rapid.T) any {
		p := map[string]any{}
		for _, k := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "b", "c", "d", "e/f"}), 0, 4, rapid.ID[string]).Draw(t, "keys") {
			switch kind := rapid.IntRange(0, 3).Draw(t, "kind of "+k); {
			case kind == 0:
				p[k] = nil
			case kind == 1 && depth > 0:
				p[k] = anyPatch(depth-1).Draw(t, k)
			default:
				p[k] = jsonValue(1).Draw(t, k)
			}
		}
		return p
	})
}
