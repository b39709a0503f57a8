package site_test

import (
	"errors"
	"strings"
	"testing"

	"proofbell/site"
)

// Each text is a site file with one thing wrong; the message is what a person sees.
func TestFaultsSayWhatWhereAndWhatToDo(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"zonez: {}\n", `s.yaml:1:1: "zonez" is not a member of the site; did you mean "zones"?`},
		{"zones:\n  \"09\":\n    knd: smoke\n", `s.yaml:3:5: "knd" is not a member of zone 09; did you mean "kind"?`},
		{"zones:\n  \"09\": {kind: smok}\n", `s.yaml:2:16: zone 09: kind "smok" is not a known word; did you mean "smoke"?`},
		{"zones:\n  \"09\":\n    device: brigde\ndevices:\n  bridge: {}\n", `s.yaml:3:13: there is no device "brigde"; did you mean "bridge"?`},
		{
			"zones:\n  \"09\": {device: b, terminal: C}\ndevices: {b: {model: m}}\nmodels: {m: {name: Bridge, class: bridge, terminals: {A: {senses: three-pulse}}}}\n",
			`s.yaml:2:31: zone 09: device b has no terminal "C"; it has: A`,
		},
		{"zones:\n  \"09\":\n    bypass: yes\n", `s.yaml:3:13: zone 09: bypass is not true or false; write true or false, without quotes`},
		{"zones:\n  \"09\":\n    label:\n", `s.yaml:3:5: zone 09: label has no value; write one, or leave the member out`},
		{"zones:\n  \"09\": null\n", `s.yaml:2:9: zone 09 has no value; write one, or leave the member out`},
		{"zones:\n  \"09\": {lossWindow: soon}\n", `s.yaml:2:22: zone 09: lossWindow "soon" is not a time; write never, 200 s, 4 h or 24 h`},
		{"name: A\nname: B\n", `s.yaml:2:1: "name" stands here a second time; give it an id of its own, or take one out`},
		{"name: &a Mill\n", `s.yaml:1:7: anchors (&) are not used in a site file; put the text in quotes, or write the value where it is needed`},
		{"name: *a\n", `s.yaml:1:7: aliases (*) are not used in a site file; put the text in quotes, or write the value out`},
		{"name: !!str 7\n", `s.yaml:1:7: tags (!) are not used in a site file; put the text in quotes, or take the tag out`},
		{"premises:\n  <<: {use: shop}\n", `s.yaml:2:3: merge keys (<<) are not used in a site file; write the members out`},
		{"name: A\n---\nname: B\n", `s.yaml:2:1: a second document starts here; keep one site in one file`},
		{"name: [A\n", `s.yaml:1:7: the text can not be read as YAML: the bracket that opens here is never closed by ]; close it`},
		{"rooms: [Hall]\n", `s.yaml:1:8: rooms is a list, not a mapping; write each under an id of its own, followed by a colon`},
		{"rooms:\n  G 1: {name: Hall}\n", `s.yaml:2:3: "G 1" can not be an id; use 1 to 32 letters, digits and dashes, starting with a letter or a digit`},
		{"rooms:\n  G1: {use: hall}\n", `s.yaml:2:7: room G1 has no name; add it`},
		{"rooms:\n  G1: {name: Hall, outline: [[0, 0], [4, 0]]}\n", `s.yaml:2:29: the outline has 2 corners; write 3 to 500 corners, each once`},
		{
			"rooms:\n  G1: {name: Hall, outline: [[0, 0], [4, 4], [4, 0], [0, 4]]}\n",
			`s.yaml:2:29: the outline crosses or touches itself: the side after corner 1 meets the side after corner 3; write the corners in order round the room`,
		},
		{"rooms:\n  G1: {name: Hall, outline: [[0, 0], [4, 0], [4, 4], [0, 0]]}\n", `s.yaml:2:54: corners 4 and 1 of the outline are the same place; write each corner once`},
		{"rooms:\n  G1: {name: Hall, outline: [[0, 0], [4, 0], [4]]}\n", `s.yaml:2:46: a place has 1 numbers; write [x, y] or [x, y, z]`},
		{"power: {battery: 7 A}\n", `s.yaml:1:18: power: battery: "7 A" is not a charge: unit "a" is not known; write 7.0 Ah`},
		{"power: {battery: 7,0 Ah}\n", `s.yaml:1:18: power: battery: "7" is not a charge: the unit is missing; write 7.0 Ah`},
		{"power:\n  battery: 7,0 Ah\n", `s.yaml:2:12: power: battery: "7,0 Ah" is not a charge: a comma stands in the number; write a decimal point and no other separators: 7.0 Ah`},
		{"power: {ageing: 12}\n", `s.yaml:1:17: power: ageing is out of bounds: 12; it lies between 0.5 and 5`},
		{"panel: {installed: 2026-02-30}\n", `s.yaml:1:20: panel: installed: "2026-02-30" is not a day of the calendar; write 2019-04-23, 2019-04 or 2019`},
		{"storeys:\n  g: {name: Ground, ceiling: 26 m, order: 1.5}\n", `s.yaml:2:43: storey g: order is not a whole number; write digits without quotes`},
		{"walls:\n  w: {storey: g, from: [0, 0], to: [0, 0]}\nstoreys: {g: {name: G}}\n", `s.yaml:2:6: wall w starts and ends in the same place; mend from or to`},
		{"openings:\n  d: {kind: door, swing: attic}\n", `s.yaml:2:26: there is no room "attic" for the leaf to swing into; write the id of a room, or "out"`},
		{"openings:\n  d: {kind: dor}\n", `s.yaml:2:13: opening d: kind "dor" is not a known word; did you mean "door"?`},
		{"name: A\nplanted: {seed: 1}\n", `s.yaml:2:10: mistakes are planted in a site that is no practice; leave planted out, or write practice: true`},
		{"premises: {riskAssessment: soon}\n", `s.yaml:1:28: riskAssessment "soon" is not known; write none, asked, or the date of the paper: 2026-08-24`},
		{"format: proofbell.site/9\n", `s.yaml:1:9: format "proofbell.site/9" is not known; this version reads proofbell.site/1`},
		{"- a\n", `s.yaml:1:1: the site is a list, not a mapping; write its members, each followed by a colon`},
		{"name: a\x00b\n", `s.yaml:1:8: a control character stands here; take it out`},
		{"name: a\xff\n", `s.yaml:1:8: the text is not UTF-8 here; save the file as UTF-8`},
		{"# Größe\nname: Größe\nzonez: {}\n", `s.yaml:3:1: "zonez" is not a member of the site; did you mean "zones"?`},
		{"premises: {locality: Größe, zonez: 1}\n", `s.yaml:1:29: "zonez" is not a member of premises; known here: address, locality, country, timeZone, units, emergencyNumber, use, payingGuests, riskAssessment, north, internet, notes`},
		{"name: " + strings.Repeat("[", 40) + "\n", `s.yaml:1:38: collections are nested deeper than 32; a site file needs fewer than ten levels`},
		{strings.Repeat("- ", 40) + "a\n", `s.yaml:1:65: collections are nested deeper than 32; a site file needs fewer than ten levels`},
	} {
		s, err := site.DecodeYAML("s.yaml", []byte(c.text))
		var faults site.Faults
		switch {
		case !errors.As(err, &faults) || s != nil:
			t.Errorf("%q was read (%v)", c.text, err)
		case faults[0].Error() != c.want:
			t.Errorf("%q\n got %s\nwant %s", c.text, faults[0].Error(), c.want)
		}
	}
}

