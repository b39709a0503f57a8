package reach

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/reliability"
	"proofbell/site"
)

// builder finds the ways of each room in a site.
type builder struct {
	*Model
	s       *site.Site
	zones   map[site.DeviceID][]site.ZoneID
	inRoom  map[site.RoomID][]site.DeviceID
	heads   map[site.RoomID][]site.HeadID
	beside  map[site.RoomID][]site.RoomID
	bridges map[site.GroupID][]site.DeviceID
	links   map[site.DeviceID]*estimate.RadioLink
	common  []reliability.Node // in series with every report
	central reliability.Node   // panel and its power
	power   reliability.Node
	paths   map[site.PathID]reliability.Node
	sounder reliability.Node // the panel's sounders; -1: none
	bell    bool
	mobile  int // paths by mobile network
	twins   map[site.GroupID]reliability.Node
}

func (m *Model) builder() *builder {
	b := &builder{
		Model: m, s: m.o.Site, zones: m.o.Site.ZonesByDevice(), inRoom: map[site.RoomID][]site.DeviceID{}, heads: map[site.RoomID][]site.HeadID{},
		beside: map[site.RoomID][]site.RoomID{}, bridges: map[site.GroupID][]site.DeviceID{}, links: map[site.DeviceID]*estimate.RadioLink{},
		paths: map[site.PathID]reliability.Node{}, twins: map[site.GroupID]reliability.Node{},
	}
	for _, id := range site.SortedIDs(b.s.Devices) {
		d := b.s.Devices[id]
		b.inRoom[d.Room] = append(b.inRoom[d.Room], id)
		model, _ := b.s.ModelOf(id)
		if d.Hears != "" && (model.Class == "bridge" || model.Class == "contact-module") {
			b.bridges[d.Hears] = append(b.bridges[d.Hears], id)
		}
		b.bell = b.bell || model.Class == "sounder"
	}
	for _, id := range site.SortedIDs(b.s.Heads) {
		b.heads[b.s.Heads[id].Room] = append(b.heads[b.s.Heads[id].Room], id)
	}
	for _, w := range b.s.Ways() {
		if w.B != "" {
			b.beside[w.A], b.beside[w.B] = append(b.beside[w.A], w.B), append(b.beside[w.B], w.A)
		}
	}
	if m.o.Radio != nil {
		for i := range m.o.Radio.Links {
			b.links[m.o.Radio.Links[i].Device] = &m.o.Radio.Links[i]
		}
	}
	b.centre()
	return b
}

// centre is what every report needs: the panel with its power, the station and the people who set it up; and the paths.
func (b *builder) centre() {
	atTest := b.untilTest()
	panel := b.add(part{id: "panel", at: "/panel", name: words.Later("panel"), fails: words.Later("the panel fails"), row: rateOf("panel"), model: diagnosed, noticed: words.Later("most such failures it reports itself, the rest are noticed at the next test"), short: words.Later("partly supervised")})
	b.power = b.sys.Any(b.mains(), b.standby())
	b.central = b.sys.All(panel, b.power)
	people := part{id: "people", at: "/account", name: words.Later("account and settings"), fails: words.Later("the account, a zone text or a setting is wrong, or the account was left on test"), row: rateOf("people"), noticed: atTest, short: words.Later("by proving")}
	if b.v.readBack {
		people.row = &rate{"people-read-back", people.row.name, chance, reliability.Range{Low: people.row.of.Low, Mid: people.row.of.Low, High: people.row.of.Mid}, words.Mark("assumed: what is proved at the station and read back is wrong as often as the lower end of the range says"), people.row.confidence}
	}
	b.common = []reliability.Node{b.central, b.add(part{id: "station", at: "/station", name: words.Later("station"), fails: words.Later("the station does not take the signal"), row: rateOf("station"), noticed: words.Later("not noticed before it is needed"), short: words.Later("not seen here")}), b.add(people)}
	if b.bell {
		b.sounder = b.add(part{id: "sounder", name: words.Later("sounders of the panel"), fails: words.Later("the sounders of the panel or their circuit fail"), row: rateOf("sounder"), model: tested, noticed: atTest, short: b.testShort()})
	}
	for _, id := range site.SortedIDs(b.s.Account.Paths) {
		b.paths[id] = b.path(id, b.s.Account.Paths[id])
	}
	if b.v.secondPath {
		b.paths["second-path"] = b.path("second-path", site.Path{Name: "", Kind: "mobile", Order: 9, CheckEvery: quantity.MustParse[quantity.DurationDimension]("6 h")})
	}
}

