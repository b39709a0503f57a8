package site

import (
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// DecodeYAML reads a site file. The name of the file is used in faults only. An empty text is an empty site.
// The error is Faults: everything that is wrong with the form, at most MaxFaults, in the order of the text.
func DecodeYAML(file string, text []byte) (*Site, error) { return decode(file, text, readYAML) }

// DecodeJSON reads the same document as JSON, under the same rules. The error is Faults.
func DecodeJSON(file string, text []byte) (*Site, error) { return decode(file, text, readJSON) }

func decode(file string, text []byte, read func(file, text string) (*node, error)) (*Site, error) {
	s, fault := checkText(file, text)
	if fault != nil {
		return nil, Faults{*fault}
	}
	root, err := read(file, s)
	if err != nil {
		return nil, err
	}
	if root == nil {
		return &Site{Format: Format}, nil
	}
	return bindSite(file, root)
}

func bindSite(file string, root *node) (*Site, error) {
	site := &Site{}
	b := binder{file: file}
	b.value(root, reflect.ValueOf(site).Elem(), "", called{}, "")
	switch f := root.get("format"); {
	case f == nil:
		site.Format = Format
	case site.Format != Format:
		b.refuse(f, "/format", words.Later("format %q is not known", clip(site.Format)), words.Later("this version reads %s", Format))
	}
	b.references(site)
	b.meanings(site, root)
	if err := b.faults.sorted(); err != nil {
		return nil, err
	}
	return site, nil
}

// binder fills the types of the site from a tree, going on after a fault so that one reading tells them all.
type binder struct {
	file   string
	faults Faults
	refs   []reference
}

// reference is an id that stands somewhere else than as the key of its own collection.
type reference struct {
	kind reflect.Type
	id   string
	at   *node
	path string
}

func (b *binder) refuse(at *node, path string, say, try words.Text) {
	b.refuseAt(at.place, path, say, try)
}

func (b *binder) refuseAt(at place, path string, say, try words.Text) {
	if len(b.faults) < 20*MaxFaults { // a hostile text may hold a fault per byte
		b.faults = append(b.faults, Fault{File: b.file, Line: at.line, Column: at.column, Path: path, Say: say, Try: try})
	}
}

// texter is a value with a textual form of its own: typed quantities and dates.
type texter interface{ UnmarshalJSON([]byte) error }

// value binds n to v, which people call name; tag is the tag of the struct field it fills.
func (b *binder) value(n *node, v reflect.Value, path string, name called, tag reflect.StructTag) {
	if n.kind == scalar && n.form == null {
		b.refuse(n, path, words.Later("%s has no value", name.text()), words.Later("write one, or leave the member out"))
		return
	}
	if t, ok := v.Addr().Interface().(texter); ok {
		b.texter(n, t, v, path, name, tag)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		b.value(n, v.Elem(), path, name, tag)
	case reflect.Struct:
		b.members(n, v, path, name)
	case reflect.Map:
		b.collection(n, v, path, name)
	case reflect.Slice:
		b.list(n, v, path, name, tag)
	case reflect.String:
		b.text(n, v, path, name, tag)
	case reflect.Bool:
		if n.kind != scalar || n.form == quoted || n.form == number || n.text != "true" && n.text != "false" {
			b.refuse(n, path, words.Later("%s is not true or false", name.text()), words.Later("write true or false, without quotes"))
			return
		}
		v.SetBool(n.text == "true")
	case reflect.Int:
		i, err := strconv.Atoi(n.text)
		if n.kind != scalar || n.form == quoted || err != nil {
			b.refuse(n, path, words.Later("%s is not a whole number", name.text()), words.Later("write digits without quotes"))
			return
		}
		v.SetInt(int64(i))
		b.bounds(n, float64(i), path, name, tag, 1e9)
	case reflect.Float64:
		f, ok := plainNumber(n.text)
		if n.kind != scalar || n.form == quoted || !ok {
			b.refuse(n, path, words.Later("%s is not a number", name.text()), words.Later("write digits, with a point, without quotes"))
			return
		}
		v.SetFloat(f)
		b.bounds(n, f, path, name, tag, 1e9)
	default:
		panic("site: no binding for " + v.Type().String())
	}
}

// plainNumber reads a decimal number as JSON writes it. strconv alone would take Inf, NaN, hexadecimals and underscores.
func plainNumber(text string) (float64, bool) {
	if strings.Trim(text, "0123456789.+-eE") != "" {
		return 0, false
	}
	f, err := strconv.ParseFloat(text, 64)
	return f, err == nil && !math.IsInf(f, 0)
}

func (b *binder) texter(n *node, t texter, v reflect.Value, path string, name called, tag reflect.StructTag) {
	if n.kind != scalar || n.form == literal {
		b.refuse(n, path, words.Later("%s is %s, not a value", name.text(), n.noun()), words.Later("write the value with its unit, or a date"))
		return
	}
	raw := []byte(n.text)
	if n.form != number {
		raw = appendJSONString(nil, n.text)
	}
	if err := t.UnmarshalJSON(raw); err != nil {
		why, ok := Refused(err)
		if !ok {
			why = &words.Error{Say: words.Said(err)}
		}
		b.refuse(n, path, words.Later("%s: %s", name.text(), why.Say), why.Try)
		return
	}
	limit := 1e9
	if _, isLength := v.Interface().(quantity.Length); isLength {
		limit = 1e4
	}
	if q, ok := v.Interface().(interface{ SI() float64 }); ok {
		b.bounds(n, q.SI(), path, name, tag, limit)
	}
}

func (b *binder) bounds(n *node, value float64, path string, name called, tag reflect.StructTag, limit float64) {
	low, high := -limit, limit
	if text, ok := tag.Lookup("bounds"); ok {
		low, high = boundsOf(text)
	}
	if value < low || value > high {
		b.refuse(n, path, words.Later("%s is out of bounds: %s", name.text(), clip(n.text)), words.Later("it lies between %v and %v", low, high))
	}
}

// boundsOf reads a "bounds" tag. A bad one is a bug of ours, found by the first test that decodes anything.
func boundsOf(text string) (low, high float64) {
	a, z, _ := strings.Cut(text, ",")
	low, err1 := strconv.ParseFloat(a, 64)
	high, err2 := strconv.ParseFloat(z, 64)
	if err1 != nil || err2 != nil {
		panic("site: bad bounds tag " + text)
	}
	return low, high
}

func (b *binder) text(n *node, v reflect.Value, path string, name called, tag reflect.StructTag) {
	if n.kind != scalar {
		b.refuse(n, path, words.Later("%s is %s, not a text", name.text(), n.noun()), words.Later("write a text"))
		return
	}
	if n.form == number || n.form == literal {
		b.refuse(n, path, words.Later("%s is %s, not a text", name.text(), n.noun()), words.Later("write it in quotes: \"%s\"", clip(n.text)))
		return
	}
	if len(n.text) > 4000 {
		b.refuse(n, path, words.Later("%s is longer than 4000 bytes", name.text()), words.Later("shorten it"))
		return
	}
	if strings.ContainsRune(n.text, 0) { // no database keeps it in a text
		b.refuse(n, path, words.Later("%s holds the character U+0000", name.text()), words.Later("take it out"))
		return
	}
	v.SetString(n.text)
	if kinds[v.Type()] != "" {
		b.refs = append(b.refs, reference{v.Type(), n.text, n, path})
	}
	if list := tag.Get("words"); list != "" && !slices.Contains(wordLists[list], n.text) {
		b.refuse(n, path, words.Later("%s %q is not a known word", name.text(), clip(n.text)), suggest(n.text, wordLists[list]))
	}
}

func (b *binder) list(n *node, v reflect.Value, path string, name called, tag reflect.StructTag) {
	if n.kind != sequence {
		b.refuse(n, path, words.Later("%s is %s, not a list", name.text(), n.noun()), words.Later("write a list: [one, two]"))
		return
	}
	if len(n.items) == 0 {
		return
	}
	list := reflect.MakeSlice(v.Type(), len(n.items), len(n.items))
	for i, item := range n.items {
		b.value(item, list.Index(i), pointer(path, strconv.Itoa(i)), name, tag)
	}
	v.Set(list)
}

// collection binds a map keyed by id. An empty one is the same as none.
func (b *binder) collection(n *node, v reflect.Value, path string, name called) {
	if n.kind != mapping {
		b.refuse(n, path, words.Later("%s is %s, not a mapping", name.text(), n.noun()), words.Later("write each under an id of its own, followed by a colon"))
		return
	}
	if len(n.entries) == 0 {
		return
	}
	m := reflect.MakeMapWithSize(v.Type(), len(n.entries))
	for _, e := range n.entries {
		at := pointer(path, e.key)
		if !isID(e.key) {
			b.refuseAt(e.place, at, words.Later("%q can not be an id", clip(e.key)), words.Later("use 1 to 32 letters, digits and dashes, starting with a letter or a digit"))
		}
		item := reflect.New(v.Type().Elem()).Elem()
		b.value(e.value, item, at, name.one(v.Type().Key(), e.key), "")
		m.SetMapIndex(reflect.ValueOf(e.key).Convert(v.Type().Key()), item)
	}
	v.Set(m)
}

func (b *binder) members(n *node, v reflect.Value, path string, name called) {
	if n.kind != mapping {
		b.refuse(n, path, words.Later("%s is %s, not a mapping", name.text(), n.noun()), words.Later("write its members, each followed by a colon"))
		return
	}
	fields := fieldsOf(v.Type())
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.name
	}
	meant := map[string]bool{} // members that are there, but for a slip of the pen
	for _, e := range n.entries {
		if slices.Contains(names, e.key) {
			continue
		}
		try := words.Later("known here: %s", strings.Join(names, ", "))
		if near := nearest(e.key, names); near != "" {
			try = words.Later("did you mean %q?", near)
			meant[near] = true
		}
		b.refuseAt(e.place, pointer(path, e.key), words.Later("%q is not a member of %s", clip(e.key), name.text()), try)
	}
	for _, f := range fields {
		if value := n.get(f.name); value != nil {
			b.value(value, v.Field(f.index), pointer(path, f.name), name.its(f.name), f.tag)
		} else if f.required && f.name != "format" && !meant[f.name] {
			b.refuse(n, pointer(path, f.name), words.Later("%s has no %s", name.text(), f.name), words.Later("add it"))
		}
	}
}

