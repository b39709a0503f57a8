package keypad

import (
	"encoding/json"
	"errors"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
	"proofbell/site"
)

func ladder(t testing.TB) *panel.Profile { return profile(t, "ladder") }

func profile(t testing.TB, name string) *panel.Profile {
	t.Helper()
	p, err := panel.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// zone09 is the practice building's zone 09 as it should be: the bridge that hears the three-pulse pattern.
func zone09() *site.Site {
	return &site.Site{
		Account: site.Account{Paths: map[site.PathID]site.Path{"main": {Order: 1}, "backup": {Order: 2}}},
		Models: map[site.ModelID]site.Model{"bridge": {Class: "bridge", Link: "radio", Family: "BR", Terminals: map[string]site.Terminal{
			"A": {Senses: site.SensesThree}, "B": {Senses: site.SensesFour},
		}}},
		Devices: map[site.DeviceID]site.Device{"bridge-1": {Model: "bridge", Identity: "BR001013"}},
		Zones: map[site.ZoneID]site.Zone{"09": {
			Label: "Mains alarms smoke", Kind: site.Smoke, Area: "1", Device: "bridge-1", Terminal: "A",
			Code: "111", Paths: []site.PathID{"main", "backup"}, LossWindow: "200 s",
		}},
	}
}

// The answers for zone 09 as the practice building's description lists them, each with OK.
var golden09 = []string{"09", "A", "31 32 05 00", "S", "2", "111", "N", "N", "R", "BR001013", "A", "1", "Y"}

// The same on the keys, spelt by hand from a telephone keypad: A is 2 once, S 7 four times, N 6 twice, R 7 three times,
// BR 2 2 then 7 7 7, Y 9 three times.
const golden09Keys = "0 9 OK 2 OK 3 1 3 2 0 5 0 0 OK 7 7 7 7 OK 2 OK 1 1 1 OK 6 6 OK 6 6 OK 7 7 7 OK 2 2 7 7 7 0 0 1 0 1 3 OK 2 OK 1 OK 9 9 9 OK"

var table09 = ZoneTable{"09": {
	panel.FieldArea: "A", panel.FieldWords: "31 32 05", panel.FieldKind: "S", panel.FieldPaths: "2", panel.FieldCode: "111", panel.FieldBypass: "N",
	panel.FieldDoorTone: "N", panel.FieldLink: "R", panel.FieldIdentity: "BR001013", panel.FieldTerminal: "A", panel.FieldLoss: "1",
}}

func TestZone09Golden(t *testing.T) {
	p := ladder(t)
	sheet := Compile(zone09(), p, nil, Options{})
	if len(sheet.Problems) > 0 || len(sheet.Zones) != 1 {
		t.Fatalf("problems %v, %d zones", sheet.Problems, len(sheet.Zones))
	}
	var answers, keys []string
	for _, c := range sheet.Zones[0].Cards {
		answers = append(answers, c.Answer)
		keys = append(keys, c.Keys()...)
		if c.Press[len(c.Press)-1] != "OK" {
			t.Errorf("%s does not end with OK: %v", c.Shows, c.Press)
		}
	}
	if !slices.Equal(answers, golden09) {
		t.Errorf("answers\n %q, want\n %q", answers, golden09)
	}
	if got := strings.Join(keys, " "); got != golden09Keys {
		t.Errorf("keys\n %s, want\n %s", got, golden09Keys)
	}
	if got := strings.Join(sheet.Keys, " "); got != golden09Keys+" BACK" {
		t.Errorf("the list ends in %q, want the zone and BACK", got)
	}
}

func TestZone09ByHand(t *testing.T) {
	p := ladder(t)
	// Written down as a person would, with the words run together and a remark.
	keys, err := ParseKeys(p, []byte("09 OK A OK 31320500 OK s OK 2 OK 111 OK # code\nN OK N OK R OK BR001013 OK A OK 1 OK Y OK BACK\n"))
	if err != nil {
		t.Fatal(err)
	}
	got, lines, err := Rehearse(p, keys, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !got.Equal(table09) {
		t.Errorf("the panel holds %v, want %v", got, table09)
	}
	if len(lines) != len(golden09)+1 || lines[3].Shows != "DANGER?" || lines[3].Answer != "S" || lines[len(golden09)-1].Then != "KEPT / ZONE?" {
		t.Errorf("transcript %+v", lines)
	}
}

// Every card shows before and after what the simulated panel shows, and means what it takes.
func TestCardsAgreeWithThePanel(t *testing.T) {
	for _, name := range panel.Names() {
		t.Run(name, func(t *testing.T) { cardsAgree(t, profile(t, name)) })
	}
}

func cardsAgree(t *testing.T, p *panel.Profile) {
	for seed := range uint64(50) {
		s := keypadtest.Site(seed, p)
		sheet := Compile(s, p, nil, Options{ReadBack: true})
		sim := NewSimulator(p, nil)
		follow := func(cards []Card) {
			for _, c := range cards {
				if d := sim.Display(); d.Prompt != c.Shows || c.Sees != "" && d.Stored != c.Sees && (d.Mark == "" || d.Mark+" "+d.Entered != c.Sees) {
					t.Fatalf("seed %d, zone %s: card %d says %q (stored %q), the panel shows %+v", seed, c.Zone, c.N, c.Shows, c.Sees, d)
				}
				for _, k := range c.Keys() {
					if out, err := sim.Press(k); err != nil || out == Refused || out == Ignored {
						t.Fatalf("seed %d, zone %s, %s: key %s: %v %v", seed, c.Zone, c.Shows, k, out, err)
					}
				}
				if d := sim.Display(); d.String() != c.Then {
					t.Fatalf("seed %d, zone %s, %s: then %q, the panel shows %q", seed, c.Zone, c.Shows, c.Then, d)
				}
			}
		}
		for _, z := range sheet.Zones {
			follow(z.Cards)
			before := sim.Table()
			follow(z.Check)
			if !sim.Table().Equal(before) {
				t.Fatalf("seed %d: reading zone %s back changed it", seed, z.Zone)
			}
		}
		follow(sheet.Leave)
		if len(sheet.Keys) > 0 && !sim.Ended() {
			t.Fatalf("seed %d: still in programming", seed)
		}
	}
}

// Five thousand generated sites and as-found tables for each panel: what the keys leave in the panel is what the site wants,
// no zone takes more keys than the plain way, and the table read backwards gives the site's zones again.
func TestGeneratedSites(t *testing.T) {
	for _, name := range panel.Names() {
		t.Run(name, func(t *testing.T) {
			generatedSites(t, profile(t, name), map[bool]uint64{false: 5000, true: 300}[testing.Short()])
		})
	}
}

func generatedSites(t *testing.T, p *panel.Profile, sites uint64) {
	cover := keypadtest.Coverage{}
	var share []float64
	pl := newPlanner(p)
	for seed := range sites {
		s := keypadtest.Site(seed, p)
		if seed%100 > 0 {
			few(s, 1+int(seed)%4)
		}
		want, problems := Wanted(s, p)
		blocked := map[site.ZoneID]bool{}
		for _, pr := range problems {
			blocked[pr.Zone] = blocked[pr.Zone] || pr.Blocks
		}
		if len(want)+len(blocked) != len(s.Zones) {
			t.Fatalf("seed %d: %d zones wanted, %d blocked, %d in the site", seed, len(want), len(blocked), len(s.Zones))
		}
		if seed%8 == 0 {
			rehearse(t, p, s, nil, nil, want, seed)
		}
		found, holds := asFound(p, seed, want, seed%2 == 0, cover)
		sheet := rehearse(t, p, s, found, holds, overlay(p, holds, want), seed)
		for _, id := range sheet.Same {
			if !maps.Equal(found[id], want[id]) {
				t.Errorf("seed %d: zone %s was left out and differs", seed, id)
			}
		}
		for _, z := range sheet.Zones {
			if len(z.Cards) == 0 {
				continue
			}
			have := found[z.Zone]
			var keyed tally
			keyed.add(z.Cards)
			if plain := pl.sum(pl.plain(aim{z.Zone, have, want[z.Zone]})); cost(keyed.keys) > plain/oneKey {
				t.Errorf("seed %d, zone %s: %d keys, the plain way has %d", seed, z.Zone, keyed.keys, plain/oneKey)
			}
			countCards(cover, p, z.Cards, want[z.Zone], have)
		}
		if sheet.Count > sheet.Plain.Count {
			t.Errorf("seed %d: %d keys, the plain way has %d", seed, sheet.Count, sheet.Plain.Count)
		}
		if sheet.Plain.Count > 0 {
			share = append(share, float64(sheet.Count)/float64(sheet.Plain.Count))
		}
		backwards(t, s, p, want, blocked, seed)
		count(cover, s, p, want, sheet, len(blocked))
	}
	slices.Sort(share)
	t.Logf("%d sites: in the median %.0f %% of the keys of the plain way (a quarter of them under %.0f %%, a quarter over %.0f %%)\n%s", sites,
		100*share[len(share)/2], 100*share[len(share)/4], 100*share[3*len(share)/4], cover)
	for _, k := range p.Kinds { // unused zones among them, where the panel has them
		if cover["kind "+string(k.Kind)] == 0 {
			t.Errorf("no zone of kind %s was generated", k.Kind)
		}
	}
	musts := []string{
		"device radio", "device wired", "terminal A", "terminal B", "terminal C", "terminal D", "skip same", "skip blocked",
		"words 0", "words 4", "lossWindow never", "lossWindow 200 s", "lossWindow 24 h", "paths 0", "paths 1", "paths 2",
		"found same", "found several answers differ", "found kind differs", "found empty", "found unknown", "found another zone",
	}
	if p.Dialogue.Recall {
		musts = append(musts, "answer taken as it stands")
	} else {
		musts = append(musts, "found half told")
	}
	if len(p.Fills(site.Smoke)) > 0 {
		musts = append(musts, "answer filled by the kind", "answer kind chosen for its fills", "answer left by an old kind corrected")
	}
	for _, must := range musts {
		if cover[must] == 0 {
			t.Errorf("%s never occurred", must)
		}
	}
	if len(p.Keypad.Letters) > 0 && cover["wait true"] == 0 {
		t.Error("two letters on one key never occurred")
	}
}

// few leaves n zones of a site.
func few(s *site.Site, n int) {
	for _, id := range slices.Sorted(maps.Keys(s.Zones)) {
		if len(s.Zones) > n {
			delete(s.Zones, id)
		}
	}
}

// countCards counts by which means a zone came to its answers.
func countCards(cover keypadtest.Coverage, p *panel.Profile, cards []Card, want, have Slots) {
	keyed := map[panel.Field]bool{}
	for _, c := range cards {
		if c.Sees != "" {
			cover.Add("answer", "taken as it stands")
		}
		if c.Field == panel.FieldKind && c.Answer != want[panel.FieldKind] && len(p.Fills(site.Smoke)) > 0 {
			cover.Add("answer", "kind chosen for its fills")
		}
		keyed[c.Field] = true
	}
	for f, a := range want {
		switch {
		case have == nil || p.Dialogue.Recall:
		case !keyed[f] && have[f] == "" && a != "":
			cover.Add("answer", "filled by the kind")
		case keyed[f] && keyed[panel.FieldKind] && f == panel.FieldCode && have[f] != "":
			cover.Add("answer", "left by an old kind corrected")
		}
	}
}

func rehearse(t *testing.T, p *panel.Profile, s *site.Site, found, holds, want ZoneTable, seed uint64) Sheet {
	t.Helper()
	sheet := Compile(s, p, found, Options{})
	keys := sheet.Keys
	if seed%40 == 0 { // through the document, as on the command line
		raw, err := json.Marshal(sheet)
		if err != nil {
			t.Fatal(err)
		}
		if keys, err = ParseKeys(p, raw); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
	}
	got, _, err := Rehearse(p, keys, holds)
	if err != nil {
		t.Fatalf("seed %d: %v", seed, err)
	}
	if want = untouched(sheet, holds, want); !got.Equal(want) {
		t.Fatalf("seed %d: differences %v", seed, Compare(want, got))
	}
	return sheet
}

// asFound makes a panel and what is known of it. Some zones are as wanted, some differ in one answer or several, some were
// another zone, some are half told where the panel allows that; of some nothing is known, whatever the panel holds.
func asFound(p *panel.Profile, seed uint64, want ZoneTable, whole bool, cover keypadtest.Coverage) (found, holds ZoneTable) {
	other, _ := p.Kind(site.Observe)
	r := rand.New(rand.NewPCG(seed, 7))
	found, holds = ZoneTable{}, ZoneTable{}
	ids := slices.Sorted(maps.Keys(want))
	for _, id := range ids {
		neighbour := want[ids[r.IntN(len(ids))]]
		slots := maps.Clone(want[id])
		what := "same"
		switch r.IntN(7) {
		case 0:
		case 1:
			slots[panel.FieldKind], what = other, "kind differs"
		case 2, 3:
			what = "several answers differ"
			for f, a := range neighbour {
				if _, asked := slots[f]; asked && r.IntN(2) == 0 {
					slots[f] = a
				}
			}
		case 4:
			what, slots = "another zone", maps.Clone(neighbour)
		case 5:
			what = "half told"
			if !p.Dialogue.Edits {
				what = "kind differs"
				slots[panel.FieldKind] = other
				break
			}
			for f := range slots {
				if r.IntN(2) == 0 {
					delete(slots, f)
				}
			}
		case 6:
			what, slots = "empty", Slots{}
		}
		cover.Add("found", what)
		if len(slots) > 0 {
			holds[id] = slots
		}
		switch {
		case !whole && r.IntN(4) == 0:
			cover.Add("found", "unknown")
		default:
			found[id] = maps.Clone(slots)
		}
	}
	return found, holds
}

// overlay is what a panel holds after keying. Where answers replace each other one by one, those of fields that the new
// zone has not stay behind: the panel can not be told to forget them.
func overlay(p *panel.Profile, under, over ZoneTable) ZoneTable {
	out := under.Clone()
	for id, slots := range over {
		if out[id] == nil || !p.Dialogue.Edits {
			out[id] = maps.Clone(slots)
		} else {
			maps.Copy(out[id], slots)
		}
	}
	return out
}

// untouched is a table in which zones with a stop are as they were under it.
func untouched(sheet Sheet, under, table ZoneTable) ZoneTable {
	out := table.Clone()
	for _, z := range sheet.Zones {
		if len(z.Stops) == 0 {
			continue
		}
		if delete(out, z.Zone); len(under[z.Zone]) > 0 {
			out[z.Zone] = maps.Clone(under[z.Zone])
		}
	}
	return out
}

// backwards compares the table with the site itself, member by member: not with anything the compiler made of it.
func backwards(t *testing.T, s *site.Site, p *panel.Profile, table ZoneTable, blocked map[site.ZoneID]bool, seed uint64) {
	t.Helper()
	back := Zones(s, p, table)
	for id, z := range s.Zones {
		if blocked[id] {
			continue
		}
		number := id
		if len(number) == 1 {
			number = "0" + number
		}
		got, ok := back[number]
		if !ok || got.Kind != z.Kind {
			t.Fatalf("seed %d, zone %s: kind %q, want %q", seed, id, got.Kind, z.Kind)
		}
		said := z.Words
		if said == nil {
			said = strings.Fields(z.Label)
		}
		if _, missing := p.SayWords(said); len(missing) > 0 && z.Kind == site.Unused {
			said = nil
		}
		if !strings.EqualFold(strings.Join(said, " "), strings.Join(got.Words, " ")) {
			t.Errorf("seed %d, zone %s: says %v, want %v", seed, id, got.Words, said)
		}
		if z.Kind == site.Unused {
			continue
		}
		radio := s.Devices[z.Device].Identity != ""
		wantPaths := slices.Sorted(slices.Values(z.Paths))
		switch {
		case got.Area != z.Area, got.Code != z.Code && z.Code != "", got.Bypass != z.Bypass, got.DoorTone != z.DoorTone,
			!slices.Equal(got.Paths, wantPaths), radio && got.Device != z.Device && s.Devices[got.Device].Identity != s.Devices[z.Device].Identity,
			radio && got.LossWindow != z.LossWindow, z.Terminal != "" && got.Terminal != z.Terminal, got.Terminal == "":
			t.Errorf("seed %d, zone %s: got %+v, want %+v", seed, id, got, z)
		}
	}
}

func count(cover keypadtest.Coverage, s *site.Site, p *panel.Profile, table ZoneTable, sheet Sheet, blocked int) {
	for _, z := range Zones(s, p, table) {
		cover.Add("kind", z.Kind)
		cover.Add("words", len(z.Words))
		if z.Kind == site.Unused {
			cover.Add("skip", "unused")
			continue
		}
		cover.Add("area", z.Area)
		cover.Add("bypass", z.Bypass)
		cover.Add("doorTone", z.DoorTone)
		cover.Add("terminal", z.Terminal)
		cover.Add("paths", len(z.Paths))
		if z.Device == "" {
			cover.Add("device", "wired")
		} else {
			cover.Add("device", "radio")
			cover.Add("lossWindow", z.LossWindow)
		}
	}
	for range sheet.Same {
		cover.Add("skip", "same")
	}
	for range blocked {
		cover.Add("skip", "blocked")
	}
	for _, z := range s.Zones {
		cover.Add("label", map[bool]string{true: "of its own words", false: "as written"}[z.Words != nil])
	}
	cover.Add("wait", slices.Contains(sheet.Keys, panel.Wait))
}

func TestOrderAndStops(t *testing.T) {
	p := ladder(t)
	s := zone09()
	s.Models["contact"] = site.Model{Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesOpening}}}
	s.Devices["door"] = site.Device{Model: "contact", Identity: "DC001124"}
	s.Zones["01"] = site.Zone{Label: "Front door", Kind: site.Entry1, Area: "1", Device: "door", Code: "134", Paths: []site.PathID{"main", "backup"}, LossWindow: "24 h"}
	s.Zones["02"] = site.Zone{Kind: site.Unused}
	sheet := Compile(s, p, nil, Options{})
	if got := []site.ZoneID{sheet.Zones[0].Zone, sheet.Zones[1].Zone, sheet.Zones[2].Zone}; !slices.Equal(got, []site.ZoneID{"09", "01", "02"}) {
		t.Errorf("order %v: life safety has to come first and unused zones last", got)
	}
	stopped := Compile(s, p, nil, Options{Stops: []Stop{{"09", "Kind must be smoke."}}})
	if z := stopped.Zones[0]; z.Zone != "09" || len(z.Cards) > 0 || !slices.Equal(z.Stops, []string{"Kind must be smoke."}) {
		t.Errorf("a stopped zone: %+v, want the stop and no keys", z)
	}
	if got, _, err := Rehearse(p, stopped.Keys, nil); err != nil || got["09"] != nil || got["01"] == nil {
		t.Errorf("with zone 09 stopped the panel holds %v (%v)", got, err)
	}
	kept := Compile(s, p, table09, Options{Stops: []Stop{{"09", "Kind must be smoke."}}})
	if kept.Zones[0].Zone != "09" || len(kept.Zones[0].Stops) != 1 || len(kept.Same) > 0 {
		t.Errorf("an unsafe zone that the panel already holds is not shown: %+v", kept.Zones[0])
	}
	everything := Compile(s, p, nil, Options{Stops: []Stop{{"", "The account is not on test."}}})
	if len(everything.Keys) > 0 {
		t.Errorf("a stop for the whole site leaves the keys %v", everything.Keys)
	}
	extra := Compile(zone09(), p, ZoneTable{"09": table09["09"], "33": {panel.FieldKind: "S"}}, Options{})
	if len(extra.Keys) > 0 || !slices.Equal(extra.Extra, []site.ZoneID{"33"}) || !slices.Equal(extra.Same, []site.ZoneID{"09"}) {
		t.Errorf("keys %v, extra %v, same %v: nothing differs and 33 is a stranger", extra.Keys, extra.Extra, extra.Same)
	}
}

