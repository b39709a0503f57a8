package panel

import (
	"maps"
	"slices"

	"proofbell/internal/words"
	"proofbell/site"
)

// names says every field in words.
var names = map[Field]string{
	FieldZone: words.Mark("zone"), FieldKind: words.Mark("kind"), FieldArea: words.Mark("area"), FieldWords: words.Mark("spoken words"),
	FieldPaths: words.Mark("paths"), FieldCode: words.Mark("station code"), FieldBypass: words.Mark("bypass"), FieldDoorTone: words.Mark("door tone"),
	FieldTripLimit: words.Mark("trip limit"), FieldLink: words.Mark("wire or radio"), FieldIdentity: words.Mark("identity"), FieldTerminal: words.Mark("terminal"),
	FieldLoss: words.Mark("loss window"), FieldIdentityHead: words.Mark("first half of the identity"), FieldIdentityTail: words.Mark("second half of the identity"),
	FieldPathMain: words.Mark("main path"), FieldPathBackup: words.Mark("back-up path"), FieldWord1: words.Mark("first spoken word"), FieldWord2: words.Mark("second spoken word"),
	FieldWord3: words.Mark("third spoken word"), FieldWord4: words.Mark("fourth spoken word"),
}

// Say names the field in words.
func (f Field) Say() words.Text { return words.Marked(names[f]) }

var valueNames = map[string]string{
	Yes: words.Mark("yes"), No: words.Mark("no"), PathsNone: words.Mark("nobody"), PathsMain: words.Mark("main path alone"), PathsBack: words.Mark("back-up path alone"),
	PathsBoth: words.Mark("both paths"), LinkRadio: words.Mark("radio"), LinkWired: words.Mark("wired"), LossNever: words.Mark("never"),
}

// SayValue names a neutral value in words; times and names stand for themselves.
func SayValue(value string) words.Text {
	if say, ok := valueNames[value]; ok {
		return words.Marked(say)
	}
	return words.Typed(value)
}

// CanNot lists in words what a site may ask for and this panel can not be told: kinds, values and fields without an answer.
func (p *Profile) CanNot() []words.Text {
	var out []words.Text
	for _, k := range site.ZoneKinds {
		if _, ok := p.kind(k.Kind); !ok {
			out = append(out, words.Later("%s: %s", FieldKind.Say(), words.Marked(k.Say)))
		}
	}
	for _, f := range wholes {
		switch {
		case f == FieldZone:
		case p.divides(f):
			for _, part := range p.Parts(f) {
				out = append(out, p.valuesItLacks(part)...)
			}
		case !p.asks(f) && !p.sets(f):
			out = append(out, words.Later("%s: no setting for single zones", f.Say()))
		default:
			out = append(out, p.valuesItLacks(f)...)
		}
	}
	return append(out, p.identitiesItLacks()...)
}

// identitiesItLacks names the device families whose labels can not be told to the panel.
func (p *Profile) identitiesItLacks() (out []words.Text) {
	if p.Identity.Letters != labelLetters || p.Identity.Digits != labelDigits {
		return []words.Text{words.Later("identities of %d letters and %d digits, as the known device families have them", labelLetters, labelDigits)}
	}
	for _, f := range slices.Sorted(maps.Keys(site.Families)) {
		if len(p.Identity.Families) > 0 && !slices.Contains(p.Identity.Families, f) {
			out = append(out, words.Later("identities of the family %s", words.Typed(f)))
		}
	}
	return out
}

// The identities of site.Families: two letters, five digits and the check digit.
const (
	labelLetters = 2
	labelDigits  = 6
)

func (p *Profile) valuesItLacks(f Field) (out []words.Text) {
	for _, v := range valuesOf[f] {
		if !p.Can(f, v) {
			out = append(out, words.Later("%s: %s", f.Say(), SayValue(v)))
		}
	}
	return out
}

func (p *Profile) asks(f Field) bool {
	for _, n := range p.Dialogue.Nodes {
		if n.Field == f {
			return true
		}
	}
	return false
}

// sets reports whether an item of a menu sets a field.
func (p *Profile) sets(f Field) bool {
	for _, n := range p.Dialogue.Nodes {
		for _, k := range n.Items {
			if _, ok := k.Sets[f]; ok {
				return true
			}
		}
	}
	return false
}

