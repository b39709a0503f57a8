package papers

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/quantity"
	"proofbell/signal"
	"proofbell/site"
)

func (w *writer) kind(k site.ZoneKind) string {
	for _, known := range site.ZoneKinds {
		if known.Kind == k {
			return said(w.l, known.Say)
		}
	}
	return string(k)
}

var familyWords = map[string]string{
	"fire": words.Mark("Fire"), "co": words.Mark("Carbon monoxide"), "gas": words.Mark("Gas"), "burglary": words.Mark("Burglary"), "panic": words.Mark("Call for help"),
	"medical": words.Mark("Medical"), "building": words.Mark("Water and cold"), "control": words.Mark("Control and trouble"), "none": words.Mark("Not used"),
}

func (w *writer) family(k site.ZoneKind) string { return said(w.l, familyWords[k.Family()]) }

var headWords = map[string]string{
	"smoke": words.Mark("Smoke alarm"), "heat": words.Mark("Heat alarm"), "co": words.Mark("Carbon monoxide alarm"), "smoke-co": words.Mark("Smoke and carbon monoxide alarm"),
}

func (w *writer) headKind(kind string) string {
	if say := headWords[kind]; say != "" {
		return said(w.l, say)
	}
	return kind
}

var classWords = map[string]string{
	"contact": words.Mark("Door and window contact"), "motion": words.Mark("Motion detector"), "glass-break": words.Mark("Glass-break detector"), "bridge": words.Mark("Listening bridge"),
	"smoke": words.Mark("Smoke detector"), "heat": words.Mark("Heat detector"), "co": words.Mark("Carbon monoxide detector"), "gas": words.Mark("Gas detector"), "call-point": words.Mark("Manual call point"),
	"water": words.Mark("Water probe"), "temperature": words.Mark("Temperature sensor"), "pendant": words.Mark("Carried button"), "panic-button": words.Mark("Fixed panic button"),
	"keyswitch": words.Mark("Key switch"), "repeater": words.Mark("Repeater or second receiver"), "keypad": words.Mark("Keypad"), "sounder": words.Mark("Sounder"), "contact-module": words.Mark("Contact module on the link of the heads"),
}

func (w *writer) class(class string) string {
	if say := classWords[class]; say != "" {
		return said(w.l, say)
	}
	return class
}

var roleWords = map[string]string{
	"owner": words.Mark("Owner"), "manager": words.Mark("Manager"), "technician": words.Mark("Technician"), "junior": words.Mark("Junior"), "electrician": words.Mark("Electrician"),
	"operator": words.Mark("Operator"), "other": words.Mark("Contact"),
}

func (w *writer) role(role string) string {
	return said(w.l, cmp.Or(roleWords[role], roleWords["other"]))
}

var useWords = map[string]string{
	"dwelling": words.Mark("Dwelling"), "guesthouse": words.Mark("Guesthouse"), "rented": words.Mark("Rented rooms"), "workshop": words.Mark("Workshop"), "shop": words.Mark("Shop"), "office": words.Mark("Office"),
}

func (w *writer) use(use string) string {
	if say := useWords[use]; say != "" {
		return said(w.l, say)
	}
	return use
}

func (w *writer) yes(v bool) string {
	if v {
		return w.l.Say("yes")
	}
	return w.l.Say("no")
}

// place names a room with its storey.
func (w *writer) place(room site.RoomID) string {
	r := w.s.Rooms[room]
	return join(", ", r.Name, w.s.Storeys[r.Storey].Name)
}

// path names a path to the station.
func (w *writer) path(id site.PathID) string { return cmp.Or(w.s.Account.Paths[id].Name, string(id)) }

func (w *writer) paths(ids []site.PathID) string {
	names := make([]string, len(ids))
	for i, id := range ids {
		names[i] = w.path(id)
	}
	return strings.Join(names, ", ")
}

// pathIDs lists the paths in their order, main first.
func (w *writer) pathIDs() []site.PathID {
	ids := site.SortedIDs(w.s.Account.Paths)
	sorts.Stable(ids, func(a, b site.PathID) int { return cmp.Compare(w.s.Account.Paths[a].Order, w.s.Account.Paths[b].Order) })
	return ids
}