// Zone 09 alone: 13 prompts. Keys counted by hand in golden09Keys: 57, and BACK.
func TestEstimate(t *testing.T) {
	sheet := Compile(zone09(), ladder(t), nil, Options{})
	keys := len(strings.Fields(golden09Keys)) + 1
	if sheet.Count != keys {
		t.Errorf("%d keys, want %d", sheet.Count, keys)
	}
	// keys x 0.7 s + 14 prompts x 2 s, rounded up to half a minute: (58 x 0.7 + 28)/60 = 1.14 -> 1.5
	if sheet.Minutes != 1.5 || !strings.HasPrefix(sheet.Estimate, "Estimate: ") {
		t.Errorf("%v minutes (%s), want 1.5", sheet.Minutes, sheet.Estimate)
	}
}

func TestProblems(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*site.Site, *site.Zone)
		field  panel.Field
		say    string
	}{
		"word":      {func(s *site.Site, z *site.Zone) { z.Label = "Mains alarms CO" }, panel.FieldWords, "can not say CO"},
		"five":      {func(s *site.Site, z *site.Zone) { z.Label = "Front back door up down" }, panel.FieldWords, "5 words"},
		"kind":      {func(s *site.Site, z *site.Zone) { z.Kind = site.Medical }, panel.FieldKind, "no zones of kind Medical"},
		"no kind":   {func(s *site.Site, z *site.Zone) { z.Kind = "" }, panel.FieldKind, "not chosen"},
		"area":      {func(s *site.Site, z *site.Zone) { z.Area = "9" }, panel.FieldArea, `area "9"`},
		"code":      {func(s *site.Site, z *site.Zone) { z.Code = "1110" }, panel.FieldCode, "not three digits"},
		"call code": {func(s *site.Site, z *site.Zone) { z.Kind = site.CallPoint }, panel.FieldCode, "by code 115"},
		"as call":   {func(s *site.Site, z *site.Zone) { z.Code = "115" }, panel.FieldCode, "kind Fire button"},
		"path":      {func(s *site.Site, z *site.Zone) { z.Paths = []site.PathID{"pigeon"} }, panel.FieldPaths, `path "pigeon"`},
		"backup":    {func(s *site.Site, z *site.Zone) { z.Paths = []site.PathID{"backup"} }, panel.FieldPaths, `"backup" can not be told`},
		"loss":      {func(s *site.Site, z *site.Zone) { z.LossWindow = "8 h" }, panel.FieldLoss, `"8 h"`},
		"no loss":   {func(s *site.Site, z *site.Zone) { z.LossWindow = "" }, panel.FieldLoss, "not chosen"},
		"device":    {func(s *site.Site, z *site.Zone) { z.Device = "gone" }, panel.FieldIdentity, "no device"},
		"terminal":  {func(s *site.Site, z *site.Zone) { z.Terminal = "" }, panel.FieldTerminal, "terminal is not chosen"},
		"identity": {func(s *site.Site, z *site.Zone) {
			s.Devices["bridge-1"] = site.Device{Model: "bridge", Identity: "BR01013"}
		}, panel.FieldIdentity, "does not have"},
		"family": {func(s *site.Site, z *site.Zone) {
			s.Devices["bridge-1"] = site.Device{Model: "bridge", Identity: "XX001013"}
		}, panel.FieldIdentity, "no device family"},
	} {
		t.Run(name, func(t *testing.T) {
			p, s := ladder(t), zone09()
			z := s.Zones["09"]
			c.change(s, &z)
			s.Zones["09"] = z
			table, problems := Wanted(s, p)
			if len(table) > 0 {
				t.Errorf("the zone is keyed all the same: %v", table)
			}
			if !slices.ContainsFunc(problems, func(p Problem) bool {
				return p.Field == c.field && p.Blocks && strings.Contains(p.Say, c.say) && p.Do != ""
			}) {
				t.Errorf("problems %+v, want one of %s that says %q", problems, c.field, c.say)
			}
		})
	}
	s := zone09()
	s.Account.Format = "sia"
	if table, problems := Wanted(s, ladder(t)); len(table) != 1 || len(problems) != 1 || !strings.Contains(problems[0].Say, "format sia") {
		t.Errorf("an account in a format that the panel lacks: %v", problems)
	}
	s = zone09()
	s.Zones["49"] = s.Zones["09"]
	if _, problems := Wanted(s, ladder(t)); len(problems) != 1 || problems[0].Field != panel.FieldZone {
		t.Errorf("zone 49 of a panel of 48: %v", problems)
	}
	s = zone09()
	s.Zones["9"] = s.Zones["09"]
	if table, problems := Wanted(s, ladder(t)); len(table) != 1 || len(problems) != 1 || problems[0].Zone != "9" {
		t.Errorf("zones 9 and 09: %v %v", table, problems)
	}
}

