package reach

import (
	"math"
	"strings"

	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/reliability"
	"proofbell/site"
)

// waysIn are the ways that begin with something in a room.
func (b *builder) waysIn(id site.RoomID) (out []*way) {
	for _, d := range b.inRoom[id] {
		if w := b.detector(d); w != nil {
			out = append(out, w)
		}
	}
	for _, h := range b.heads[id] {
		out = append(out, b.head(h)...)
	}
	if b.v.detector == id && id != "" {
		out = append(out, b.added(id))
	}
	return out
}

// fireZone is the zone that reports what a device senses as fire; "" for none. wrong names a zone that has the signal but is
// of another kind.
func (b *builder) fireZone(id site.DeviceID, senses func(string) bool) (zone, wrong site.ZoneID) {
	for _, z := range b.zones[id] {
		if !senses(b.s.Senses(z)) {
			continue
		}
		if b.s.Zones[z].Kind.Family() == "fire" {
			return z, ""
		}
		wrong = z
	}
	return "", wrong
}

// detector is the way through a smoke or heat detector of the panel; nil when the device is none.
func (b *builder) detector(id site.DeviceID) *way {
	model, _ := b.s.ModelOf(id)
	senses := func(what string) bool { return what == site.SensesSmoke || what == site.SensesHeat }
	zone, wrong := b.fireZone(id, senses)
	if zone == "" && wrong == "" {
		if !senses(model.Class) || !model.SelfSounding {
			return nil
		}
	}
	w := &way{say: b.named(id), sense: []reliability.Node{b.add(part{id: "sensor:" + string(id), at: "/devices/" + string(id), name: words.Later("sensor, %s", b.named(id)), fails: words.Later("%s does not notice the fire", b.named(id)), row: rateOf("detector"), model: tested, noticed: b.untilTest(), short: b.testShort()})}}
	if model.SelfSounding {
		w.sets = []string{"/devices/" + string(id)}
	}
	if zone == "" {
		if wrong != "" {
			b.assume(words.Later("Zone %s is of no fire kind: it does not count as reporting a fire.", string(wrong)))
		}
		return w
	}
	w.reports, w.paths = true, b.s.Zones[zone].Paths
	w.carry = b.carried(id, zone)
	return w
}

// named is a device in words, with its zones.
func (b *builder) named(id site.DeviceID) words.Text {
	model, _ := b.s.ModelOf(id)
	var zones []string
	for _, z := range b.zones[id] {
		zones = append(zones, string(z))
	}
	name := strings.TrimSpace(model.Name)
	if name == "" {
		name = string(id)
	}
	if len(zones) == 0 {
		return words.Later("%s %s", words.Typed(name), words.Typed(string(id)))
	}
	return words.Later("%s, zone %s", words.Typed(name), strings.Join(zones, ", "))
}

// carried is how a device's signal comes to the panel: its module or its loop, the radio link and what else hears it.
func (b *builder) carried(id site.DeviceID, zone site.ZoneID) []reliability.Node {
	d := b.s.Devices[id]
	model, _ := b.s.ModelOf(id)
	at := "/devices/" + string(id)
	if model.Link == "wired" {
		key, where := "loop:"+string(id), at
		if d.Circuit != "" {
			key, where = "loop/"+string(d.Circuit), "/circuits/"+string(d.Circuit)
		}
		return []reliability.Node{b.add(part{id: key, at: where, name: words.Later("wired loop of %s", b.named(id)), fails: words.Later("the wired loop of %s fails unseen", b.named(id)), row: rateOf("loop"), model: tested, noticed: b.untilTest(), short: b.testShort()})}
	}
	module := b.watched(part{id: "module:" + string(id), at: at, name: words.Later("radio and battery, %s", b.named(id)), fails: words.Later("%s goes silent (battery flat, radio dead or taken away)", b.named(id)), row: rateOf("module")}, string(zone), b.s.Zones[zone].LossWindow)
	out := []reliability.Node{b.add(module), b.add(b.linkOf(id))}
	l := b.links[id]
	if l == nil {
		return out
	}
	for _, hop := range l.Hops {
		if hop.To == "" {
			continue
		}
		over, _ := b.s.ModelOf(hop.To)
		p := part{id: "receiver:" + string(hop.To), at: "/devices/" + string(hop.To), name: b.named(hop.To), fails: words.Later("%s fails", b.named(hop.To)), row: rateOf("module")}
		if over.Link == "wired" {
			p.model, p.noticed, p.short = supervised, words.Later("noticed at once by the panel"), words.Later("seen at once")
		} else {
			window := ""
			if zones := b.zones[hop.To]; len(zones) > 0 {
				window = b.s.Zones[zones[0]].LossWindow
			}
			p = b.watched(p, string(hop.To), window)
		}
		out = append(out, b.add(p))
	}
	return out
}

