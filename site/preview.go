package site

import (
	"encoding/json"
	"reflect"
	"strings"
)

// Preview is the site with a patch that adds or changes entries of its collections (devices, rooms, walls), for what is drawn
// while a hand still moves: only those entries are read, and what they mean together is not looked at. s is not changed; what
// was not touched is shared with it. drawn reports whether the patch touches more than devices and heads. ok is false where
// that does not do: other members, entries that go, or any fault; apply the patch to the text then.
func (s *Site) Preview(p Patch) (out *Site, drawn, ok bool) {
	change, err := readPatch(p)
	if err != nil || change.kind != mapping {
		return nil, false, false
	}
	part := &node{kind: mapping}
	from := reflect.ValueOf(s).Elem()
	for _, c := range change.entries {
		field := collectionOf(from, c.key)
		if !field.IsValid() || c.value.kind != mapping {
			return nil, false, false
		}
		drawn = drawn || c.key != "devices" && c.key != "heads"
		list := &node{kind: mapping}
		for _, e := range c.value.entries {
			if e.value.kind != mapping {
				return nil, false, false
			}
			var before *node
			if old := field.MapIndex(reflect.ValueOf(e.key).Convert(field.Type().Key())); old.IsValid() {
				raw, err := json.Marshal(old.Interface())
				if err != nil {
					return nil, false, false
				}
				if before, err = readJSONText("", raw); err != nil {
					return nil, false, false
				}
			}
			list.add(e.key, e.place, merged(before, e.value))
		}
		part.add(c.key, c.place, list)
	}
	b, read := binder{}, &Site{}
	b.value(part, reflect.ValueOf(read).Elem(), "", called{}, "")
	if len(b.faults) > 0 {
		return nil, false, false
	}
	next := *s
	to := reflect.ValueOf(&next).Elem()
	for _, c := range part.entries {
		field := collectionOf(to, c.key)
		all := reflect.MakeMapWithSize(field.Type(), field.Len()+len(c.value.entries))
		for _, from := range []reflect.Value{field, collectionOf(reflect.ValueOf(read).Elem(), c.key)} {
			for i := from.MapRange(); i.Next(); {
				all.SetMapIndex(i.Key(), i.Value())
			}
		}
		field.Set(all)
	}
	return &next, drawn, true
}

// collectionOf is the collection of a site by its name in the file; the zero Value for none.
func collectionOf(site reflect.Value, name string) reflect.Value {
	for i := range site.NumField() {
		tag, _, _ := strings.Cut(site.Type().Field(i).Tag.Get("json"), ",")
		if tag == name && site.Field(i).Kind() == reflect.Map {
			return site.Field(i)
		}
	}
	return reflect.Value{}
}