func TestKeyErrors(t *testing.T) {
	p := ladder(t)
	for _, c := range []struct {
		keys     string
		position int
		want     error
	}{
		{"49 OK", 3, ErrRefused},
		{"09 OK A OK 31320500 OK X OK", 17, ErrRefused}, // X is no kind: 0 9 OK, 2 OK, eight digits OK, 9 9 OK
		{"00 OK", 3, ErrRefused},
		{"123", 3, ErrIgnored}, // ZONE? holds two digits
		{"BACK 09", 2, ErrEnded},
		{"09 OK A OK", 5, ErrInHand},
		{"09 OK OK", 4, ErrRefused}, // nothing stored, nothing typed
	} {
		keys, err := ParseKeys(p, []byte(c.keys))
		if err != nil {
			t.Fatal(err)
		}
		_, _, err = Rehearse(p, keys, nil)
		var at *KeyError
		if !errors.As(err, &at) || !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.keys, err, c.want)
		} else if at.Position != c.position {
			t.Errorf("%s: position %d, want %d", c.keys, at.Position, c.position)
		}
	}
}

// The practice building, corrected: every zone can be keyed, and the keys leave its schedule in the panel.
func TestTheMill(t *testing.T) {
	p := ladder(t)
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	want, problems := Wanted(s, p)
	if len(want) != len(s.Zones) || len(problems) > 0 {
		t.Fatalf("%d of %d zones, problems %v", len(want), len(s.Zones), problems)
	}
	if !maps.Equal(want["09"], table09["09"]) {
		t.Errorf("zone 09 is %v, want %v", want["09"], table09["09"])
	}
	sheet := rehearse(t, p, s, nil, nil, want, 0)
	if !sheet.Zones[0].LifeSafety || sheet.Zones[0].Zone != "09" {
		t.Errorf("the sheet begins with %+v", sheet.Zones[0])
	}
	backwards(t, s, p, want, nil, 0)
}