// called is how people call what stands in a site file: "zone 09: kind". It is put into words only for a fault.
type called struct{ kind, id, member string }

// one is the thing of an id in the collection that c is.
func (c called) one(key reflect.Type, id string) called {
	if kind := kinds[key]; kind != "" {
		return called{kind: kind, id: id}
	}
	c.member += " " + id
	return c
}

func (c called) its(member string) called {
	if c.member != "" {
		member = c.member + ": " + member
	}
	c.member = member
	return c
}

func (c called) text() words.Text {
	one := words.Later("%s %s", words.Marked(c.kind), c.id)
	switch {
	case c.kind != "" && c.member != "":
		return words.Later("%s: %s", one, c.member)
	case c.kind != "":
		return one
	case c.member != "":
		return words.Typed(c.member)
	}
	return words.Later("the site")
}

// field is one member of a struct, as its tags say.
type field struct {
	name     string
	index    int
	required bool
	tag      reflect.StructTag
}

// fieldTable holds the members of every struct within Site.
var fieldTable = func() map[reflect.Type][]field {
	table := map[reflect.Type][]field{}
	var add func(t reflect.Type)
	add = func(t reflect.Type) {
		switch t.Kind() {
		case reflect.Pointer, reflect.Map, reflect.Slice:
			add(t.Elem())
		case reflect.Struct:
			if _, done := table[t]; done || reflect.PointerTo(t).Implements(reflect.TypeFor[texter]()) {
				return
			}
			table[t] = readFields(t)
			for _, f := range table[t] {
				add(t.Field(f.index).Type)
			}
		}
	}
	add(siteType)
	return table
}()

