package keypad

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"proofbell/panel"
)

// Profiles of strangers that the checker lets pass, and what the compiler makes of them.

// altered is a built-in panel with one node changed.
func altered(t testing.TB, name, id string, change func(n *panel.Node)) *panel.Profile {
	t.Helper()
	p := *profile(t, name)
	p.Dialogue.Nodes = maps.Clone(p.Dialogue.Nodes)
	n := p.Dialogue.Nodes[id]
	change(&n)
	p.Dialogue.Nodes[id] = n
	return &p
}

// inFront puts an item before the others of a menu.
func inFront(items []panel.Pick, shows, to string) []panel.Pick {
	return append([]panel.Pick{{Shows: shows, Go: to}}, items...)
}

// keysAndKeeps compiles zone 09 with its read-back, keys it, and expects it stored as wanted; it returns the sheet.
func keysAndKeeps(t *testing.T, p *panel.Profile) Sheet {
	t.Helper()
	if faults := p.Check(); len(faults) > 0 {
		t.Fatalf("the checker refuses it: %v", faults)
	}
	want, _ := Wanted(zone09(), p)
	sheet := Compile(zone09(), p, nil, Options{ReadBack: true})
	got, _, err := Rehearse(p, sheet.Keys, nil)
	if err != nil || !got.Equal(want) {
		t.Errorf("differences %v (%v)", Compare(want, got), err)
	}
	return sheet
}

// A menu line that leads up again: no read-out, no read-back, and the sheet says so.
func TestMenuThatLeadsRound(t *testing.T) {
	p := altered(t, "branch", "doors", func(n *panel.Node) { n.Items = inFront(n.Items, "HOME", "room") })
	unread(t, p, keysAndKeeps(t, p))
}

// A prompt whose back key ends programming can not be looked at and left.
func TestPromptThatCanNotBeLeft(t *testing.T) {
	p := altered(t, "branch", "type", func(n *panel.Node) { n.Back = panel.BackLeave })
	unread(t, p, keysAndKeeps(t, p))
}

func unread(t *testing.T, p *panel.Profile, sheet Sheet) {
	t.Helper()
	why := Readable(nil, p)
	if why == "" || sheet.Zones[0].Check != nil || !slices.Contains(sheet.Cautions, fmt.Sprintf("Keyed zones can not be read back at this keypad. %s Prove every zone at the station instead.", why)) {
		t.Errorf("why %q, read-back of %d cards, cautions %q", why, len(sheet.Zones[0].Check), sheet.Cautions)
	}
	// Whoever reads all the same is stopped, not led astray.
	var seen []Seen
	for range longest {
		z, err := ReadZone(p, "09", seen, ReadOptions{Plan: Slots{panel.FieldKind: "SMOKE", panel.FieldIdentity: "BR001013"}})
		if err != nil {
			return
		}
		if z.Done {
			break
		}
		seen = append(seen, Seen{Text: z.Card.Plan, Sure: true})
	}
	t.Error("a read-out goes on to its end")
}

// Menus one below the other, each with two lines to the next: every menu is looked through once.
func TestChainOfMenus(t *testing.T) {
	p := profile(t, "branch")
	above := "room"
	const depth = 40 // 2^40 ways through them
	for i := range depth {
		id, from := fmt.Sprintf("chain-%d", i), above
		p = chained(t, p, from, id)
		above = id
	}
	n := p.Dialogue.Nodes[above]
	n.Items = []panel.Pick{{Shows: "X", Sets: map[panel.Field]string{panel.FieldKind: "ENTRY 1"}, Go: "room"}}
	p.Dialogue.Nodes[above] = n
	Compile(zone09(), p, nil, Options{ReadBack: true})
	ReadZone(p, "09", nil, ReadOptions{Plan: Slots{panel.FieldKind: "SMOKE"}})
}

// chained hangs a menu below another, behind two lines in front of it.
func chained(t *testing.T, p *panel.Profile, from, id string) *panel.Profile {
	t.Helper()
	q := *p
	q.Dialogue.Nodes = maps.Clone(p.Dialogue.Nodes)
	n := q.Dialogue.Nodes[from]
	n.Items = inFront(inFront(n.Items, "ONE "+id, id), "OTHER "+id, id)
	q.Dialogue.Nodes[from] = n
	q.Dialogue.Nodes[id] = panel.Node{Shows: "MENU " + id, Back: from}
	return &q
}

// Kinds that each fill one other answer could be chosen in very many orders: a few hundred are tried.
func TestKindsThatEachFillOneAnswer(t *testing.T) {
	p := *profile(t, "branch")
	want, _ := Wanted(zone09(), &p)
	fields := []panel.Field{panel.FieldPaths, panel.FieldCode, panel.FieldBypass, panel.FieldDoorTone, panel.FieldTripLimit, panel.FieldTerminal, panel.FieldLoss}
	p.Kinds = slices.Clone(p.Kinds)
	for i := range p.Kinds {
		if f := fields[i%len(fields)]; p.Kinds[i].Answer != want["09"][panel.FieldKind] {
			p.Kinds[i].Fills = map[panel.Field]string{f: want["09"][f]}
		}
	}
	z := aim{"09", Slots{}, want["09"]}
	if n := len(newPlanner(&p).tours.choices(z)); n < 2 || n > mostChoices {
		t.Errorf("%d rows of kinds", n)
	}
	held := ZoneTable{"09": {}}
	sheet := Compile(zone09(), &p, held, Options{})
	if got, _, err := Rehearse(&p, sheet.Keys, held); err != nil || !got.Equal(want) || sheet.Count > sheet.Plain.Count {
		t.Errorf("%d keys of %d, differences %v (%v)", sheet.Count, sheet.Plain.Count, Compare(want, got), err)
	}
}