// watched is a part that the panel misses after its loss window; without one, only a test shows it.
func (b *builder) watched(p part, what, window string) part {
	var every quantity.Duration
	if window != "" && window != "never" {
		every, _ = quantity.Parse[quantity.DurationDimension](window) // the site's reader takes only what parses
	}
	if b.v.supervise && every.SI() == 0 {
		every = quantity.MustParse[quantity.DurationDimension]("200 s")
	}
	if hours := every.SI() / 3600; hours > 0 {
		p.model, p.detect = supervised, hours
		p.noticed, p.short = words.Later("noticed after at most %s", span(hours)), words.Later("seen within %s", span(hours))
		return p
	}
	if window == "" {
		b.assume(words.Later("%s: no loss window is given, so that nobody misses it: its failure is noticed at the next test.", words.Typed(what)))
	}
	b.unwatched = true
	p.model, p.noticed, p.short = tested, b.untilTest(), b.testShort()
	return p
}

// linkOf is the radio link of a device, by its margin or by what was measured.
func (b *builder) linkOf(id site.DeviceID) part {
	p := part{id: "link:" + string(id), at: "/devices/" + string(id), name: words.Later("radio link, %s", b.named(id)), fails: words.Later("the radio of %s does not get through", b.named(id)), row: rateOf("link-unknown"), noticed: words.Later("a link that is cut for long is noticed as silence, a short cut is not"), short: words.Later("partly seen")}
	l := b.links[id]
	q, measured := b.o.Lost[id]
	switch {
	case measured && q >= 1:
		p.model = certain
	case measured && q > 0:
		p.model, p.margin = link, -10*math.Log10(-math.Log(1-q)) // the margin with that outage
	case l != nil && !math.IsNaN(l.Counts) && l.Verdict != estimate.NotDetermined:
		p.model, p.margin, p.hops = link, l.Counts, len(l.Hops)
	default:
		b.assume(words.Later("Radio links that could not be estimated are taken from the table."))
	}
	return p
}

// own is what of a head has to work so that it notices, sounds or speaks to its group: itself and its power.
func (b *builder) own(id site.HeadID) []reliability.Node {
	h := b.s.Heads[id]
	at := "/heads/" + string(id)
	p := part{id: "head:" + string(id), at: at, name: words.Later("head %s", string(id)), fails: words.Later("head %s fails", string(id)), row: rateOf("head"), model: partly, noticed: words.Later("its button shows a part of its failures at the next test, the others are never noticed"), short: words.Later("partly by its button")}
	for _, bridge := range b.bridges[h.Group] {
		if b.s.Devices[bridge].Beside == id {
			p.fails = words.Later("head %s, beside which %s listens, fails", string(id), b.named(bridge))
		}
	}
	if age, ok := b.ageOf(h.Made); ok {
		p.model, p.age = aged, age
		if b.v.newHeads {
			p.age = 4380
		}
		if age > tenYears {
			b.old = true
		}
	} else {
		b.assume(words.Later("Heads without a made date, or judged on no day, are taken as replaced every ten years."))
	}
	cell := func() reliability.Node {
		return b.add(part{id: "cell:" + string(id), at: at, name: words.Later("battery of head %s", string(id)), fails: words.Later("the battery of head %s is flat", string(id)), row: rateOf("cell"), noticed: words.Later("it chirps; people in the building notice"), short: words.Later("it chirps")})
	}
	power := h.Power
	if power == "" {
		power = "mains"
		if b.s.Groups[h.Group].Supply == "" && b.s.Groups[h.Group].Circuit == "" {
			power = "battery"
		}
		b.assume(words.Later("Heads whose power nobody has told are taken as on mains alone where their group has a supply, else on battery alone."))
	}
	out := []reliability.Node{b.add(p)}
	switch power {
	case "battery":
		return append(out, cell())
	case "mains":
		return append(out, b.mains())
	}
	return append(out, b.sys.Any(b.mains(), cell()))
}