func fieldsOf(t reflect.Type) []field { return fieldTable[t] }

func readFields(t reflect.Type) []field {
	var fields []field
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		fields = append(fields, field{name, i, options == "", f.Tag})
	}
	return fields
}

// kinds names what each type of id identifies.
var kinds = map[reflect.Type]string{
	reflect.TypeFor[PersonID]():   words.Mark("person"),
	reflect.TypeFor[ContactID]():  words.Mark("contact"),
	reflect.TypeFor[StoreyID]():   words.Mark("storey"),
	reflect.TypeFor[RoomID]():     words.Mark("room"),
	reflect.TypeFor[WallID]():     words.Mark("wall"),
	reflect.TypeFor[OpeningID]():  words.Mark("opening"),
	reflect.TypeFor[MaterialID](): words.Mark("material"),
	reflect.TypeFor[ModelID]():    words.Mark("model"),
	reflect.TypeFor[DeviceID]():   words.Mark("device"),
	reflect.TypeFor[HeadID]():     words.Mark("head"),
	reflect.TypeFor[GroupID]():    words.Mark("group"),
	reflect.TypeFor[CircuitID]():  words.Mark("circuit"),
	reflect.TypeFor[AreaID]():     words.Mark("area"),
	reflect.TypeFor[ZoneID]():     words.Mark("zone"),
	reflect.TypeFor[PathID]():     words.Mark("path"),
	reflect.TypeFor[QuestionID](): words.Mark("question"),
}

// references tests that every id stands for something that is described.
func (b *binder) references(s *Site) {
	known := map[reflect.Type]reflect.Value{reflect.TypeFor[PathID](): reflect.ValueOf(s.Account.Paths)}
	root := reflect.ValueOf(s).Elem()
	for i := range root.NumField() {
		if m := root.Field(i); m.Kind() == reflect.Map && kinds[m.Type().Key()] != "" {
			known[m.Type().Key()] = m
		}
	}
	for _, r := range b.refs {
		m, ok := known[r.kind]
		if !ok {
			panic("site: no collection of " + r.kind.String())
		}
		if m.MapIndex(reflect.ValueOf(r.id).Convert(r.kind)).IsValid() {
			continue
		}
		ids := make([]string, 0, m.Len())
		for _, k := range m.MapKeys() {
			ids = append(ids, k.String())
		}
		sorts.By(ids, NaturalOrder)
		what := words.Marked(kinds[r.kind])
		try := words.Later("add the %s, or write the id of one that is described", what)
		if near := nearest(r.id, ids); near != "" {
			try = words.Later("did you mean %q?", near)
		}
		b.refuse(r.at, r.path, words.Later("there is no %s %q", what, clip(r.id)), try)
	}
}
