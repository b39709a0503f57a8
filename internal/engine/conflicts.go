package engine

import (
	"bytes"
	"cmp"
	"encoding/json"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/site"
)

// conflicts are the open ones, both values in the words of the trade.
func (d *Desk) conflicts() []Conflict {
	out := []Conflict{}
	for _, c := range d.State.Conflicts {
		keys := pointerKeys(c.Path)
		out = append(out, Conflict{
			Key: c.Key, Entry: string(c.Entry), Path: c.Path, Where: d.where(keys), Held: c.Held,
			Before: d.valueWords(keys, c.Before), BeforeBy: d.name(string(c.Theirs)), BeforeAt: rfc3339(c.TheirsAt),
			After: d.valueWords(keys, c.After), By: d.name(string(c.By)), At: rfc3339(c.At), Back: patchAt(keys, c.Before),
		})
	}
	return out
}

func rfc3339(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// pointerKeys reads a JSON pointer (RFC 6901).
func pointerKeys(pointer string) []string {
	keys := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	for i, k := range keys {
		keys[i] = strings.NewReplacer("~1", "/", "~0", "~").Replace(k)
	}
	return keys
}

// patchAt is the merge patch that puts a value at a place.
func patchAt(keys []string, value json.RawMessage) json.RawMessage {
	for i := len(keys) - 1; i >= 0; i-- {
		raw, err := evidence.CanonicalValue(map[string]json.RawMessage{keys[i]: value})
		if err != nil {
			return nil // the value was read from a book: it can be written
		}
		value = raw
	}
	return value
}

// things are the collections of the site and how one of their things is named.
var things = map[string]string{
	"zones": words.Mark("Zone %s"), "rooms": words.Mark("Room %s"), "devices": words.Mark("Device %s"), "heads": words.Mark("Alarm %s"), "groups": words.Mark("Group %s"),
	"storeys": words.Mark("Storey %s"), "areas": words.Mark("Area %s"), "people": words.Mark("Person %s"), "contacts": words.Mark("Contact %s"), "circuits": words.Mark("Circuit %s"),
	"models": words.Mark("Model %s"), "walls": words.Mark("Wall %s"), "openings": words.Mark("Opening %s"), "materials": words.Mark("Material %s"), "questions": words.Mark("Question %s"),
}

// parts are the members of the site, and of its things, that people edit by hand.
var parts = map[string]string{
	"name": words.Mark("name"), "label": words.Mark("label"), "kind": words.Mark("kind"), "code": words.Mark("code"), "area": words.Mark("area"), "room": words.Mark("room"), "device": words.Mark("device"),
	"terminal": words.Mark("terminal"), "paths": words.Mark("paths"), "bypass": words.Mark("bypass"), "keyed": words.Mark("keyed"), "doorTone": words.Mark("door tone"), "lossWindow": words.Mark("loss window"),
	"storey": words.Mark("storey"), "use": words.Mark("use"), "sleeping": words.Mark("sleeping room"), "dwelling": words.Mark("dwelling"), "hazards": words.Mark("hazards"), "notes": words.Mark("notes"), "made": words.Mark("made"),
	"group": words.Mark("group"), "circuit": words.Mark("circuit"), "model": words.Mark("model"), "identity": words.Mark("identity"), "at": words.Mark("place on the plan"), "outline": words.Mark("outline"),
	"role": words.Mark("role"), "phone": words.Mark("telephone"), "firm": words.Mark("firm"), "address": words.Mark("address"), "answer": words.Mark("answer"), "number": words.Mark("number"), "power": words.Mark("power"),
	"premises": words.Mark("premises"), "station": words.Mark("station"), "account": words.Mark("account"), "panel": words.Mark("panel"), "settings": words.Mark("settings"), "practice": words.Mark("practice site"),
	"ceiling": words.Mark("ceiling height"), "battery": words.Mark("battery"), "batteryDate": words.Mark("battery date"), "profile": words.Mark("panel"), "on": words.Mark("date"), "class": words.Mark("class"),
	"tripLimit": words.Mark("trip limit"), "installed": words.Mark("installed"), "life": words.Mark("life"), "level": words.Mark("level"), "hears": words.Mark("listens to"), "beside": words.Mark("beside the alarm"),
	"exitDelay": words.Mark("exit delay"), "entryDelay": words.Mark("entry delay"), "entryDelay2": words.Mark("entry delay 2"), "abortWindow": words.Mark("abort window"), "applies": words.Mark("applies to"),
	"time": words.Mark("time"), "trips": words.Mark("trips"), "crossZones": words.Mark("cross-zone"), "zones": words.Mark("zones"), "within": words.Mark("within"), "periodicTest": words.Mark("periodic test"),
	"fireSounder": words.Mark("fire sounder"), "standby": words.Mark("standby"), "alarmTime": words.Mark("alarm time"), "order": words.Mark("order"), "faces": words.Mark("faces"), "words": words.Mark("words spoken"),
	"format": words.Mark("format"), "edition": words.Mark("edition"), "ruleSet": words.Mark("rule set"), "internet": words.Mark("router"),
}

// where names a place of the site: "Zone 09, label".
func (d *Desk) where(keys []string) string {
	say, rest := "", keys
	if format, ok := things[keys[0]]; ok && len(keys) > 1 {
		say, rest = d.lang.Say(format, d.called(keys[0], keys[1])), keys[2:]
	}
	for _, k := range rest {
		if say != "" {
			say += ", "
		}
		if part, ok := parts[k]; ok {
			k = d.lang.Word(part)
		}
		say += k
	}
	return words.Upper(say)
}

// called is what people call one thing of a collection: its name where it has one, else its key.
func (d *Desk) called(collection, id string) string {
	s := d.State.Site
	name := ""
	switch collection {
	case "rooms":
		name = s.Rooms[site.RoomID(id)].Name
	case "storeys":
		name = s.Storeys[site.StoreyID(id)].Name
	case "models":
		name = s.Models[site.ModelID(id)].Name
	case "people":
		name = s.People[site.PersonID(id)].Name
	case "areas":
		name = s.Areas[site.AreaID(id)].Name
	case "paths":
		name = s.Account.Paths[site.PathID(id)].Name
	}
	return cmp.Or(name, id)
}

// refers says in which collection a member names a thing.
var refers = map[string]string{"area": "areas", "paths": "paths", "faces": "rooms", "room": "rooms", "storey": "storeys", "model": "models", "person": "people"}

// valueWords says a value as people say it, in the member of the site where it stands.
func (d *Desk) valueWords(keys []string, raw json.RawMessage) string {
	var value any
	in := json.NewDecoder(bytes.NewReader(raw))
	in.UseNumber()
	if in.Decode(&value) != nil {
		return string(raw)
	}
	member := keys[len(keys)-1]
	switch v := value.(type) {
	case nil:
		return d.lang.Say("nothing")
	case bool:
		if v {
			return d.lang.Say("yes")
		}
		return d.lang.Say("no")
	case json.Number:
		return v.String()
	case string:
		return d.textWords(keys, member, v)
	case []any:
		var said []string
		for _, one := range v {
			text, ok := one.(string)
			if !ok {
				return d.lang.Say("another shape") // the coordinates of an outline
			}
			said = append(said, d.textWords(keys, member, text))
		}
		return strings.Join(said, ", ")
	case map[string]any:
		var said []string
		for _, k := range []string{"label", "name", "kind", "class", "room"} {
			if text, ok := v[k].(string); ok {
				said = append(said, d.textWords(append(append([]string{}, keys...), k), k, text))
			}
		}
		return cmp.Or(strings.Join(said, ", "), d.lang.Say("several particulars"))
	}
	return string(raw)
}

func (d *Desk) textWords(keys []string, member, text string) string {
	switch {
	case member == "kind" && keys[0] == "zones":
		return d.kindWords(site.ZoneKind(text))
	case refers[member] != "":
		return d.called(refers[member], text)
	}
	switch member { // members that hold one of the words of a list
	case "kind", "use", "class", "hazards", "role", "power", "link", "applies":
		if own, ok := siteWords[text]; ok {
			return d.lang.Word(own)
		}
	}
	return text
}
