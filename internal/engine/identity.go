package engine

import (
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// IdentityArg is what job.identity is asked about.
type IdentityArg struct {
	Text   string `json:"text"`   // typed, scanned or shown by the panel
	Zone   string `json:"zone"`   // id in the site, to find the device; or
	Device string `json:"device"` // the device itself; both empty: a device that is not there yet
	Heard  bool   `json:"heard"`  // the panel shows it: it is kept or refused there
}

// How far what was read is an identity. Append only.
const (
	IdentityNone    = "none"    // nothing like one
	IdentityPart    = "part"    // signs are missing, or too many
	IdentityWrong   = "wrong"   // the check digit fails
	IdentityRight   = "right"   // the check digit passes
	IdentityUnknown = "unknown" // of a family whose check digit is not known here
)

// IdentityRead is what an identity that was typed, scanned or heard by the panel is worth.
type IdentityRead struct {
	Identity string           `json:"identity"` // as a site file keeps it; "" none
	Shown    string           `json:"shown"`    // grouped as labels print it
	Marks    []int            `json:"marks"`    // places in Shown that differ from what is planned
	Check    string           `json:"check"`    // see IdentityNone and its fellows
	Say      []string         `json:"say"`      // what there is to say, gravest first
	Try      string           `json:"try"`      // what to do
	Same     bool             `json:"same"`     // it is the planned one
	Likely   []LikelyIdentity `json:"likely"`   // what may have been meant
	Keep     bool             `json:"keep"`     // it may be kept for the device
	Device   string           `json:"device"`   // whose identity it would be
	Name     string           `json:"name"`     // of that device: "Smoke detector with sounder, zone 12, Hall smoke"
	Planned  string           `json:"planned"`  // "" none yet
	PlanSaid string           `json:"planSaid"` // grouped as labels print it
	Refuse   bool             `json:"refuse"`   // heard, and not to be kept at the panel
	Press    []string         `json:"press"`    // heard: keys that keep or refuse it; empty where the panel does not listen
	Listens  bool             `json:"listens"`  // the panel can hear an identity
}

// LikelyIdentity is what may have been meant, with why.
type LikelyIdentity struct {
	Identity string `json:"identity"`
	Shown    string `json:"shown"`
	Say      string `json:"say"` // "digits 4 and 5 swapped"
}

const (
	mostIdentityText = 4096 // bytes that are read of a code
	mostLikely       = 4
)

// ReadIdentity holds what was typed, scanned or heard against the plan of one device and against all others.
func (d *Desk) ReadIdentity(a IdentityArg) IdentityRead {
	s := d.State.Site
	v := IdentityRead{Marks: []int{}, Say: []string{}, Likely: []LikelyIdentity{}, Press: []string{}, Device: a.Device, Check: IdentityNone}
	if z, ok := s.Zones[site.ZoneID(a.Zone)]; ok && a.Device == "" {
		v.Device = string(z.Device)
	}
	device := site.DeviceID(v.Device)
	if own, ok := s.Devices[device]; ok {
		v.Name, v.Planned = words.Join(s.Models[own.Model].Name, d.deviceWords(device)), own.Identity
		v.PlanSaid = site.GroupIdentity(v.Planned)
	}
	heard := d.hears(&v)
	v.Identity = d.identityIn(a.Text)
	v.Shown = site.GroupIdentity(v.Identity)
	v.Same = v.Identity != "" && v.Identity == v.Planned
	verdict := d.checkIdentity(&v)
	d.againstPlan(&v, a)
	other := d.held(&v, device)
	if v.Check == IdentityWrong {
		d.likely(&v, verdict)
	}
	whole := v.Check == IdentityRight || v.Check == IdentityUnknown
	v.Keep = whole && !v.Same && !other && d.ofModel(&v, device)
	if a.Heard && v.Identity != "" {
		v.Refuse = !v.Same
		if heard != nil {
			v.Press = d.decide(*heard, v.Same)
		}
	}
	return v
}

// identityIn reads an identity from a text; one in digits alone, on panels that know no letters, by the family's number.
func (d *Desk) identityIn(text string) string {
	var form panel.Identity
	if d.profile != nil {
		form = d.profile.Identity
	}
	read := site.ReadIdentity(text[:min(len(text), mostIdentityText)], form.Letters, form.Digits)
	if letters, ok := form.FromDigits(read, ""); ok {
		return letters
	}
	return read
}

// checkIdentity says how far what was read is an identity.
func (d *Desk) checkIdentity(v *IdentityRead) site.IdentityVerdict {
	letters, digits := 2, 6
	if d.profile != nil && d.profile.Identity.Letters+d.profile.Identity.Digits > 0 {
		letters, digits = d.profile.Identity.Letters, d.profile.Identity.Digits
	}
	verdict := site.CheckIdentity(v.Identity)
	bare := strings.TrimLeft(v.Identity, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	switch {
	case v.Identity == "":
		v.Try = d.lang.Say("The identity stands on the label of the device: %d letters and %d digits.", letters, digits)
	case len(v.Identity) != letters+digits || len(bare) != digits || strings.Trim(bare, "0123456789") != "":
		v.Check = IdentityPart
		v.say(d.lang.Say("%s is no identity yet: want %d letters and %d digits.", v.Shown, letters, digits))
		v.Try = d.lang.Say("Read the label again.")
	case !verdict.Known:
		v.Check = IdentityUnknown
		v.say(d.lang.Say("The check digit of %s can not be tested: the letters are of no known family.", v.Shown))
		v.Try = d.lang.Say("Read the label twice, aloud and digit by digit.")
	case verdict.Good:
		v.Check = IdentityRight
		v.say(d.lang.Say("The check digit is right."))
	default:
		v.Check = IdentityWrong
		v.say(d.lang.Say("The check digit is wrong: no device has this identity."))
		v.Try = d.lang.Say("Read the label again, aloud and digit by digit.")
	}
	return verdict
}

func (v *IdentityRead) say(text string)   { v.Say = append(v.Say, text) }
func (v *IdentityRead) first(text string) { v.Say = slices.Insert(v.Say, 0, text) }

// held reports, and says, that another device of the job has the identity.
func (d *Desk) held(v *IdentityRead, own site.DeviceID) bool {
	if v.Identity == "" {
		return false
	}
	var others []string
	for _, id := range site.SortedIDs(d.State.Site.Devices) {
		if id != own && d.State.Site.Devices[id].Identity == v.Identity {
			others = append(others, d.deviceWords(id))
		}
	}
	if len(others) == 0 {
		return false
	}
	names := words.List(d.lang, others)
	if v.Same {
		v.first(d.lang.Say("It is planned for %s as well. The panel can not tell two of them apart.", names))
		v.Try = d.lang.Say("Read the labels of all of them again.")
	} else {
		v.first(d.lang.Say("It is the identity of %s.", names))
	}
	return true
}

// againstPlan holds what was read against the plan.
func (d *Desk) againstPlan(v *IdentityRead, a IdentityArg) {
	if v.Identity == "" || v.Planned == "" || v.Check == IdentityPart {
		return
	}
	if v.Same {
		v.first(d.lang.Say("It is the planned identity."))
		return
	}
	said := d.lang.Say("Planned is %s.", v.PlanSaid)
	places, swapped := site.DifferingPlaces(v.Identity, v.Planned)
	if where := d.places(v, places); swapped {
		said += " " + d.lang.Say("Swapped: %s.", where)
	} else if n := len(places); n > 0 && n <= 3 {
		said += " " + d.lang.Say("Different: %s.", where)
	}
	v.first(said)
	for _, p := range places {
		v.Marks = append(v.Marks, shownAt(v.Shown, p))
	}
	switch planned := site.CheckIdentity(v.Planned); {
	case v.Check == IdentityRight && planned.Known && !planned.Good:
		v.say(d.lang.Say("The planned one fails its check digit: it may be the one that is mistaken."))
		v.Try = d.lang.Say("Read the label of the device twice, then keep it for this device.")
	case a.Heard:
		v.Try = d.lang.Say("Somebody tripped another device, or the panel heard a neighbour's. Refuse it, trip this device, and compare again.")
	case v.Check != IdentityWrong:
		v.Try = d.lang.Say("Is it the right device? If the label says so twice, keep it for this device.")
	}
}

// shownAt is where a place of an identity stands when it is grouped.
func shownAt(shown string, place int) int {
	for i := range len(shown) {
		if shown[i] == ' ' {
			continue
		}
		if place == 0 {
			return i
		}
		place--
	}
	return len(shown)
}

// places names places of an identity as people count them: the letters, the digits from 1, the last as the check digit.
func (d *Desk) places(v *IdentityRead, places []int) string {
	letters := len(v.Identity) - len(strings.TrimLeft(v.Identity, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
	known := site.CheckIdentity(v.Identity).Known
	var out []string
	for _, p := range places {
		switch {
		case p < letters:
			out = append(out, d.lang.Say("letter %d", p+1))
		case known && p == len(v.Identity)-1:
			out = append(out, d.lang.Say("the check digit"))
		default:
			out = append(out, d.lang.Say("digit %d", p-letters+1))
		}
	}
	return words.List(d.lang, out)
}

// likely lists what may have been meant: the plan, then two swapped neighbours. One misread digit gives too many to be of help.
func (d *Desk) likely(v *IdentityRead, verdict site.IdentityVerdict) {
	taken := map[string]bool{}
	for _, other := range d.State.Site.Devices {
		taken[other.Identity] = true
	}
	if planned := site.CheckIdentity(v.Planned); planned.Good && (slices.Contains(verdict.Swapped, v.Planned) || slices.Contains(verdict.Changed, v.Planned)) {
		v.Likely = append(v.Likely, LikelyIdentity{v.Planned, v.PlanSaid, d.lang.Say("as planned")})
	}
	for _, one := range verdict.Swapped {
		if taken[one] || len(v.Likely) == mostLikely {
			continue
		}
		places, _ := site.DifferingPlaces(v.Identity, one)
		v.Likely = append(v.Likely, LikelyIdentity{one, site.GroupIdentity(one), d.lang.Say("swapped: %s", d.places(v, places))})
	}
}

// ofModel reports whether the letters are those of the device's model, and says when they are not.
func (d *Desk) ofModel(v *IdentityRead, id site.DeviceID) bool {
	m, known := d.State.Site.ModelOf(id)
	if !known || m.Family == "" || strings.HasPrefix(v.Identity, m.Family) {
		return true
	}
	v.say(d.lang.Say("%s does not begin with %s, the letters of this model (%s): another device would be enrolled here.", v.Shown, m.Family, m.Name))
	return false
}

// hears finds where the panel shows an identity that it heard, and says whether it can hear one at all.
func (d *Desk) hears(v *IdentityRead) *panel.Node {
	if d.profile == nil {
		return nil
	}
	for _, n := range d.profile.Dialogue.Nodes {
		if n.Listen != nil {
			v.Listens = true
			heard := d.profile.Dialogue.Nodes[n.Listen.Heard]
			return &heard
		}
	}
	return nil
}

// decide gives the keys that take what was heard, or refuse it.
func (d *Desk) decide(heard panel.Node, take bool) []string {
	for _, c := range heard.Choices {
		if keys, err := d.profile.Keypad.Spell(c.Answer); err == nil && (c.Does == panel.DeedTake) == take {
			press := []string{strings.Join(keys, "")}
			if !heard.Auto {
				press = append(press, d.profile.Keypad.Accept)
			}
			return press
		}
	}
	return []string{}
}

// deviceWords names a device by its zones, or by itself.
func (d *Desk) deviceWords(id site.DeviceID) string {
	var out []string
	for _, zone := range d.State.Site.ZonesOf(id) {
		out = append(out, words.Join(d.lang.Say("zone %s", zone), d.State.Site.Zones[zone].Label))
	}
	if len(out) == 0 {
		return d.lang.Say("device %s", id)
	}
	return strings.Join(out, "; ")
}
