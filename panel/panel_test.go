package panel

import (
	"encoding/json"
	"errors"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"proofbell/site"
)

func ladder(t testing.TB) *Profile {
	t.Helper()
	p, err := Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func source(t testing.TB, name string) string {
	t.Helper()
	raw, err := os.ReadFile("profiles/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

func TestBuiltin(t *testing.T) {
	for _, name := range Names() {
		p, err := Builtin(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if p.Name != name {
			t.Errorf("file %s holds the panel %s", name, p.Name)
		}
	}
	if _, err := Builtin("../secret"); !errors.Is(err, ErrUnknown) {
		t.Errorf("an unknown panel: %v, want ErrUnknown", err)
	}
}

// The kinds of Ladder as the practice building's description lists them; nothing else has an answer.
func TestKinds(t *testing.T) {
	p := ladder(t)
	want := map[site.ZoneKind]string{
		"entry-1": "D1", "entry-2": "D2", "perimeter": "P", "inside": "I", "always-loud": "L", "always-quiet": "Q", "panic-loud": "N",
		"panic-quiet": "M", "smoke": "S", "call-point": "S", "smoke-verified": "V", "heat": "H", "co": "G", "water": "W", "cold": "C", "keyswitch": "K", "trouble": "T",
		"observe": "O", "unused": "U",
	}
	for _, k := range site.ZoneKinds {
		got, ok := p.Kind(k.Kind)
		if got != want[k.Kind] || ok != (want[k.Kind] != "") {
			t.Errorf("%s: %q %v, want %q", k.Kind, got, ok, want[k.Kind])
		}
		if back, known := p.KindOf(got, p.CodeFor(k.Kind)); ok && (!known || back != k.Kind) {
			t.Errorf("%s reads back as %s", k.Kind, back)
		}
	}
	if k, _ := p.KindOf("S", "115"); k != site.CallPoint {
		t.Errorf("S with 115 is %s, want a call point", k)
	}
	if k, _ := p.KindOf("S", "131"); k != site.Smoke {
		t.Errorf("S with any other code is %s, want smoke", k)
	}
	if _, ok := p.KindOf("X", ""); ok {
		t.Error("X is no kind")
	}
}

func TestValues(t *testing.T) {
	p := ladder(t)
	var windows []string
	for _, w := range p.LossWindows() {
		windows = append(windows, w.Value+"="+w.Answer)
	}
	if !slices.Equal(windows, []string{"200 s=1", "4 h=2", "24 h=3", "never=0"}) || p.LossWindows()[1].Time != 14400 {
		t.Errorf("loss windows %v", p.LossWindows())
	}
	if a := p.Areas(); !slices.Equal(a, []site.AreaID{"1", "2", "3", "4"}) {
		t.Errorf("areas %v", a)
	}
	for f, v := range map[Field]string{FieldArea: "1 A", FieldPaths: "both 2", FieldBypass: "no N", FieldLink: "radio R", FieldTerminal: "B B"} {
		value, answer, _ := strings.Cut(v, " ")
		if got, ok := p.Answer(f, value); !ok || got != answer {
			t.Errorf("%s %s: %q, want %q", f, value, got, answer)
		}
		if got, ok := p.Value(f, answer); !ok || got != value {
			t.Errorf("%s %s reads back as %q, want %q", f, answer, got, value)
		}
	}
	if p.Can(FieldPaths, PathsBack) || !p.Can(FieldPaths, PathsNone) || p.Can(FieldTripLimit, Yes) || !p.Can(FieldCode, "111") {
		t.Error("Ladder can tell nobody, the main path or both, has no trip limit of its own and takes any code")
	}
	for id, want := range map[site.ZoneID]int{"09": 9, "9": 9, "48": 48} {
		if n, ok := p.ZoneNumber(id); !ok || n != want {
			t.Errorf("zone %q: %d %v", id, n, ok)
		}
	}
	for _, id := range []site.ZoneID{"", "0", "49", "-1", "1a", "99999", "٣"} {
		if n, ok := p.ZoneNumber(id); ok {
			t.Errorf("zone %q was taken for %d", id, n)
		}
	}
	if p.ZoneID(9) != "09" {
		t.Errorf("zone 9 is shown as %q", p.ZoneID(9))
	}
}

func TestSayLabel(t *testing.T) {
	p := ladder(t)
	for label, want := range map[string]string{
		"Mains alarms smoke": "31 32 05 |",
		"Escape door up":     "03 33 | ESCAPE",
		"mains ALARMS co":    "31 32 | CO",
		"":                   " |",
		"Hall, (front)":      "14 01 |",
	} {
		codes, missing := p.SayLabel(label)
		got := strings.Join(codes, " ") + " |"
		if len(missing) > 0 {
			got += " " + strings.Join(missing, " ")
		}
		if got != want {
			t.Errorf("%q: %q, want %q", label, got, want)
		}
	}
	if got := p.SayInstead("co"); !slices.Equal(got, []string{"CARBON", "MONOXIDE"}) {
		t.Errorf("instead of CO: %v", got)
	}
	if codes, _ := p.SayZone(site.Zone{Label: "Ignored", Words: []string{"Hall", "Smoke"}}); !slices.Equal(codes, []string{"14", "05"}) {
		t.Errorf("words of its own: %v", codes)
	}
	if p.Word("31") != "MAINS" || p.Word("99") != "" {
		t.Error("numbers do not read back")
	}
}

// Spelt by hand from a telephone keypad.
func TestSpell(t *testing.T) {
	k := ladder(t).Keypad
	for answer, want := range map[string]string{
		"S": "7 7 7 7", "D1": "3 1", "D2": "3 2", "09": "0 9", "BR001013": "2 2 7 7 7 0 0 1 0 1 3",
		"MO005710": "6 WAIT 6 6 6 0 0 5 7 1 0", // M and O on one key
		"HD234567": "4 4 3 2 3 4 5 6 7",
		"TS701170": "8 7 7 7 7 WAIT 7 0 1 1 7 0", // the digit sits on the key of the letter before it
		"":         "",
	} {
		keys, err := k.Spell(answer)
		if got := strings.Join(keys, " "); err != nil || got != want {
			t.Errorf("%s: %q %v, want %q", answer, got, err, want)
		}
	}
	for _, answer := range []string{"s", "é", "A-", "OK "} {
		if keys, err := k.Spell(answer); !errors.Is(err, ErrNoKey) && answer != "OK " {
			t.Errorf("%q: %v %v, want ErrNoKey", answer, keys, err)
		}
	}
}

func TestWhatItCanNot(t *testing.T) {
	p := ladder(t)
	if got, want := said(nil, p.CanNot()), []string{"kind: Gas", "kind: Medical", "paths: back-up path alone", "trip limit: no setting for single zones"}; !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(want))) {
		t.Errorf("can not: %q, want %q", got, want)
	}
	unsafe := strings.Join(said(nil, p.Unsafe()), "\n")
	for _, want := range []string{"bypass Y", "door tone Y", "paths 0", "paths 1", "loss window 0", "loss window 2", "loss window 3", "kind V", "code: any", "identity: one"} {
		if !strings.Contains(unsafe, want) {
			t.Errorf("it would take %s and does not say so:\n%s", want, unsafe)
		}
	}
	if strings.Contains(unsafe, "loss window 1") || strings.Contains(unsafe, "paths 2") {
		t.Errorf("a good answer is called unsafe:\n%s", unsafe)
	}
}

// JSON is a profile file too, and says the same.
func TestJSON(t *testing.T) {
	raw, err := json.MarshalIndent(ladder(t), "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	p, err := Decode("ladder.json", raw)
	if err != nil {
		t.Fatal(err)
	}
	again, err := json.MarshalIndent(p, "", "  ")
	if err != nil || string(again) != string(raw) {
		t.Errorf("the profile changed on its way through JSON (%v)", err)
	}
}

// Each change makes the profile unfit; the checker has to name it, at the line where it was made or nearest to it.
func TestMutations(t *testing.T) {
	mutations(t, "ladder", map[string]mutation{
		"zone too wide":        {"width: 2\n      opens: true", "width: 5\n      opens: true", "at most 4 digits"},
		"marks alone":          {"  recall: true", "  recall: true\n  marks: \"=\"", "that needs edits: true"},
		"key like two digits":  {`"9", "0", `, `"9", "0", "11", `, "read as single digits"},
		"format":               {"proofbell.panel/1", "proofbell.panel/9", `format is "proofbell.panel/9"`},
		"unknown member":       {"  back: BACK", "  back: BACK\n  colour: red", `unknown field "colour"`},
		"wrong type":           {"zones: {first: 1, last: 48}", "zones: seven", "members with their values"},
		"a list for a text":    {"shows: ZONE?", "shows: [ZONE]", "a text"},
		"number for a text":    {`HEAT: "06"`, "HEAT: 06", `in quotes: "06"`},
		"hex for a text":       {"answer: N,", "answer: 0x1,", `in quotes: "0x1"`},
		"truth for a text":     {"shows: ZONE?", "shows: true", `in quotes: "true"`},
		"nothing":              {"shows: ZONE?", "shows:", "no value here"},
		"no version":           {`version: "1.0"`, `version: ""`, "version is missing"},
		"no formats":           {"formats: [contact-id]", "formats: []", "formats is missing"},
		"odd format":           {"formats: [contact-id]", "formats: [smoke-signs]", "want contact-id or sia"},
		"family without key":   {`"6": MNO`, `"6": NO`, "family MO can not be typed"},
		"families":             {"families: [DC,", "families: [DCX,", "want 2 capital letters"},
		"range":                {"last: 48", "last: 0", "want 0 <= first <= last"},
		"edge removed":         {"next: [{go: danger}]", "next: []", "dead end"},
		"edge to nowhere":      {"- {go: tell}", "- {go: telly}", `"telly" is not a node`},
		"field skipped":        {"- {go: tag}", "- {go: terminal}", "can not reach identity of zones"},
		"code skipped":         {"next: [{go: what}]", "next: [{go: out}]", "can not reach code of zones"},
		"wired skips terminal": {"when: {link: [W]}, go: terminal", "when: {link: [W]}, go: keep", "can not reach terminal of zones of kind"},
		"unreachable":          {"next: [{go: ring}]", "next: [{go: speaks}]", "node ring can not be reached"},
		"circle":               {"next: [{go: keep}]", "next: [{go: place}]", "comes round to node place"},
		"asked twice":          {"field: bypass", "field: doorTone", "doorTone is asked twice"},
		"typed and heard":      {"heard: heard}\n      next: [{go: terminal}]", "heard: heard}\n      next: [{go: heard}]", "typed already"},
		"wired has no tag":     {"when: {link: [W]}, go: terminal", "when: {link: [W]}, go: tag", "zone on a wire, which has none"},
		"own circle":           {"next: [{go: says}]", "next: [{go: place}]", "comes round to node place"},
		"width of zone":        {"width: 2\n      opens", "width: 1\n      opens", "does not hold zone 48"},
		"width of code":        {"width: 3", "width: 2", "does not fit a station code"},
		"width of words":       {"width: 2\n      end", "width: 3\n      end", "does not fit word"},
		"end is a word":        {`end: "00"`, `end: "05"`, "is the word SMOKE"},
		"code doubled":         {`HEAT: "06"`, `HEAT: "05"`, "share the number 05"},
		"answer doubled":       {"both: \"2\"", "both: \"1\"", "could not tell them apart"},
		"kind doubled":         {"{kind: heat, answer: H", "{kind: heat, answer: S", "share the answer"},
		"kind twice":           {"{kind: heat, answer: H", "{kind: smoke, answer: H", "listed twice"},
		"kind unknown":         {"{kind: heat,", "{kind: lava,", "is not a kind of zone"},
		"only with code":       {"{kind: smoke, answer: S,", "{kind: smoke, answer: X, ", "only listed with codes"},
		"restore":              {"kind: heat, answer: H, restore: follows", "kind: heat, answer: H, restore: never", "want follows, reset, bell or none"},
		"two letters one key":  {`"3": DEF`, `"3": ADEF`, "would be ambiguous"},
		"letter without key":   {`"9": WXYZ`, `"9": WXZ`, "can not be typed"},
		"ambiguous digit":      {"paths: {none: \"0\", main: \"1\", both: \"2\"}", "paths: {none: X, main: \"1\", both: \"2\"}", "would be ambiguous"},
		"never answered":       {"when: {kind: [U]}", "when: {kind: [Z]}", `never answered with "Z"`},
		"looks ahead":          {"when: {kind: [U]}", "when: {link: [W]}", "before it is asked"},
		"never keeps":          {"does: keep, next: zone", "does: drop, next: zone", "no way ends in keeping"},
		"never drops":          {"does: drop, next: zone", "next: zone", "no way ends in dropping"},
		"keeps and stays":      {"does: keep, next: zone", "does: keep, next: place", "no longer in hand"},
		"does what":            {"does: keep,", "does: cook,", `"cook"`},
		"hidden way":           {"- {when: {kind: [U]}, go: keep}", "- {go: keep}", "hides the ways behind it"},
		"start":                {"start: zone", "start: place", "does not choose a zone"},
		"lacks and asks":       {"lacks: [tripLimit]", "lacks: [tripLimit, code]", "says the panel lacks"},
		"lacks unsaid":         {"lacks: [tripLimit]", "lacks: []", "can not reach tripLimit"},
		"no accept":            {"accept: OK", "accept: YES", "accept key"},
		"no digit":             {`"8", "9", "0"`, `"8", "0"`, "no key 9"},
		"heard nowhere":        {"heard: heard", "heard: nobody", `"nobody" is not a node`},
		"anchor":               {"title: Ladder", "title: &t Ladder", "anchors and aliases"},
		"duplicate key":        {"title: Ladder", "title: Ladder\ntitle: Stairs", "already defined"},
		"negative time":        {"letterPause: 2 s", "letterPause: -2 s", "never negative"},
		"no unit":              {"idleDrop: 120 s", "idleDrop: 120", "a time without its unit"},
		"back to nowhere":      {"back: leave", "back: home", `"home" is not a node`},
		"says what it can":     {"sayAs:\n  {CO:", "sayAs:\n  {SMOKE: [FIRE], CO:", "in the spoken list already"},
	})
}

func TestMutationsOfDrawers(t *testing.T) {
	mutations(t, "pigeonhole", map[string]mutation{
		"slot removed":      {"- {key: M, go: code}\n", "\n", "can not reach code of any zone"},
		"half an identity":  {"- {key: D, go: tail}\n", "\n", "can not reach identity"},
		"a word less":       {"- {key: Q, go: three}\n", "\n", "can not reach words"},
		"one path":          {"- {key: H, go: backup}\n", "\n", "can not reach paths"},
		"key twice":         {"key: B, go", "key: A, go", "has A twice"},
		"no such key":       {"key: R, go", "key: S, go", `no key "S"`},
		"accept key":        {"key: R, go", "key: OK, go", "a meaning of its own"},
		"slot to nowhere":   {"go: four}", "go: five}", `"five" is not a node`},
		"slot that stays":   {"field: word4, form: word, width: 2, end: \"00\", back: drawer, next: [{go: drawer}]", "field: word4, form: word, width: 2, end: \"00\", back: drawer, next: [{go: four}]", "does not lead back"},
		"slot that leaves":  {"field: word4, form: word, width: 2, end: \"00\", back: drawer, next: [{go: drawer}]", "field: word4, form: word, width: 2, end: \"00\", back: drawer, next: [{go: cabinet}]", "does not lead back"},
		"not edited":        {"edits: true", "edits: false", "needs edits: true"},
		"never shut":        {"- {key: SHUT, does: keep, says: STORED, go: cabinet}", "", "no way ends in keeping"},
		"shut and stay":     {"does: keep, says: STORED, go: cabinet", "does: keep, says: STORED, go: drawer", "no longer in hand"},
		"shut what":         {"does: keep, says", "does: burn, says", `"burn"`},
		"nothing dropped":   {"shows: SLOT\n      back: cabinet", "shows: SLOT\n      back: drawer", "no way ends in dropping"},
		"keep no zone":      {"{key: OPEN, go: number}", "{key: OPEN, go: number}, {key: SHUT, does: keep, go: cabinet}", "no zone is in hand"},
		"family numbers":    {`BR: "45"`, `BR: "46"`, "share the number"},
		"family unnumbered": {`BR: "45", `, "", "give every family its number"},
		"family of three":   {`BR: "45"`, `BR: "045"`, "as many for every family"},
		"nought family":     {`BR: "45"`, `BR: "00"`, "not all noughts"},
		"narrow half":       {"field: identityHead, form: number, width: 4", "field: identityHead, form: number, width: 3", "does not fit half an identity"},
		"before a zone":     {"{key: OPEN, go: number}", "{key: OPEN, go: number}, {key: A, go: kind}", "would belong to no zone"},
		"answers are keys":  {`area: {"1": "1", "2": "2", "3": "3", "4": "4"}`, `area: {"1": A, "2": B, "3": C, "4": D}`, "answer A can not be typed"},
		"edits and recalls": {"edits: true", "edits: true\n  recall: true", "leave one of them out"},
		"asks with keys":    {"shows: SLOT\n", "shows: SLOT\n      field: area\n", "it asks nothing"},
	})
}

func TestMutationsOfMenus(t *testing.T) {
	mutations(t, "branch", map[string]mutation{
		"kind not offered":  {`        - {shows: "HEAT", sets: {kind: "HEAT"}, go: room}` + "\n", "", "no item of a menu sets kind to HEAT"},
		"value not offered": {"        - {shows: MEDIUM, sets: {lossWindow: MEDIUM}, go: voice}\n", "", "no item of a menu sets lossWindow to MEDIUM"},
		"field not offered": {"        - {shows: CODE, go: code}\n", "", "can not reach code of any zone"},
		"menu not offered":  {"        - {shows: VOICE, go: voice}\n", "", "can not reach identity, terminal, lossWindow of any zone"},
		"item twice":        {"shows: WORDS, go", "shows: AREA, go", "has AREA twice"},
		"item with a key":   {"{shows: WORDS, go", "{shows: WORDS, key: UP, go", "has no key of its own"},
		"sets nonsense":     {"sets: {paths: MAIN}", "sets: {paths: PIGEON}", "not an answer of paths"},
		"no way up":         {"shows: PATHS\n      why: The paths by which the station is told. With one path, one fault is enough to silence the zone.\n      back: station", "shows: PATHS\n      back: paths", "has to lead up"},
		"keep below":        {"        - {shows: CODE, go: code}\n", "        - {shows: CODE, go: code}\n        - {shows: KEEP, does: keep, go: house}\n", "keep and drop belong there"},
		"no direction":      {"  down: DOWN\n", "", "name the keys up and down"},
		"fills nonsense":    {`fills: {code: "111"`, `fills: {code: "11"`, "fills code"},
		"leaves by an item": {"{shows: NEVER, sets: {lossWindow: NEVER}, go: voice}", "{shows: NEVER, sets: {lossWindow: NEVER}, go: house}", "does not lead back"},
		"forced identity":   {"{shows: NEVER, sets: {lossWindow: NEVER}, go: voice}", "{shows: NEVER, sets: {lossWindow: NEVER}, go: type}", "follows another answer"},
		"heard and lost":    {`{answer: "1", does: take, next: voice`, `{answer: "1", does: take, next: room`, "what was heard is taken"},
		"nothing told yet":  {"- {shows: ROOMS AND DOORS, go: which}", "- {shows: ROOMS AND DOORS, sets: {paths: MAIN}, go: which}", "no zone is in hand"},
		"told too early":    {"- {shows: ROOMS AND DOORS, go: which}", "- {shows: ROOMS AND DOORS, go: which}\n        - {shows: NEW, go: voice}", "no zone is in hand"},
		"menus do not edit": {"edits: true", "edits: false", "needs edits: true"},
	})
}

type mutation struct{ from, to, say string }

func mutations(t *testing.T, profile string, all map[string]mutation) {
	for name, c := range all {
		t.Run(name, func(t *testing.T) {
			text := source(t, profile)
			if !strings.Contains(text, c.from) {
				t.Fatalf("the profile has no %q any more", c.from)
			}
			_, err := Decode("changed.yaml", []byte(strings.Replace(text, c.from, c.to, 1)))
			if err == nil || !strings.Contains(err.Error(), c.say) {
				t.Fatalf("%v, want it to say %q", err, c.say)
			}
			var m *Mistake
			if !errors.As(err, &m) || m.Line == 0 || !strings.HasPrefix(err.Error(), "changed.yaml:") {
				t.Errorf("no place: %v", err)
			}
		})
	}
}

func TestPlaces(t *testing.T) {
	text := source(t, "ladder")
	bad := strings.Replace(text, `HEAT: "06"`, `HEAT: "05"`, 1)
	_, err := Decode("p.yaml", []byte(bad))
	// The later of the two in the alphabet is named: SMOKE, two members before it on the line of FRONT.
	line := 1 + strings.Count(text[:strings.Index(text, "SMOKE:")], "\n")
	column := strings.Index(strings.Split(text, "\n")[line-1], "SMOKE:") + 1
	var m *Mistake
	if !errors.As(err, &m) || m.Line != line || m.Column != column {
		t.Errorf("%v, want line %d, column %d", err, line, column)
	}
}

func TestLimits(t *testing.T) {
	for name, raw := range map[string]string{
		"too long":      strings.Repeat("#", MaxFile+1),
		"too deep":      strings.Repeat("[", 1000),
		"deep by lines": strings.Repeat("a:\n ", 3) + strings.Repeat(" ", 500) + "x: 1",
		"dashes":        strings.Repeat("- ", 5000) + "x",
		"empty":         "",
		"two documents": "a: 1\n---\nb: 2\n",
		"alias":         "a: &x 1\nb: *x\n",
		"merge":         "a: {b: 1}\n<<: {c: 2}\n",
		"not yaml":      "a: [1,\n",
		"a list":        "- 1\n",
	} {
		_, err := Decode("f.yaml", []byte(raw))
		var m *Mistake
		if !errors.As(err, &m) || m.Say.String() == "" {
			t.Errorf("%s: %v, want a *Mistake", name, err)
		}
	}
}

func FuzzDecode(f *testing.F) {
	for _, name := range Names() {
		f.Add([]byte(source(f, name)))
	}
	f.Add([]byte("format: proofbell.panel/1\nname: x\n"))
	f.Add([]byte(`{"format":"proofbell.panel/1","dialogue":{"nodes":{"a":{"next":[{"go":"a"}]}}}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		p, err := Decode("f.yaml", raw)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f.yaml:") {
				t.Errorf("an error without a place: %v", err)
			}
			return
		}
		p.Report(nil)
		p.LossWindows()
	})
}

var update = flag.Bool("update", false, "write profiles.gen.json anew")

// The built-in profiles are those of profiles/, read by Decode.
func TestBuiltinProfiles(t *testing.T) {
	files, err := filepath.Glob("profiles/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	want := map[string]*Profile{}
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if want[strings.TrimSuffix(filepath.Base(file), ".yaml")], err = Decode(file, raw); err != nil {
			t.Fatal(err)
		}
	}
	if *update {
		raw, err := json.MarshalIndent(want, "", " ")
		if err == nil {
			err = os.WriteFile("profiles.gen.json", append(raw, '\n'), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	if got := Names(); !slices.Equal(got, slices.Sorted(maps.Keys(want))) {
		t.Errorf("built in: %v, on disk: %v; run go generate", got, slices.Sorted(maps.Keys(want)))
	}
	for name, p := range want {
		if got, err := Builtin(name); err != nil || !reflect.DeepEqual(got, p) {
			t.Errorf("%s is not what its file says (%v): run go generate", name, err)
		}
	}
}

// Ways multiply with every condition; the walk ends all the same.
func TestTooManyWays(t *testing.T) {
	p := ladder(t)
	n := p.Dialogue.Nodes["missed"]
	for _, f := range []Field{FieldArea, FieldPaths, FieldBypass, FieldDoorTone, FieldTerminal, FieldLoss} {
		for _, a := range p.Takes(Node{Field: f, Form: FormChoice}) {
			n.Next = append([]Next{{When: map[Field][]string{f: {a}}, Go: "keep"}}, n.Next...)
		}
	}
	p.Dialogue.Nodes["missed"] = n
	if faults := p.Check(); len(faults) == 0 || !strings.Contains(faults[0].Say.String(), "more than 20,000 ways") {
		t.Errorf("%v", faults)
	}
}