// The practice building as first drafted: two labels can not be said, and the sheet says what to say instead.
func TestTheDraft(t *testing.T) {
	s, err := site.DecodeYAML("larkwater-draft.yaml", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	sheet := Compile(s, ladder(t), nil, Options{})
	got := map[site.ZoneID]string{}
	for _, pr := range sheet.Problems {
		got[pr.Zone] = pr.Say + " " + pr.Do
	}
	if !strings.Contains(got["04"], "ESCAPE") || !strings.Contains(got["10"], "Say CARBON MONOXIDE instead") {
		t.Errorf("problems %v", got)
	}
	shown := 0
	for _, z := range sheet.Zones {
		if z.Zone == "10" && len(z.Cards) == 0 && slices.ContainsFunc(z.Stops, func(s string) bool { return strings.Contains(s, "CARBON MONOXIDE") }) {
			shown++
		}
	}
	if shown != 1 || len(sheet.Zones) != len(s.Zones) {
		t.Errorf("zone 10 is shown %d times, %d of %d zones: no zone may be missing from the sheet unseen", shown, len(sheet.Zones), len(s.Zones))
	}
}

// The key list of zone 09 as a document, reviewed by eye; docs/format/profile.md describes it.
func TestSheetDocument(t *testing.T) {
	raw, err := json.MarshalIndent(Compile(zone09(), ladder(t), nil, Options{ReadBack: true}), "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("testdata/zone09.json")
	if err != nil {
		t.Fatal(err)
	}
	if got := string(raw) + "\n"; got != string(want) {
		t.Errorf("testdata/zone09.json differs from\n%s", got)
	}
}

// The zone table in the documentation is the one that the keys for zone 09 leave behind.
func TestDocumentedTable(t *testing.T) {
	doc, err := os.ReadFile("../../docs/format/profile.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(doc), "```json\n")
	example, _, _ := strings.Cut(rest, "```")
	table, err := ParseTable(ladder(t), []byte(example))
	if err != nil {
		t.Fatal(err)
	}
	if !table.Equal(table09) {
		t.Errorf("documented %v, want %v", table, table09)
	}
}