// divides reports whether the panel asks for all parts of a field instead of the whole.
func (p *Profile) divides(f Field) bool {
	for _, part := range p.Parts(f) {
		if !p.asks(part) {
			return false
		}
	}
	return len(p.Parts(f)) > 0
}

// Unsafe lists the dangerous answers that the panel would take for a life-safety zone without a word. The keypad does not
// think: the rules have to stop such a zone before it is keyed.
func (p *Profile) Unsafe() []words.Text {
	var out []words.Text
	add := func(f Field, value string, say words.Text) {
		if a, ok := p.Answer(f, value); ok && (p.asks(f) || p.sets(f)) {
			out = append(out, words.Later("%s %s: %s", f.Say(), words.Typed(a), say))
		}
	}
	add(FieldBypass, Yes, words.Later("users may leave a fire or CO zone out"))
	add(FieldDoorTone, Yes, words.Later("a door tone on a fire or CO zone"))
	add(FieldPaths, PathsNone, words.Later("a fire or CO zone that tells nobody"))
	add(FieldPaths, PathsMain, words.Later("a fire or CO zone that is lost with the main path"))
	add(FieldPaths, PathsBack, words.Later("a fire or CO zone that is lost with the back-up path"))
	add(FieldPathMain, No, words.Later("a fire or CO zone that the main path does not report"))
	add(FieldPathBackup, No, words.Later("a fire or CO zone that is lost with the main path"))
	add(FieldTripLimit, Yes, words.Later("a fire or CO zone that falls silent after some trips"))
	for _, w := range p.LossWindows() {
		if w.Value != LossFire {
			add(FieldLoss, w.Value, words.Later("a fire or CO device whose silence is noticed late or never"))
		}
	}
	if a, ok := p.Kind(site.SmokeVerified); ok {
		out = append(out, words.Later("kind %s: verification for heat, call points, listeners or radio heads that can not be reset", words.Typed(a)))
	}
	if p.asks(FieldCode) {
		out = append(out, words.Later("station code: any three digits with any kind, also a burglary code on a fire zone"))
	}
	if p.asks(FieldIdentity) || p.divides(FieldIdentity) {
		out = append(out, words.Later("identity: one identity and terminal in several zones, and a wrong check digit"))
	}
	if p.Dialogue.Edits {
		out = append(out, words.Later("a zone kept with answers missing: the dialogue takes them in any order and asks for none"))
	}
	for _, k := range p.Kinds {
		if len(k.Fills) > 0 && p.Dialogue.Edits {
			return append(out, words.Later("a change of kind that leaves the old code and habits in the zone"))
		}
	}
	return out
}

// Unsaid lists what the author may want to add: nothing refuses a profile without it.
func (p *Profile) Unsaid() []words.Text {
	var out []words.Text
	untested := 0
	for _, k := range p.Kinds {
		if k.Test == "" && k.Kind != site.Unused {
			untested++
		}
	}
	if untested > 0 {
		out = append(out, words.Later("kinds whose part in the panel's test mode is not said: %d", untested))
	}
	mute := 0
	places := map[string]int{}
	for _, n := range p.Dialogue.Nodes {
		if n.Why == "" && n.Field != "" {
			mute++
		}
		places[n.Shows]++
	}
	if mute > 0 {
		out = append(out, words.Later("questions without a reason (why) for the sheet: %d", mute))
	}
	var twice []string
	for shows, n := range places {
		if n > 1 {
			twice = append(twice, shows)
		}
	}
	if slices.Sort(twice); len(twice) > 0 {
		out = append(out, words.Later("shown at more than one place, so that the display alone does not tell where the panel is: %s", words.Typed(words.List(nil, twice))))
	}
	t := p.Timing
	for _, m := range []struct {
		zero bool
		say  words.Text
	}{
		{t.IdleDrop.SI() == 0, words.Later("timing.idleDrop is not given: the zone in hand would be kept for ever")},
		{t.Restart.SI() == 0, words.Later("timing.restart is not given")},
		{t.PerKey.SI() == 0 || t.PerPrompt.SI() == 0, words.Later("timing.perKey or perPrompt is not given: no estimate of the time at the keypad")},
		{t.ToStation.SI() == 0 || t.ToStationWorst.SI() == 0, words.Later("timing.toStation or toStationWorst is not given: proving goes by its own defaults")},
	} {
		if m.zero {
			out = append(out, m.say)
		}
	}
	return out
}