// head is the ways through a self-contained alarm: it sounds with its group; and each bridge that hears the group reports.
func (b *builder) head(id site.HeadID) []*way {
	h := b.s.Heads[id]
	if h.Kind == "co" {
		return nil
	}
	sense := b.own(id)
	if h.Group == "" {
		return []*way{{say: words.Later("head %s", string(id)), sense: sense, sets: []string{"/heads/" + string(id)}}}
	}
	joint := rateOf("joint")
	if b.s.Groups[h.Group].Link == "radio" {
		joint = rateOf("joint-radio")
	}
	sense = append(sense, b.add(part{id: "joint:" + string(h.Group), at: "/groups/" + string(h.Group), name: words.Later("interconnect of group %s", string(h.Group)), fails: words.Later("the interconnect of group %s is cut", string(h.Group)), row: joint, model: tested, noticed: b.untilTest(), short: b.testShort()}))
	sounds := &way{say: words.Later("head %s of group %s", string(id), string(h.Group)), sense: sense, sets: []string{"/groups/" + string(h.Group)}}
	out := []*way{sounds}
	for _, bridge := range b.bridges[h.Group] {
		carry, zone := b.bridge(bridge)
		if zone == "" {
			continue
		}
		if b.v.secondBridge == h.Group {
			carry = []reliability.Node{b.twin(h.Group, carry)}
		}
		w := *sounds
		w.say = words.Later("head %s of group %s, heard by %s", string(id), string(h.Group), b.named(bridge))
		w.reports, w.carry, w.paths = true, carry, b.s.Zones[zone].Paths
		if len(out) == 1 && !out[0].reports {
			out[0] = &w // it sounds and reports
			continue
		}
		w.sets = nil
		out = append(out, &w)
	}
	return out
}

// bridge is what carries a group's alarm to the panel; no zone: it reports no fire.
func (b *builder) bridge(id site.DeviceID) (carry []reliability.Node, zone site.ZoneID) {
	d := b.s.Devices[id]
	model, _ := b.s.ModelOf(id)
	at := "/devices/" + string(id)
	zone, wrong := b.fireZone(id, func(what string) bool { return what == site.SensesThree || what == site.SensesContact })
	if zone == "" {
		if wrong != "" {
			b.assume(words.Later("Zone %s is of no fire kind: it does not count as reporting a fire.", string(wrong)))
		}
		return nil, ""
	}
	if model.Class == "bridge" {
		beside, there := b.s.Heads[d.Beside]
		switch {
		case !there:
			b.assume(words.Later("Nobody has said beside which head %s listens: that head is not counted.", b.named(id)))
		case beside.Room != d.Room:
			b.assume(words.Later("%s is not in the room of head %s: it is taken as not hearing it.", b.named(id), string(d.Beside)))
			return nil, ""
		default:
			carry = append(carry, b.own(d.Beside)...)
		}
	}
	carry = append(carry, b.add(part{id: "ear-of:" + string(id), at: at, name: words.Later("listening part, %s", b.named(id)), fails: words.Later("%s does not take up the alarm", b.named(id)), row: rateOf("listener"), model: tested, noticed: b.untilTest(), short: b.testShort()}))
	return append(carry, b.carried(id, zone)...), zone
}