func (b *builder) untilTest() words.Text {
	return words.Later("noticed only at the next test, after up to %s", span(b.T.High))
}

func (b *builder) testShort() words.Text { return words.Later("only by a test") }

func (b *builder) mains() reliability.Node {
	return b.add(part{id: "mains", name: words.Later("mains"), fails: words.Later("the mains fails"), row: rateOf("mains"), noticed: words.Later("noticed at once by people in the building"), short: words.Later("seen at once")})
}

func (b *builder) standby() reliability.Node {
	p := part{id: "battery", at: "/power/battery", name: words.Later("standby battery"), fails: words.Later("the panel's standby battery is worn"), row: rateOf("standby"), noticed: b.untilTest(), short: words.Later("by a load test")}
	if age, ok := b.ageOf(b.s.Power.BatteryDate); ok {
		if p.row = rateOf("standby-new"); age > 3*8766 {
			p.row = rateOf("standby-old")
		}
	} else {
		b.assume(words.Later("The age of the standby battery is not known."))
	}
	if b.s.Power.Battery.IsZero() {
		b.assume(words.Later("Nobody has said which standby battery the panel has: it is taken to have one that is large enough."))
	}
	if b.v.battery {
		p.row = rateOf("standby-new")
	}
	return b.add(p)
}

// ageOf is the age of something on the day, in hours.
func (b *builder) ageOf(made site.Date) (hours float64, ok bool) {
	if made.IsZero() || b.o.On.IsZero() {
		return 0, false
	}
	return min(1e6, max(0, b.o.On.Sub(made.First()).Hours())), true
}

// path is one way from the panel to the station: its communicator, its line, and what in the house it goes through.
func (b *builder) path(id site.PathID, p site.Path) reliability.Node {
	name := words.Typed(p.Name)
	if p.Name == "" {
		name = words.Typed(string(id))
		if id == "second-path" {
			name = words.Later("second path")
		}
	}
	at := "/account/paths/" + string(id)
	line := part{id: "line:" + string(id), at: at, name: words.Later("line, %s", name), fails: words.Later("the path %s is down", name), row: rateOf("broadband")}
	line.noticed, line.short = b.checked(p.CheckEvery.SI() / 3600)
	if p.CheckEvery.IsZero() {
		b.assume(words.Later("Path %s is not checked at an agreed interval: its failure is noticed at the next test.", name))
	}
	house := p.Through == "house" || p.Through == "" && p.Kind != "mobile"
	switch {
	case p.Kind == "mobile":
		line.row = rateOf("mobile")
		if b.mobile++; b.mobile > 1 {
			b.assume(words.Later("Paths by mobile network are taken as one network: what fails one fails the other."))
		}
		line.id, line.name, line.fails = "line:mobile", words.Later("mobile network"), words.Later("the mobile network does not carry the signal")
	case p.Kind == "telephone":
		line.row = rateOf("telephone")
	}
	of := []reliability.Node{b.communicator(id)}
	if house {
		if line.row.id == "broadband" || p.Through == "house" {
			line.id, line.at, line.row = "line:house", "/premises/internet", rateOf("broadband")
			line.name, line.fails = words.Later("house internet"), words.Later("the house internet is down")
		}
		of = append(of, b.houseSupply())
	}
	return b.sys.All(append(of, b.add(line))...)
}

// communicator is what sends on the paths of the site: one part, for nothing says that each has its own; it is missed at the
// check of the path that is checked most often. A path that is still to be made brings its own.
func (b *builder) communicator(id site.PathID) reliability.Node {
	p := part{id: "communicator", at: "/account/paths/" + string(id), name: words.Later("communicator"), fails: words.Later("the communicator fails"), row: rateOf("communicator"), model: supervised}
	if id == "second-path" {
		p.id, p.at, p.name, p.fails, p.detect = "communicator:second-path", "", words.Later("second communicator"), words.Later("the second communicator fails"), 6
	} else {
		for _, other := range b.s.Account.Paths {
			if every := other.CheckEvery.SI() / 3600; every > 0 && (p.detect == 0 || every < p.detect) {
				p.detect = every
			}
		}
		if len(b.s.Account.Paths) > 1 {
			b.assume(words.Later("All paths are taken to leave by one communicator: what fails it cuts all of them."))
		}
	}
	if p.noticed, p.short = b.checked(p.detect); p.detect == 0 {
		p.model = tested
	}
	return b.add(p)
}

