package panel

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// Fault is one reason why a profile can not be used.
type Fault struct {
	Path string     // member of the file: "dialogue.nodes.tell.next[0]"
	Say  words.Text // what is wrong, and what to do
}

// Limits of what a profile may ask for, so that a stranger's file can not keep the checker or the keypad busy.
const (
	maxZone    = 9999
	zoneDigits = 4 // of maxZone
	maxNodes   = 200
	maxWidth   = 12
	maxAnswer  = 12
	maxList    = 2000 // answers of a field, spoken words
	maxKinds   = 200
	maxWays    = 64 // out of one node
	maxFaults  = 100
)

const digitSigns = "0123456789"

// only reports whether a text holds nothing but these signs.
func only(text, signs string) bool { return strings.Trim(text, signs) == "" }

// isName: 1 to 32 small letters, digits and dashes, a letter in front.
func isName(text string) bool {
	const small = "abcdefghijklmnopqrstuvwxyz"
	return text != "" && len(text) <= 32 && only(text[:1], small) && only(text, small+digitSigns+"-")
}

// isAnswer: capitals, then digits; either may be missing.
func isAnswer(text string) bool {
	return only(strings.TrimLeft(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"), digitSigns)
}

// isCode: the three digits of an event code.
func isCode(text string) bool { return len(text) == 3 && only(text, digitSigns) }

// isNumber: digits, one or more.
func isNumber(text string) bool { return text != "" && only(text, digitSigns) }

// Check proves that the profile is whole and that its dialogue can program every zone that it claims to hold. The result
// is empty when it is fit for use. The order is that of the file, then that of the dialogue.
func (p *Profile) Check() []Fault {
	c := newChecker(p)
	c.heads()
	c.words()
	c.kinds()
	c.answers()
	c.keypad()
	c.nodes()
	if len(c.faults) == 0 { // ways are walked only over sound nodes
		c.ways()
	}
	return c.faults
}

func newChecker(p *Profile) *checker {
	return &checker{p: p, told: map[string]bool{}, lists: map[Field][]string{}}
}

type checker struct {
	p      *Profile
	faults []Fault
	told   map[string]bool
	lists  map[Field][]string
}

// answersOf returns the answers that a field can have where they are listed, sorted.
func (c *checker) answersOf(f Field) []string {
	list, known := c.lists[f]
	if !known {
		list = c.p.Takes(Node{Field: f, Form: FormChoice})
		c.lists[f] = list
	}
	return list
}

// fault notes a fault once. Those beyond the limit are not told: the file is something else, or hostile.
func (c *checker) fault(path string, say words.Text) {
	if len(c.faults) == maxFaults {
		return
	}
	key := path + "\x00" + say.String()
	if c.told[key] {
		return
	}
	c.told[key] = true
	c.faults = append(c.faults, Fault{path, say})
}

func (c *checker) heads() {
	p := c.p
	if p.Format != Format {
		c.fault("format", words.Later("format is %q, this version reads %q", p.Format, Format))
	}
	if !isName(p.Name) {
		c.fault("name", words.Later("name %q: use lower case letters, digits and dashes, a letter first, at most 32", p.Name))
	}
	if p.Title == "" {
		c.fault("title", words.Later("title is missing; say how people call the panel"))
	}
	if p.Version == "" {
		c.fault("version", words.Later("version is missing; say which program of the panel was described"))
	}
	if len(p.Formats) == 0 {
		c.fault("formats", words.Later("formats is missing; list contact-id, sia or both"))
	}
	for i, f := range p.Formats {
		if f != "contact-id" && f != "sia" {
			c.fault(fmt.Sprintf("formats[%d]", i), words.Later("format %q: want contact-id or sia", f))
		}
	}
	if p.Zones.First < 0 || p.Zones.First > p.Zones.Last || p.Zones.Last > maxZone {
		c.fault("zones", words.Later("zones %d to %d: want 0 <= first <= last <= %d", p.Zones.First, p.Zones.Last, maxZone))
	}
	if p.Label.Words < 1 || p.Label.Words > 16 {
		c.fault("label.words", words.Later("a label of %d words: want 1 to 16", p.Label.Words))
	}
	if i := p.Identity; i.Letters < 0 || i.Letters > 4 || i.Digits < 1 || i.Digits > maxWidth {
		c.fault("identity", words.Later("an identity of %d letters and %d digits: want 0 to 4 letters and 1 to %d digits", i.Letters, i.Digits, maxWidth))
	}
	for i, f := range p.Identity.Families {
		if len(f) != p.Identity.Letters || letterCount(f) != len(f) {
			c.fault(fmt.Sprintf("identity.families[%d]", i), words.Later("family %q: want %d capital letters", f, p.Identity.Letters))
		}
	}
	numbers := map[string]string{}
	for _, f := range slices.Sorted(maps.Keys(p.Identity.Numbers)) {
		n := p.Identity.Numbers[f]
		switch {
		case !slices.Contains(p.Identity.Families, f):
			c.fault("identity.numbers."+f, words.Later("number of family %s, which is not in the list of families", f))
		case !isNumber(n) || len(n) != len(p.Identity.Numbers[p.Identity.Families[0]]) || strings.Trim(n, "0") == "":
			c.fault("identity.numbers."+f, words.Later("family %s: %q: want digits, not all noughts, as many for every family", f, n))
		case numbers[n] != "":
			c.fault("identity.numbers."+f, words.Later("families %s and %s share the number %s", numbers[n], f, n))
		}
		numbers[n] = f
	}
	for i, f := range p.Lacks {
		if !slices.Contains(fields, f) || f == FieldZone || f == FieldKind {
			c.fault(fmt.Sprintf("lacks[%d]", i), words.Later("%q is not a field that a panel can lack", f))
		}
	}
}

func (c *checker) words() {
	seen := map[string]string{}
	if len(c.p.Words) > maxList {
		c.fault("words", words.Later("%d words: want at most %d", len(c.p.Words), maxList))
		return
	}
	for _, w := range slices.Sorted(maps.Keys(c.p.Words)) {
		n := c.p.Words[w]
		switch {
		case w == "" || w != strings.ToUpper(w) || strings.ContainsAny(w, " \t"):
			c.fault("words."+w, words.Later("word %q: write one word in capitals", w))
		case !isNumber(n):
			c.fault("words."+w, words.Later("word %s: %q is not a number in digits", w, n))
		case seen[n] != "":
			c.fault("words."+w, words.Later("words %s and %s share the number %s; give each its own", seen[n], w, n))
		}
		seen[n] = w
	}
	for _, w := range slices.Sorted(maps.Keys(c.p.SayAs)) {
		if c.p.Words[w] != "" {
			c.fault("sayAs."+w, words.Later("%s is in the spoken list already; it needs no other words", w))
		}
		for _, s := range c.p.SayAs[w] {
			if c.p.Words[s] == "" {
				c.fault("sayAs."+w, words.Later("%s is said as %s, which is not in the spoken list", w, s))
			}
		}
	}
}

func (c *checker) kinds() {
	if len(c.p.Kinds) > maxKinds {
		c.fault("kinds", words.Later("%d kinds: want at most %d", len(c.p.Kinds), maxKinds))
		return
	}
	byKind := map[site.ZoneKind]bool{}
	byAnswer := map[string]site.ZoneKind{} // answer and code -> kind
	plain := map[string]bool{}
	for i, k := range c.p.Kinds {
		at := fmt.Sprintf("kinds[%d]", i)
		if k.Kind.Family() == "" {
			c.fault(at+".kind", words.Later("%q is not a kind of zone; see docs/format/site.md", k.Kind))
		}
		if byKind[k.Kind] {
			c.fault(at+".kind", words.Later("kind %s is listed twice", k.Kind))
		}
		byKind[k.Kind] = true
		if k.Answer == "" {
			c.fault(at+".answer", words.Later("kind %s has no answer", k.Kind))
		}
		if k.Code != "" && !isCode(k.Code) {
			c.fault(at+".code", words.Later("station code %q: want three digits", k.Code))
		}
		if other, ok := byAnswer[k.Answer+" "+k.Code]; ok {
			c.fault(at+".answer", words.Later("kinds %s and %s share the answer %q; tell one of them by a code of its own", other, k.Kind, k.Answer))
		}
		for _, f := range slices.Sorted(maps.Keys(k.Fills)) {
			listed := slices.Contains(slices.Collect(maps.Values(c.p.Answers[f])), k.Fills[f])
			if f == FieldCode && !isCode(k.Fills[f]) || f != FieldCode && !listed {
				c.fault(at+".fills."+string(f), words.Later("kind %s fills %s with %q, which is no answer of it", k.Kind, f, k.Fills[f]))
			}
		}
		byAnswer[k.Answer+" "+k.Code] = k.Kind
		plain[k.Answer] = plain[k.Answer] || k.Code == ""
		switch k.Restore {
		case RestoreFollows, RestoreReset, RestoreBell, RestoreNone:
		default:
			c.fault(at+".restore", words.Later("restore %q: want follows, reset, bell or none", k.Restore))
		}
		switch k.Test {
		case "", TestReports, TestMarked, TestSilent:
		default:
			c.fault(at+".test", words.Later("test %q: want reports, marked, silent or nothing", k.Test))
		}
	}
	for i, k := range c.p.Kinds {
		if k.Code != "" && len(k.Fills) > 0 {
			c.fault(fmt.Sprintf("kinds[%d].fills", i), words.Later("kind %s is told by its code alone, so the panel fills what it fills for any other code; leave fills out here", k.Kind))
		}
		if !plain[k.Answer] {
			c.fault(fmt.Sprintf("kinds[%d].code", i), words.Later("answer %q is only listed with codes; list the kind it means with any other code", k.Answer))
		}
	}
	if len(c.p.Kinds) == 0 {
		c.fault("kinds", words.Later("no kinds of zone; list what the panel takes for each"))
	}
}

func (c *checker) answers() {
	for _, f := range slices.Sorted(maps.Keys(c.p.Answers)) {
		list, at := c.p.Answers[f], "answers."+string(f)
		if len(list) > maxList {
			c.fault(at, words.Later("%d answers: want at most %d", len(list), maxList))
			continue
		}
		if _, fixed := valuesOf[f]; !fixed && f != FieldArea && f != FieldTerminal {
			c.fault(at, words.Later("%q is not a field with listed answers", f))
			continue
		}
		seen := map[string]string{}
		for _, v := range slices.Sorted(maps.Keys(list)) {
			if known := valuesOf[f]; known != nil && !slices.Contains(known, v) {
				c.fault(at+"."+v, words.Later("%s has no value %q; want one of: %s", f, v, strings.Join(known, ", ")))
			}
			if other, ok := seen[list[v]]; ok {
				c.fault(at+"."+v, words.Later("%s: %q and %q share the answer %q; the panel could not tell them apart", f, other, v, list[v]))
			}
			seen[list[v]] = v
		}
	}
}

func (c *checker) keypad() {
	k := c.p.Keypad
	if len(k.Keys) > 64 {
		c.fault("keypad.keys", words.Later("%d keys: want at most 64", len(k.Keys)))
	}
	seen := map[string]bool{}
	for i, key := range k.Keys {
		if key == "" || key == Wait || strings.ContainsAny(key, " \t#") || seen[key] {
			c.fault(fmt.Sprintf("keypad.keys[%d]", i), words.Later("key %q: want names without spaces, each once, and not %s", key, Wait))
		}
		if len(key) > 1 && isNumber(key) {
			c.fault(fmt.Sprintf("keypad.keys[%d]", i), words.Later("key %q: in a list of keys it would be read as single digits; give it a name with letters", key))
		}
		seen[key] = true
	}
	for d := '0'; d <= '9'; d++ {
		if !seen[string(d)] {
			c.fault("keypad.keys", words.Later("no key %c; answers are made of digits", d))
		}
	}
	if !seen[k.Accept] || len(k.Accept) < 2 {
		c.fault("keypad.accept", words.Later("accept key %q: name one of the keys, not a digit", k.Accept))
	}
	if !seen[k.Back] || len(k.Back) < 2 || k.Back == k.Accept {
		c.fault("keypad.back", words.Later("back key %q: name one of the keys, neither a digit nor the accept key", k.Back))
	}
	for _, key := range []string{k.Up, k.Down} {
		if key != "" && (key == k.Accept || key == k.Back) {
			c.fault("keypad", words.Later("key %s moves in menus and has another meaning besides; it would be ambiguous", key))
		}
	}
	if len(k.Letters) > 0 && k.LetterPause.SI() <= 0 {
		c.fault("keypad.letterPause", words.Later("letters turn on their keys, so letterPause has to say how long it takes until one stands"))
	}
	letters := map[rune]string{}
	for _, key := range slices.Sorted(maps.Keys(k.Letters)) {
		if len(key) != 1 || !seen[key] {
			c.fault("keypad.letters."+key, words.Later("letters on key %q, which is not a digit key", key))
		}
		for _, r := range k.Letters[key] {
			if r < 'A' || r > 'Z' {
				c.fault("keypad.letters."+key, words.Later("%q on key %s: want capital letters", string(r), key))
			} else if letters[r] != "" {
				c.fault("keypad.letters."+key, words.Later("letter %c sits on the keys %s and %s; it would be ambiguous", r, letters[r], key))
			}
			letters[r] = key
		}
	}
	t := c.p.Timing
	if least := min(t.IdleDrop.SI(), t.Restart.SI(), t.ToPanel.SI(), t.ToStation.SI(), t.ToStationWorst.SI(), t.RestoreWithin.SI(), t.PerKey.SI(), t.PerPrompt.SI(), k.LetterPause.SI()); least < 0 {
		c.fault("timing", words.Later("times are never negative"))
	}
	if idle := t.IdleDrop.SI(); len(k.Letters) > 0 && idle > 0 && idle <= k.LetterPause.SI() {
		c.fault("timing.idleDrop", words.Later("the zone is dropped before a letter stands; make idleDrop longer than letterPause"))
	}
}