func TestFaultsOfJSON(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{`{"account": {"number": 4816}}`, `s.json:1:24: account: number is a number, not a text; write it in quotes: "4816"`},
		{`{"name": null}`, `s.json:1:10: name has no value; write one, or leave the member out`},
		{"{\n  \"zonez\": {}}", `s.json:2:3: "zonez" is not a member of the site; did you mean "zones"?`},
		{"{\"name\": \"A\",\n\"name\": \"B\"}", `s.json:2:1: "name" stands here a second time; give it an id of its own, or take one out`},
		{"{\"name\": \"A\",\n}", `s.json:2:1: the text can not be read as JSON: "}" can not stand here; look at the commas, the quotes and the brackets here`},
		{`{"name": "A"`, `s.json:1:13: the text can not be read as JSON: it ends too early; look at the commas, the quotes and the brackets here`},
		{`{} {}`, `s.json:1:4: something stands after the end of the text; take it out`},
		{`{"practice": "true"}`, `s.json:1:14: practice is not true or false; write true or false, without quotes`},
		{strings.Repeat("[", 100), `s.json:1:34: collections are nested deeper than 32; a site file needs fewer than ten levels`},
	} {
		s, err := site.DecodeJSON("s.json", []byte(c.text))
		var faults site.Faults
		switch {
		case !errors.As(err, &faults) || s != nil:
			t.Errorf("%q was read (%v)", c.text, err)
		case faults[0].Error() != c.want:
			t.Errorf("%q\n got %s\nwant %s", c.text, faults[0].Error(), c.want)
		}
	}
}

