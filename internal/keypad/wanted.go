package keypad

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Problem is a reason why a zone can not be keyed as the site has it, or a remark on how it is keyed.
type Problem struct {
	Zone   site.ZoneID `json:"zone"`
	Field  panel.Field `json:"field,omitempty"`
	Say    string      `json:"say"`
	Do     string      `json:"do,omitempty"`
	Blocks bool        `json:"blocks,omitempty"` // the zone is left out of the sheet
}

// Wanted translates the zones of a site into what the panel should hold. A zone with a blocking problem is left out of the
// table. Problems are sorted by zone.
func Wanted(s *site.Site, p *panel.Profile) (ZoneTable, []Problem) { return WantedIn(nil, s, p) }

// WantedIn is Wanted with its problems in a language. The table is the same.
func WantedIn(lang *words.Language, s *site.Site, p *panel.Profile) (ZoneTable, []Problem) {
	table := ZoneTable{}
	var problems []Problem
	if f := s.Account.Format; f != "" && !slices.Contains(p.Formats, f) {
		problems = append(problems, Problem{Field: panel.FieldCode, Say: lang.Say("the account reports in format %s and this panel only in %s", f, strings.Join(p.Formats, ", ")), Do: lang.Say("Agree the format with the station, then correct the codes.")})
	}
	claims := map[site.ZoneID][]site.ZoneID{} // number at the panel -> ids in the site
	for _, id := range slices.Sorted(maps.Keys(s.Zones)) {
		if n, ok := p.ZoneNumber(id); ok {
			claims[p.ZoneID(n)] = append(claims[p.ZoneID(n)], id)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(s.Zones)) {
		t := translator{lang: lang, s: s, p: p, id: id, z: s.Zones[id]}
		n, ok := p.ZoneNumber(id)
		number := p.ZoneID(n)
		if !ok {
			t.block(panel.FieldZone, t.lang.Say("zone %q is not one of the panel's %d to %d", id, p.Zones.First, p.Zones.Last), t.lang.Say("Give it a number of the panel."))
		} else if all := claims[number]; len(all) > 1 && id != number { // only the panel's own spelling is sure to be meant
			other := all[(slices.Index(all, id)+1)%len(all)]
			t.block(panel.FieldZone, t.lang.Say("zones %q and %q are the same number at the panel", id, other), t.lang.Say("Remove one of them."))
		}
		full := t.answers()
		if !t.blocked {
			if slots, err := asked(p, full); err != nil {
				t.block("", said(lang, err), t.lang.Say("Complete the zone."))
			} else {
				table[number] = slots
			}
		}
		problems = append(problems, t.problems...)
	}
	return table, problems
}

// translator turns one zone into answers.
type translator struct {
	lang     *words.Language
	s        *site.Site
	p        *panel.Profile
	id       site.ZoneID
	z        site.Zone
	problems []Problem
	blocked  bool
}

func (t *translator) block(f panel.Field, say, do string) {
	t.blocked = true
	t.problems = append(t.problems, Problem{t.id, f, say, do, true})
}

func (t *translator) remark(f panel.Field, say, do string) {
	t.problems = append(t.problems, Problem{Zone: t.id, Field: f, Say: say, Do: do})
}

// listed gives the answer for a neutral value, or blocks the zone.
func (t *translator) listed(full Slots, f panel.Field, value, what string) {
	a, ok := t.p.Answer(f, value)
	if !ok && !slices.Contains(t.p.Lacks, f) {
		t.block(f, t.lang.Say("%s %q can not be told to this panel", what, value), t.lang.Say("Choose another one."))
	}
	full[f] = a
}

// answers gives the answer to every question that the panel might ask about the zone.
func (t *translator) answers() Slots {
	p, z, full := t.p, t.z, Slots{}
	kind, ok := p.Kind(z.Kind)
	switch {
	case z.Kind == "":
		t.block(panel.FieldKind, t.lang.Say("the kind of zone is not chosen"), t.lang.Say("Choose what the zone watches."))
	case !ok:
		t.block(panel.FieldKind, t.lang.Say("this panel has no zones of kind %s", kindSay(t.lang, z.Kind)), t.lang.Say("Choose another kind, or report it by another way."))
	}
	full[panel.FieldKind] = kind
	if z.Kind == site.Unused {
		t.harmless(full)
		return full
	}
	t.words(full)
	if z.Area == "" {
		t.block(panel.FieldArea, t.lang.Say("the area is not chosen"), t.lang.Say("Choose where the zone is."))
	} else {
		t.listed(full, panel.FieldArea, string(z.Area), t.lang.Say("area"))
	}
	t.code(full)
	t.paths(full)
	t.listed(full, panel.FieldBypass, yesNo(z.Bypass), t.lang.Say("bypass"))
	t.listed(full, panel.FieldDoorTone, yesNo(z.DoorTone), t.lang.Say("door tone"))
	t.listed(full, panel.FieldTripLimit, yesNo(limited(t.s, z)), t.lang.Say("trip limit"))
	if z.TripLimit != nil {
		if slices.Contains(p.Lacks, panel.FieldTripLimit) {
			t.remark(panel.FieldTripLimit, t.lang.Say("this panel has no trip limit for single zones"), t.lang.Say("See the panel-wide settings."))
		}
	}
	t.device(full)
	return full
}

// harmless answers whatever a panel may ask about a zone that is not used.
func (t *translator) harmless(full Slots) {
	terminal := ""
	if all := t.p.Terminals(); len(all) > 0 {
		terminal = all[0]
	}
	for f, value := range map[panel.Field]string{
		panel.FieldArea: string(cmp.Or(t.z.Area, firstArea(t.p))), panel.FieldPaths: panel.PathsNone, panel.FieldBypass: panel.No, panel.FieldDoorTone: panel.No,
		panel.FieldTripLimit: panel.No, panel.FieldLink: panel.LinkWired, panel.FieldTerminal: terminal, panel.FieldLoss: panel.LossNever,
	} {
		if a, ok := t.p.Answer(f, value); ok {
			full[f] = a
		}
	}
	full[panel.FieldCode], full[panel.FieldWords] = "000", ""
	t.noIdentity(full)
	t.pathByPath(full, panel.PathsNone)
	t.wordByWord(full, nil)
	if codes, missing := t.p.SayZone(t.z); len(missing) == 0 && len(codes) <= t.p.Label.Words {
		t.wordByWord(full, codes)
		full[panel.FieldWords] = strings.Join(codes, " ") // "Spare" is for people; a word that can not be said is no reason to stop
	}
}

// noIdentity gives the answers of panels that take an identity in two halves and know a wired zone by noughts.
func (t *translator) noIdentity(full Slots) {
	for _, f := range t.p.Parts(panel.FieldIdentity) {
		if n, ok := t.asking(f); ok {
			full[f] = strings.Repeat("0", n.Width)
		}
	}
}

// limited reports whether the trip limit applies to a zone: as the zone says, else as the settings say for its family.
func limited(s *site.Site, z site.Zone) bool {
	if z.TripLimit != nil {
		return *z.TripLimit
	}
	return s.Settings.TripLimit.Trips > 0 && slices.Contains(s.Settings.TripLimit.Applies, z.Kind.Family())
}

func yesNo(b bool) string {
	if b {
		return panel.Yes
	}
	return panel.No
}

func firstArea(p *panel.Profile) site.AreaID {
	if a := p.Areas(); len(a) > 0 {
		return a[0]
	}
	return ""
}

func (t *translator) words(full Slots) {
	codes, missing := t.p.SayZone(t.z)
	for _, w := range missing {
		do := t.lang.Say("Choose words from the panel's spoken list.")
		if instead := t.p.SayInstead(w); instead != nil {
			do = t.lang.Say("Say %s instead.", strings.Join(instead, " "))
		}
		t.block(panel.FieldWords, t.lang.Say("the panel can not say %s", w), do)
	}
	if n := len(codes) + len(missing); n > t.p.Label.Words {
		t.block(panel.FieldWords, t.lang.Say("the label has %d words, the panel says at most %d", n, t.p.Label.Words), t.lang.Say("Shorten it."))
	}
	full[panel.FieldWords] = strings.Join(codes, " ")
	t.wordByWord(full, codes)
}

// wordByWord gives the answers of panels that take the words one by one.
func (t *translator) wordByWord(full Slots, codes []string) {
	for i, f := range t.p.Parts(panel.FieldWords) {
		if full[f] = t.end(f); i < len(codes) {
			full[f] = codes[i]
		}
	}
}

// asking is the first node, by name, that asks for a field.
func (t *translator) asking(f panel.Field) (n panel.Node, ok bool) {
	for _, id := range slices.Sorted(maps.Keys(t.p.Dialogue.Nodes)) {
		if n := t.p.Dialogue.Nodes[id]; n.Field == f {
			return n, true
		}
	}
	return n, false
}

// end is the answer that means no word.
func (t *translator) end(f panel.Field) string {
	n, _ := t.asking(f)
	return n.End
}

func (t *translator) code(full Slots) {
	p, z := t.p, t.z
	code := z.Code
	if code == "" && (z.Kind == site.Observe) {
		code = "000" // the panel asks for three digits; nothing is sent
	}
	switch {
	case len(code) != 3 || strings.Trim(code, "0123456789") != "":
		t.block(panel.FieldCode, t.lang.Say("station code %q is not three digits", code), t.lang.Say("Enter the event code that the station expects."))
	case p.CodeFor(z.Kind) != "" && code != p.CodeFor(z.Kind):
		t.block(panel.FieldCode, t.lang.Say("this panel tells a zone of kind %s by code %s alone; with %s it would be another kind", kindSay(t.lang, z.Kind), p.CodeFor(z.Kind), code), t.lang.Say("Use code %s.", p.CodeFor(z.Kind)))
	default:
		if k, ok := p.KindOf(full[panel.FieldKind], code); ok && k != z.Kind && z.Kind != "" {
			t.block(panel.FieldCode, t.lang.Say("with code %s this panel takes the zone for kind %s", code, kindSay(t.lang, k)), t.lang.Say("Correct the code or the kind."))
		}
	}
	full[panel.FieldCode] = code
}

func (t *translator) paths(full Slots) {
	value, unknown := PathsOf(t.s, t.z.Paths)
	for _, id := range unknown {
		t.block(panel.FieldPaths, t.lang.Say("path %q is neither the main nor the back-up path of the account", id), t.lang.Say("Name a path of the account."))
	}
	if len(unknown) == 0 {
		t.pathByPath(full, value)
		if full[panel.FieldPathMain] == "" || !t.p.Can(panel.FieldPaths, value) {
			t.listed(full, panel.FieldPaths, value, t.lang.Say("reporting by"))
		}
	}
}

// pathByPath gives the answers of panels that ask for each path.
func (t *translator) pathByPath(full Slots, value string) {
	for f, by := range map[panel.Field]bool{
		panel.FieldPathMain: value == panel.PathsMain || value == panel.PathsBoth, panel.FieldPathBackup: value == panel.PathsBack || value == panel.PathsBoth,
	} {
		if a, ok := t.p.Answer(f, yesNo(by)); ok {
			full[f] = a
		}
	}
}

// PathsOf reduces the paths of a zone to the four ways that panels know: none, main, backup, both. Paths that the account
// does not have, or has beyond the second, come back in unknown.
func PathsOf(s *site.Site, paths []site.PathID) (value string, unknown []site.PathID) {
	main, back := false, false
	for _, id := range paths {
		switch order(s, id) {
		case 1:
			main = true
		case 2:
			back = true
		default:
			unknown = append(unknown, id)
		}
	}
	switch {
	case main && back:
		return panel.PathsBoth, unknown
	case main:
		return panel.PathsMain, unknown
	case back:
		return panel.PathsBack, unknown
	}
	return panel.PathsNone, unknown
}

// order is 1 for the main path of the account, 2 for its back-up, 0 for anything else. A path without an order goes by its id.
func order(s *site.Site, id site.PathID) int {
	path, ok := s.Account.Paths[id]
	switch {
	case !ok:
		return 0
	case path.Order == 0 && id == "main":
		return 1
	case path.Order == 0 && id == "backup":
		return 2
	}
	return path.Order
}

func (t *translator) device(full Slots) {
	p, z := t.p, t.z
	d, ok := t.s.Devices[z.Device]
	if !ok {
		t.block(panel.FieldIdentity, t.lang.Say("no device is on the zone"), t.lang.Say("Choose the device, or make the zone unused."))
		return
	}
	m := t.s.Models[d.Model]
	link := m.Link
	if link == "" && d.Identity != "" {
		link = panel.LinkRadio
	}
	if link == "" {
		t.block(panel.FieldLink, t.lang.Say("device %s: wired or radio is not known", z.Device), t.lang.Say("Give its model a link."))
		return
	}
	t.listed(full, panel.FieldLink, link, t.lang.Say("link"))
	terminal := z.Terminal
	if terminal == "" && len(m.Terminals) == 1 {
		for name := range m.Terminals {
			terminal = name
		}
	}
	if terminal == "" {
		t.block(panel.FieldTerminal, t.lang.Say("device %s: the terminal is not chosen", z.Device), t.lang.Say("Choose the input that this zone watches."))
	} else {
		t.listed(full, panel.FieldTerminal, terminal, t.lang.Say("terminal"))
	}
	if link != panel.LinkRadio {
		t.noIdentity(full)
		if never, ok := p.Answer(panel.FieldLoss, panel.LossNever); ok {
			full[panel.FieldLoss] = never // for panels that ask this of wired zones too
		}
		return
	}
	if why := badIdentity(t.lang, p, d.Identity); why != "" {
		t.block(panel.FieldIdentity, t.lang.Say("device %s: identity %q %s", z.Device, d.Identity, why), t.lang.Say("Read the label again."))
	}
	full[panel.FieldIdentity] = d.Identity
	full[panel.FieldIdentityHead], full[panel.FieldIdentityTail], _ = p.Identity.InDigits(d.Identity)
	if z.LossWindow == "" {
		t.block(panel.FieldLoss, t.lang.Say("the loss window is not chosen"), t.lang.Say("Choose how long the device may be silent."))
	} else {
		t.listed(full, panel.FieldLoss, z.LossWindow, t.lang.Say("loss window"))
	}
}

// badIdentity says why the panel would not take an identity, "" when it would. The check digit is the rules' business: this
// panel does not know it.
func badIdentity(lang *words.Language, p *panel.Profile, id string) string {
	letters, digits := p.Identity.Letters, p.Identity.Digits
	if len(id) != letters+digits || strings.Trim(id[letters:], "0123456789") != "" {
		return lang.Say("does not have %d letters and %d digits", letters, digits)
	}
	family := id[:letters]
	if len(p.Identity.Families) > 0 && !slices.Contains(p.Identity.Families, family) {
		return lang.Say("begins with %s, which is no device family of this panel", family)
	}
	return ""
}

// asked keeps those answers that the dialogue asks for on the way of this zone.
func asked(p *panel.Profile, full Slots) (Slots, error) {
	steps, err := way(p, full)
	if err != nil {
		return nil, err
	}
	slots := Slots{}
	for _, st := range steps {
		if f := p.Dialogue.Nodes[st.node].Field; f != "" && f != panel.FieldZone {
			slots[f] = full[f]
		}
		if st.pick != nil {
			for f, a := range st.pick.Sets {
				slots[f] = a
			}
		}
	}
	return slots, nil
}

// Zones reads a zone table backwards: the zones that a site would have to describe to get it. Devices are found by their
// identity among the site's; a wired zone's device can not be known and stays empty, and so do labels: Words has the
// spoken words. Answers that the profile does not know leave their member empty.
func Zones(s *site.Site, p *panel.Profile, t ZoneTable) map[site.ZoneID]site.Zone {
	devices := map[string]site.DeviceID{}
	for _, id := range slices.Sorted(maps.Keys(s.Devices)) {
		if tag := s.Devices[id].Identity; tag != "" && devices[tag] == "" {
			devices[tag] = id
		}
	}
	out := make(map[site.ZoneID]site.Zone, len(t))
	for id, slots := range t {
		value := func(f panel.Field) string {
			v, _ := p.Value(f, slots[f])
			return v
		}
		z := site.Zone{
			Area:       site.AreaID(value(panel.FieldArea)),
			Code:       slots[panel.FieldCode],
			Device:     devices[identityOf(p, slots)],
			Terminal:   value(panel.FieldTerminal),
			LossWindow: value(panel.FieldLoss),
			Bypass:     value(panel.FieldBypass) == panel.Yes,
			DoorTone:   value(panel.FieldDoorTone) == panel.Yes,
			Keyed:      true,
		}
		z.Kind, _ = p.KindOf(slots[panel.FieldKind], z.Code)
		for _, n := range wordsOf(p, slots) {
			z.Words = append(z.Words, p.Word(n))
		}
		paths := value(panel.FieldPaths)
		if paths == "" {
			paths = bothPaths[value(panel.FieldPathMain)+value(panel.FieldPathBackup)]
		}
		z.Paths = pathsFor(s, paths)
		if limit := value(panel.FieldTripLimit); limit != "" {
			yes := limit == panel.Yes
			z.TripLimit = &yes
		}
		out[id] = z
	}
	return out
}

var bothPaths = map[string]string{panel.Yes + panel.Yes: panel.PathsBoth, panel.Yes + panel.No: panel.PathsMain, panel.No + panel.Yes: panel.PathsBack}

// identityOf is the identity in a zone's answers, whole or from its halves; "" for a zone on a wire.
func identityOf(p *panel.Profile, slots Slots) string {
	if tag := slots[panel.FieldIdentity]; tag != "" {
		return tag
	}
	tag, _ := p.Identity.FromDigits(slots[panel.FieldIdentityHead], slots[panel.FieldIdentityTail])
	return tag
}

// wordsOf are the numbers of the words that a zone says.
func wordsOf(p *panel.Profile, slots Slots) []string {
	out := strings.Fields(slots[panel.FieldWords])
	for _, f := range p.Parts(panel.FieldWords) {
		if p.Word(slots[f]) != "" {
			out = append(out, slots[f])
		}
	}
	return out
}

func pathsFor(s *site.Site, value string) []site.PathID {
	var out []site.PathID
	for _, id := range slices.Sorted(maps.Keys(s.Account.Paths)) {
		n := order(s, id)
		if n == 1 && (value == panel.PathsMain || value == panel.PathsBoth) ||
			n == 2 && (value == panel.PathsBack || value == panel.PathsBoth) {
			out = append(out, id)
		}
	}
	return out
}