func (w *writer) area(id site.AreaID) string {
	if a := w.s.Areas[id]; a.Name != "" {
		return string(id) + " " + a.Name
	}
	return string(id)
}

func (w *writer) at(c site.Coordinates) string {
	var parts []string
	for _, v := range c {
		if w.Frame.Imperial {
			parts = append(parts, quantity.FeetInches(quantity.Metre(v.SI())))
		} else {
			parts = append(parts, w.l.Number(v.SI(), 2))
		}
	}
	if len(parts) > 0 && !w.Frame.Imperial {
		return strings.Join(parts, " / ") + " m"
	}
	return strings.Join(parts, " / ")
}

// date writes a full or partial date as people write it.
func (w *writer) date(d site.Date) string {
	switch len(d.String()) {
	case 10:
		return w.l.Day(d.First())
	case 7:
		if w.l != nil {
			return d.First().Format("01.2006")
		}
	}
	return d.String()
}

// dated writes a text that may be a date.
func (w *writer) dated(text string) string {
	if d, err := site.ParseDate(text); err == nil {
		return w.date(d)
	}
	return text
}

// spoken is the label as the panel speaks it.
func (w *writer) spoken(z site.Zone) string {
	if len(z.Words) > 0 {
		return strings.Join(z.Words, " ")
	}
	return z.Label
}

// zones lists the zones that report, in order.
func (w *writer) zones() []site.ZoneID {
	return slices.DeleteFunc(site.SortedIDs(w.s.Zones), func(id site.ZoneID) bool { return w.s.Zones[id].Kind == site.Unused })
}

// restore says when a zone's restore comes: the panel's policy, unless the device sends none.
func (w *writer) restore(id site.ZoneID) string {
	z := w.s.Zones[id]
	if m, ok := w.s.ModelOf(z.Device); ok && m.NoRestore {
		return w.l.Say("no")
	}
	if w.Profile == nil {
		return w.l.Say("not known")
	}
	for _, k := range w.Profile.Kinds {
		if k.Kind != z.Kind || k.Code != "" && k.Code != z.Code {
			continue
		}
		switch k.Restore {
		case panel.RestoreFollows:
			return w.l.Say("yes")
		case panel.RestoreReset:
			return w.l.Say("after a reset of the panel")
		case panel.RestoreBell:
			return w.l.Say("when the sounder stops")
		case panel.RestoreNone:
			return w.l.Say("no")
		}
	}
	return w.l.Say("not known")
}

func (w *writer) format() signal.Format {
	if w.s.Account.Format == "sia" {
		return signal.SIADCS
	}
	return signal.CID
}

func (w *writer) formatName() string {
	switch w.s.Account.Format {
	case "sia":
		return w.l.Say("SIA event codes")
	case "contact-id":
		return w.l.Say("Contact ID")
	}
	return ""
}

// person names a person by an opaque id, or says who it stands for.
func (w *writer) person(id string) string {
	if p, ok := w.s.People[site.PersonID(id)]; ok && p.Name != "" {
		return p.Name
	}
	return w.l.Say("a person without a name")
}

// people lists those of a role, in natural order.
func (w *writer) people(role string) []site.Person {
	var out []site.Person
	for _, id := range site.SortedIDs(w.s.People) {
		if p := w.s.People[id]; p.Role == role {
			out = append(out, p)
		}
	}
	return out
}

func names(people []site.Person) string {
	var out []string
	for _, p := range people {
		out = append(out, p.Name)
	}
	return strings.Join(out, ", ")
}

// firm is the firm that did the work, from its people.
func (w *writer) firm() string {
	for _, p := range append(w.people("technician"), w.people("junior")...) {
		if p.Firm != "" {
			return p.Firm
		}
	}
	return ""
}

func (w *writer) address() string {
	return join(", ", w.s.Premises.Address, w.s.Premises.Locality, w.s.Premises.Country)
}

// spell writes an account number digit by digit, as it is read out.
func spell(account string) string { return strings.Join(strings.Split(account, ""), " ") }

// count writes how many of something there are.
func count(n int, what string) string { return fmt.Sprintf("%d × %s", n, what) }

func texts[T ~string](ids []T) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}