// checked is how soon a failure is noticed by a check every so many hours; 0: at the test.
func (b *builder) checked(every float64) (noticed, short words.Text) {
	if every <= 0 {
		return b.untilTest(), b.testShort()
	}
	return words.Later("noticed after at most %s", span(every)), words.Later("seen within %s", span(every))
}

// houseSupply is what the router, the fibre box and the switch run on: each piece that is told, else all of them alike.
func (b *builder) houseSupply() reliability.Node {
	in := b.s.Premises.Internet
	supplies := map[string]bool{}
	for _, p := range in.Parts {
		supplies[p.Supply] = true
	}
	if len(in.Parts) == 0 {
		supplies[""] = true
	}
	var of []reliability.Node
	for _, id := range site.SortedIDs(supplies) {
		switch {
		case id == "panel":
			of = append(of, b.power)
		case id == "own" || b.v.houseStandby || id == "" && in.Standby == "yes":
			of = append(of, b.sys.Any(b.mains(), b.add(part{id: "house-battery", at: "/premises/internet", name: words.Later("standby of the router"), fails: words.Later("the standby battery of router, fibre box and switch is worn"), row: rateOf("standby"), noticed: b.untilTest(), short: words.Later("by a test without mains")})))
		default:
			if id == "" && in.Standby == "" {
				b.assume(words.Later("Nobody has said whether router, fibre box and switch work without mains: taken as stopping with it."))
			}
			b.houseOnMains = true
			of = append(of, b.mains())
		}
	}
	return b.sys.All(of...)
}

// room finds the ways in which a fire in a room becomes known.
func (b *builder) room(id site.RoomID) *room {
	r := &room{id: id, name: b.s.Rooms[id].Name}
	if r.name == "" {
		r.name = string(id)
	}
	r.ways = b.waysIn(id)
	if len(r.ways) == 0 {
		met := map[site.RoomID]bool{} // two doors may lead to one room
		for _, next := range b.beside[id] {
			if !met[next] {
				met[next] = true
				r.ways = append(r.ways, b.waysIn(next)...)
			}
		}
		r.late = len(r.ways) > 0
	}
	b.alike(r)
	r.station, r.sound = b.reported(r), b.heardBy(r)
	return r
}

// reported works when one way reaches the panel and one of its paths the station.
func (b *builder) reported(r *room) reliability.Node {
	var reports []*way
	shared := true
	for _, w := range r.ways {
		if w.reports {
			reports = append(reports, w)
			shared = shared && strings.Join(pathNames(w.paths), " ") == strings.Join(pathNames(reports[0].paths), " ")
		}
	}
	if len(reports) == 0 {
		return b.sys.Any()
	}
	var ways []reliability.Node
	for _, w := range reports {
		chain := append(append([]reliability.Node{}, w.sense...), w.carry...)
		if !shared {
			chain = append(chain, b.anyPath(w.paths))
		}
		ways = append(ways, b.sys.All(chain...))
	}
	top := []reliability.Node{b.sys.Any(ways...), b.common[0]}
	if shared {
		top = append(top, b.anyPath(reports[0].paths))
	}
	return b.sys.All(append(top, b.common[1:]...)...)
}

func pathNames(ids []site.PathID) (out []string) {
	for _, id := range ids {
		out = append(out, string(id))
	}
	return out
}

func (b *builder) anyPath(ids []site.PathID) reliability.Node {
	var of []reliability.Node
	for _, id := range ids {
		if n, ok := b.paths[id]; ok {
			of = append(of, n)
		}
	}
	if b.v.secondPath {
		of = append(of, b.paths["second-path"])
	}
	return b.sys.Any(of...)
}