// In German the words around what stands in the file are German; what stands in it stays.
func TestFaultsInGerman(t *testing.T) {
	for text, want := range map[string]string{
		"zonez: {}\n":                                                `s.yaml:1:1: „zonez“ gibt es nicht in: das Objekt; war „zones“ gemeint?`,
		"zones:\n  \"09\": {kind: smok}\n":                           `s.yaml:2:16: Zone 09: kind: das Wort „smok“ ist nicht bekannt; war „smoke“ gemeint?`,
		"zones:\n  \"09\":\n    device: [bridge]\n":                  `s.yaml:3:13: Zone 09: device ist eine Liste, kein Text; einen Text schreiben`,
		"rooms:\n  G1: {use: hall}\n":                                `s.yaml:2:7: Raum G1: name fehlt; ergänzen`,
		"power:\n  battery: 7,0 Ah\n":                                `s.yaml:2:12: power: battery: „7,0 Ah“ ist als Ladung nicht lesbar: in der Zahl steht ein Komma; einen Dezimalpunkt und sonst keine Trennzeichen schreiben: 7.0 Ah`,
		"power: {battery: 7 A}\n":                                    `s.yaml:1:18: power: battery: „7 A“ ist als Ladung nicht lesbar: die Einheit „a“ ist nicht bekannt; 7.0 Ah schreiben`,
		"panel: {installed: gestern}\n":                              `s.yaml:1:20: panel: installed: „gestern“ ist kein Datum; 2019-04-23, 2019-04 oder 2019 schreiben`,
		"name: [A\n":                                                 `s.yaml:1:7: der Text ist als YAML nicht lesbar: die Klammer, die hier öffnet, wird nie mit ] geschlossen; sie schließen`,
		"%TAG ! tag\n":                                               `s.yaml:1:1: Anweisungen (%) gibt es in einer Objektdatei nicht; die Zeile herausnehmen`,
		"zones:\n  \"09\":\n    device: bridge\n":                    `s.yaml:3:13: Gerät „bridge“ gibt es nicht; Gerät ergänzen oder eine Kennung schreiben, die beschrieben ist`,
		"models: {m: {name: B, class: bridge, terminals: {A: 1}}}\n": `s.yaml:1:53: Modell m: terminals A ist ein Text, keine Zuordnung; die Angaben einzeln schreiben, jede mit Doppelpunkt dahinter`,
	} {
		_, err := site.DecodeYAML("s.yaml", []byte(text))
		var faults site.Faults
		if !errors.As(err, &faults) {
			t.Errorf("%q was read (%v)", text, err)
		} else if got := faults.In("de-CH")[0].Error(); got != want {
			t.Errorf("%q\n got %s\nwant %s", text, got, want)
		}
	}
}

func TestFaultsComeTogetherInTheOrderOfTheText(t *testing.T) {
	_, err := site.DecodeYAML("s.yaml", []byte("zones:\n  \"1\": {device: x, knd: 1}\n  \"2\": {kind: y}\nnam: A\n"))
	var faults site.Faults
	if !errors.As(err, &faults) || len(faults) != 4 {
		t.Fatal(err)
	}
	for i, line := range []int{2, 2, 3, 4} {
		if faults[i].Line != line {
			t.Errorf("fault %d is on line %d, want %d", i, faults[i].Line, line)
		}
	}
	if faults[0].Path != "/zones/1/device" {
		t.Errorf("path %s", faults[0].Path)
	}
	var many strings.Builder
	many.WriteString("zones:\n")
	for range 5 {
		for c := 'a'; c <= 'z'; c++ {
			many.WriteString("  " + string(c) + strings.Repeat("x", many.Len()%30) + ": {knd: 1}\n")
		}
	}
	if _, err := site.DecodeYAML("s.yaml", []byte(many.String())); !errors.As(err, &faults) || len(faults) != site.MaxFaults {
		t.Errorf("%d faults", len(faults))
	}
	for _, text := range []string{strings.Repeat(" ", site.MaxBytes+1), "name: [" + strings.Repeat("a,", 600_000) + "]"} {
		if _, err := site.DecodeYAML("s.yaml", []byte(text)); !errors.As(err, &faults) {
			t.Error("an oversized text was read")
		}
	}
}