// twin puts a second bridge of the same kind beside another head of the group: it fails alone, or with the first by what is
// common to both.
func (b *builder) twin(g site.GroupID, first []reliability.Node) reliability.Node {
	if n, ok := b.twins[g]; ok {
		return n
	}
	zone := "200 s"
	module := b.watched(part{id: "module:twin", name: words.Later("second bridge"), fails: words.Later("the second bridge goes silent"), row: rateOf("module")}, "", zone)
	ear := part{id: "ear-of:twin", name: words.Later("second bridge, listening"), fails: words.Later("the second bridge does not take up the alarm"), row: rateOf("listener"), model: tested, noticed: b.untilTest(), short: b.testShort()}
	near := part{id: "head:twin", name: words.Later("head beside the second bridge"), fails: words.Later("the head beside the second bridge fails"), row: rateOf("head"), model: partly, noticed: b.untilTest(), short: b.testShort()}
	air := part{id: "link:twin", name: words.Later("radio link, second bridge"), fails: words.Later("the radio of the second bridge does not get through"), row: rateOf("link-unknown"), model: link, margin: b.wanted(), noticed: words.Later("partly noticed"), short: words.Later("partly seen")}
	second := b.sys.All(b.add(near), b.add(ear), b.add(module), b.add(air))
	var sum reliability.Range
	for _, one := range []string{"module:twin", "ear-of:twin", "head:twin"} {
		u := b.parts[one].u
		sum = reliability.Range{Low: sum.Low + u.Low, Mid: sum.Mid + u.Mid, High: min(1, sum.High+u.High)}
	}
	both := b.add(part{id: "both", name: words.Later("both bridges"), fails: words.Later("both bridges fail of one cause"), row: rateOf("listener"), model: shared, noticed: b.untilTest(), short: b.testShort(), u: scaled(sum, beta)})
	n := b.sys.All(both, b.sys.Any(b.sys.All(first...), second))
	b.twins[g] = n
	return n
}

// kindsAlike are the kinds of part of which several in one room have a share of their failures together, and what is said of it.
var kindsAlike = []struct{ row, name, fails string }{
	{"head", words.Mark("one cause for several heads"), words.Mark("several heads fail of one cause (same age, dust or fault of make)")},
	{"detector", words.Mark("one cause for several detectors"), words.Mark("several detectors fail of one cause (same age, dust or fault of make)")},
	{"listener", words.Mark("one cause for several bridges"), words.Mark("several bridges fail of one cause")},
}

// alike puts into the ways of a room what fails several of them at once: two like parts are less than two chances.
func (b *builder) alike(r *room) {
	for _, kind := range kindsAlike {
		var of []*way
		var worst reliability.Range
		seen := map[string]bool{}
		for _, w := range r.ways {
			key := ""
			for _, n := range append(append([]reliability.Node{}, w.sense...), w.carry...) {
				if at, _, _ := b.sys.Of(n); at >= 0 && b.byPart[at].row.id == kind.row {
					key += b.byPart[at].id + ";"
					if u := b.byPart[at].u; u.Mid > worst.Mid {
						worst = u
					}
				}
			}
			if key != "" {
				of, seen[key] = append(of, w), true
			}
		}
		if len(seen) < 2 {
			continue
		}
		n := b.add(part{id: "alike:" + kind.row + ":" + string(r.id), at: "/rooms/" + string(r.id), name: words.Later("%s", words.Marked(kind.name)), fails: words.Later("%s", words.Marked(kind.fails)), row: rateOf(kind.row), model: shared, noticed: b.untilTest(), short: b.testShort(), u: scaled(worst, beta)})
		for _, w := range of {
			if kind.row == "listener" {
				w.carry = append(w.carry[:len(w.carry):len(w.carry)], n)
			} else {
				w.sense = append(w.sense[:len(w.sense):len(w.sense)], n)
			}
		}
	}
}

func scaled(r reliability.Range, by float64) reliability.Range {
	return reliability.Range{Low: r.Low * by, Mid: r.Mid * by, High: r.High * by}
}

// wanted is the margin that a link which is still to be made is taken to have.
func (b *builder) wanted() float64 {
	if b.o.Radio != nil && b.o.Radio.Wanted > 0 {
		return b.o.Radio.Wanted
	}
	return 15
}

// added is a smoke detector by radio that is not there yet.
func (b *builder) added(id site.RoomID) *way {
	name := words.Later("added smoke detector")
	sensor := part{id: "sensor:added", name: name, fails: words.Later("the added detector does not notice the fire"), row: rateOf("detector"), model: tested, noticed: b.untilTest(), short: b.testShort()}
	module := b.watched(part{id: "module:added", name: words.Later("radio and battery, added detector"), fails: words.Later("the added detector goes silent"), row: rateOf("module")}, "", "200 s")
	air := part{id: "link:added", name: words.Later("radio link, added detector"), fails: words.Later("the radio of the added detector does not get through"), row: rateOf("link-unknown"), model: link, margin: b.wanted(), noticed: words.Later("partly noticed"), short: words.Later("partly seen")}
	paths := site.SortedIDs(b.paths)
	return &way{say: name, sense: []reliability.Node{b.add(sensor)}, carry: []reliability.Node{b.add(module), b.add(air)}, paths: paths, reports: true}
}