// heardBy works when, at every place where someone sleeps, one of what sounds for this fire is heard.
func (b *builder) heardBy(r *room) reliability.Node {
	type source struct {
		set    string
		starts []reliability.Node // what sets it off: one is enough
	}
	var sources []*source
	add := func(set string, chain ...reliability.Node) {
		at := slices.IndexFunc(sources, func(s *source) bool { return s.set == set })
		if at < 0 {
			at = len(sources)
			sources = append(sources, &source{set: set})
		}
		sources[at].starts = append(sources[at].starts, b.sys.All(chain...))
	}
	for _, w := range r.ways {
		for _, set := range w.sets {
			add(set, w.sense...)
		}
		if w.reports && b.bell {
			add("/panel", append(append([]reliability.Node{}, w.sense...), w.carry...)...)
		}
	}
	started := map[string][]reliability.Node{}
	for _, s := range sources {
		started[s.set] = []reliability.Node{b.sys.Any(s.starts...)}
		if s.set == "/panel" {
			started[s.set] = append(started[s.set], b.central, b.sounder)
		}
	}
	at := func(room site.RoomID, set string, v estimate.Verdict, more ...reliability.Node) reliability.Node {
		chain := append([]reliability.Node{}, started[set]...)
		return b.sys.All(append(append(chain, b.ear(room, set, v)), more...)...)
	}
	var all []reliability.Node
	seen := map[string]bool{}
	places := b.o.heard.of(r.id)
	for _, p := range places {
		var key strings.Builder
		var any []reliability.Node
		for _, s := range sources {
			verdict, needs := verdictAt(p, s.set)
			if verdict == estimate.TooLittle || verdict == "" {
				continue
			}
			key.WriteString(s.set + string(verdict) + needs + ";")
			var head []reliability.Node
			if id, ok := strings.CutPrefix(needs, "/heads/"); ok {
				head = b.own(site.HeadID(id))
			}
			any = append(any, at(p.rooms[0], s.set, verdict, head...))
		}
		if len(any) == 0 {
			for _, id := range p.rooms {
				if !slices.Contains(r.deaf, id) {
					r.deaf = append(r.deaf, id)
				}
			}
		}
		// Where the same is heard alike the ears are taken as failing together: it is asked of the worst placed, not of all.
		if !seen[key.String()] {
			seen[key.String()] = true
			all = append(all, b.sys.Any(any...))
		}
	}
	if r.noone = len(places) == 0; r.noone && len(sources) > 0 {
		var any []reliability.Node
		for _, s := range sources {
			any = append(any, at("", s.set, estimate.NotDetermined))
		}
		all = append(all, b.sys.Any(any...))
	}
	if len(sources) == 0 {
		return b.sys.Any()
	}
	return b.sys.All(all...)
}

// verdictAt is how a set is heard at a place; empty: it does not sound for it. Of sounders whose level nobody gave nothing is
// known. needs is the one sounder without which too little might be left.
func verdictAt(p place, set string) (v estimate.Verdict, needs string) {
	for _, h := range p.heard {
		if h.Set == set {
			return h.Verdict, h.Needs
		}
	}
	if set == "/panel" {
		return estimate.NotDetermined, ""
	}
	return "", ""
}

// ear is whether what sounds is heard, by the verdict of the sound model.
func (b *builder) ear(room site.RoomID, set string, v estimate.Verdict) reliability.Node {
	row := map[estimate.Verdict]string{estimate.Enough: "heard-enough", estimate.Doubtful: "heard-doubtful"}[v]
	if row == "" {
		row = "heard-unknown"
	}
	name := words.Later("%s heard", setSay(set))
	return b.add(part{id: "ear:" + string(room) + ":" + set + ":" + string(v), name: name, fails: words.Later("%s not heard where people sleep (the sound estimate says: %s)", setSay(set), words.Marked(string(v))), row: rateOf(row), noticed: words.Later("measure at the pillow"), short: words.Later("measure")})
}

func setSay(set string) words.Text {
	if id, ok := strings.CutPrefix(set, "/groups/"); ok {
		return words.Later("group %s", id)
	}
	if set == "/panel" {
		return words.Later("sounders of the panel")
	}
	return words.Typed(set[strings.LastIndexByte(set, '/')+1:])
}

// span is a time in words: seconds, minutes, hours, days or months, as people say it.
func span(hours float64) words.Text {
	round := func(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }
	switch {
	case hours*3600 <= 300:
		return words.Later("%s s", round(hours*3600))
	case hours < 2:
		return words.Later("%s min", round(hours*60))
	case hours <= 72:
		return words.Later("%s h", round(hours))
	case hours < 1400:
		return words.Later("%s days", round(hours/24))
	}
	return words.Later("%s months", strconv.FormatFloat(math.Round(hours/730), 'f', -1, 64))
}