func TestScalarsAreTakenByTheirOwnText(t *testing.T) {
	s, err := site.DecodeYAML("s.yaml", []byte(`
account: {number: 0017}
people: {yes: {name: yes, phone: 0x1F, firm: 1_000, languages: [no, 1e3, .inf]}}
storeys: {g: {name: 1.50, ceiling: 2.90}}
premises: {emergencyNumber: 112, notes: 'it''s', locality: "a\tb", address: true}
panel: {installed: 2019}
rooms:
  G1:
    name: 12:30
    notes: |
      first
      second
`))
	if err != nil {
		t.Fatal(err)
	}
	p := s.People["yes"]
	for _, c := range [][2]string{
		{s.Account.Number, "0017"},
		{p.Name, "yes"},
		{p.Phone, "0x1F"},
		{p.Firm, "1_000"},
		{strings.Join(p.Languages, " "), "no 1e3 .inf"},
		{s.Storeys["g"].Name, "1.50"},
		{s.Storeys["g"].Ceiling.String(), "2.90"},
		{s.Premises.EmergencyNumber, "112"},
		{s.Premises.Notes, "it's"},
		{s.Premises.Locality, "a\tb"},
		{s.Premises.Address, "true"},
		{s.Panel.Installed.String(), "2019"},
		{s.Rooms["G1"].Name, "12:30"},
		{s.Rooms["G1"].Notes, "first\nsecond\n"},
	} {
		if c[0] != c[1] {
			t.Errorf("got %q, want %q", c[0], c[1])
		}
	}
	if got := s.Storeys["g"].Ceiling.SI(); got != 2.9 {
		t.Errorf("ceiling %v m", got)
	}
}

func TestHalfFinishedSurveysAreSites(t *testing.T) {
	for _, text := range []string{
		"", "\n", "# nothing yet\n", "---\n", "{}", "name: Mill\n", "rooms:\n  G1: {name: Hall}\n", "devices:\n  d1: {}\n", "zones:\n  \"1\": {}\n", "rooms: {}\n",
		"heads:\n  M1: {kind: smoke}\n", "openings:\n  d: {kind: door}\n", "\ufeffname: Mill\r\n",
	} {
		s, err := site.DecodeYAML("s.yaml", []byte(text))
		if err != nil {
			t.Errorf("%q: %v", text, err)
		} else if s.Format != site.Format {
			t.Errorf("%q: format %q", text, s.Format)
		}
	}
}

func FuzzDecodeYAML(f *testing.F) {
	for _, s := range []string{"name: A\n", "rooms:\n  G1:\n    name: Hall\n    outline: [[0, 0], [4, 0], [4, 4]]\n    hazards:\n    - dust # x\nzones:\n  \"09\": {kind: smoke, bypass: true}\npower: {battery: 7.0 Ah, ageing: 1.25}\n", "a: &a [*a]\n", "? a\n: b\n", "rooms: {G1: {name: >\n  x}}\n", "- - - a", "\"\\u0000\": {", "a:\n\t- b", "!!binary |\n x"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := site.DecodeYAML("f", text)
		checkDecoded(t, s, err)
	})
}

func FuzzDecodeJSON(f *testing.F) {
	for _, s := range []string{`{"name":"A"}`, `{"rooms":{"G1":{"name":"Hall","outline":[[0,0],[4,0],[4,4]]}}}`, `{"a":[{}]}`, `{"power":{"ageing":1e400}}`, "{", `"\ud800"`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := site.DecodeJSON("f", text)
		checkDecoded(t, s, err)
	})
}

// checkDecoded: either a site that survives encoding, or faults with a place.
func checkDecoded(t *testing.T, s *site.Site, err error) {
	if err != nil {
		var faults site.Faults
		if !errors.As(err, &faults) || len(faults) == 0 || faults[0].Line < 1 || faults[0].Say.String() == "" || s != nil {
			t.Fatalf("an unclear refusal: %v", err)
		}
		return
	}
	raw, err := site.EncodeYAML(s)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.DecodeYAML("again", raw); err != nil {
		t.Fatalf("%v\n%s", err, raw)
	}
}

func FuzzEditYAML(f *testing.F) {
	f.Add([]byte("rooms:\n  G1: {name: A} # a\n  # b\n  G3: {name: C}\n"), []byte(`{"rooms":{"G2":{"name":"B"}}}`))
	f.Add([]byte("name: 'x' # c\npower: {\n battery: 7 Ah }\n"), []byte(`{"power":{"battery":null},"name":"y"}`))
	f.Add([]byte("rooms:\n  G1:\n    name: >\n      a\n      b\n"), []byte(`{"rooms":null}`))
	f.Fuzz(func(t *testing.T, text, patch []byte) {
		out, err := site.EditYAML(text, patch)
		var faults site.Faults
		if err != nil {
			if !errors.As(err, &faults) && !errors.Is(err, site.ErrLayout) {
				t.Fatal(err)
			}
			return
		}
		if _, err := site.DecodeYAML("edited", out); err != nil {
			t.Fatal(err)
		}
	})
}
