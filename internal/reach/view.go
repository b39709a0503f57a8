package reach

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/reliability"
	"proofbell/site"
)

// RoomsView says of every room how likely a fire in it stays unknown. A planning estimate.
type RoomsView struct {
	Label   string      `json:"label"`
	Say     string      `json:"say"`   // the building in one sentence
	Rooms   []RoomRow   `json:"rooms"` // in the order of the walk
	Worst   string      `json:"worst"` // id of the room of which a fire is least likely reported
	Any     Figure      `json:"any"`   // that of at least one room a fire would not be reported
	AnySay  string      `json:"anySay"`
	Mean    Figure      `json:"mean"` // that a fire in a room taken at random is not reported
	MeanSay string      `json:"meanSay"`
	Singles []SingleRow `json:"singles"` // what alone cuts reporting, worst first
	Weak    []WeakRow   `json:"weak"`    // what takes the largest part of it, over all rooms
	Scale   []Tick      `json:"scale"`
	Rates   []RateRow   `json:"rates"` // the table that the figures come from
	Assumed []string    `json:"assumed"`
	Missing []string    `json:"missing"`
}

// Figure is a probability as a range, and where its ends stand on a logarithmic scale.
type Figure struct {
	Low    float64    `json:"low"`
	Mid    float64    `json:"mid"`
	High   float64    `json:"high"`
	Say    string     `json:"say"`    // "0.6 % to 6 %, middle 2 %": one significant figure
	At     [3]float64 `json:"at"`     // 0 to 1 on the scale
	Middle [2]float64 `json:"middle"` // of nine in ten samples; both 0: not sampled
	Sample string     `json:"sample"` // the same in words
}

// Tick is a mark of the scale.
type Tick struct {
	At  float64 `json:"at"`
	Say string  `json:"say"`
}

// RoomRow is one room.
type RoomRow struct {
	Room    string `json:"room"`
	Name    string `json:"name"`
	Storey  string `json:"storey"`
	Station Figure `json:"station"` // a fire here is not reported
	Sound   Figure `json:"sound"`   // whoever is worst placed of those who sleep does not hear of it
	Say     string `json:"say"`     // by what it is noticed, or what is wanting
	Warn    bool   `json:"warn"`    // Say tells of a gap
}

// SingleRow is a part that alone cuts the way.
type SingleRow struct {
	Say     string   `json:"say"`     // "If ..., no fire ... reaches the station; noticed after at most 4 h."
	Noticed string   `json:"noticed"` // how soon it is known, short
	At      string   `json:"at"`      // JSON pointer; empty: not of the site
	Rooms   []string `json:"rooms"`
	Chance  string   `json:"chance"` // that it is down, as a range
}

// WeakRow is a part with its weight.
type WeakRow struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"` // of the chance that goes through it, 0 to 1
	Say   string  `json:"say"`
	At    string  `json:"at"`
}

// RateRow is a row of the table of figures.
type RateRow struct {
	Name       string `json:"name"`
	Say        string `json:"say"` // "0.5 to 3 per million hours, middle 1"
	Source     string `json:"source"`
	Confidence string `json:"confidence"`
}

// RoomView is one room in full.
type RoomView struct {
	Label      string         `json:"label"`
	Row        RoomRow        `json:"row"`
	Ways       []string       `json:"ways"`
	Singles    []SingleRow    `json:"singles"`    // for the station
	SingleEars []SingleRow    `json:"singleEars"` // for the people in the building
	Cuts       []CutRow       `json:"cuts"`
	CutsSay    string         `json:"cutsSay"` // how many there are, and whether all are listed
	Weak       []WeakRow      `json:"weak"`
	Diagram    worked.Picture `json:"diagram"`
	Sheet      worked.Sheet   `json:"sheet"`
	Scale      []Tick         `json:"scale"`
}

// CutRow is a minimal cut set.
type CutRow struct {
	Say    string `json:"say"`    // the parts
	Chance string `json:"chance"` // that all of them are down, middle
}

// HelpsView says which one change helps most for what it costs.
type HelpsView struct {
	Label   string      `json:"label"`
	Say     string      `json:"say"`
	Changes []ChangeRow `json:"changes"` // best first
	How     worked.Step `json:"how"`     // how they are ranked, with the best one's figures
}

// ChangeRow is one change, computed by doing it.
type ChangeRow struct {
	ID      string  `json:"id"`
	Name    string  `json:"name"`
	Cost    float64 `json:"cost"`   // in units of the reader's own
	CostAt  string  `json:"costAt"` // JSON pointer of the member of the site that holds it
	After   Figure  `json:"after"`  // that a fire in a room taken at random is not reported
	Say     string  `json:"say"`
	Assumes string  `json:"assumes"` // what the figure rests on; empty: on the table alone
	Share   float64 `json:"share"`   // gain for the cost, of the best one's, 0 to 1
}

// one rounds to one significant figure.
func one(v float64) float64 {
	s, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 0, 64), 64)
	return s
}

// percent says a probability to one significant figure; near certainty, what is left to it.
func percent(lang *words.Language, p float64) string {
	v := p * 100
	switch {
	case v > 0 && v < 1e-5: // no rate is known so well
		return lang.Say("under %s %%", lang.Number(1e-5, -1))
	case v >= 99.999:
		v = 100
	case v > 90:
		v = 100 - one(100-v)
	default:
		v = one(v)
	}
	return lang.Say("%s %%", lang.Number(v, -1))
}

// decades is how many powers of ten the scale spans, up to certainty.
const decades = 5

func onScale(p float64) float64 {
	if p <= 0 {
		return 0
	}
	return math.Round(1e4*min(1, max(0, 1+math.Log10(p)/decades))) / 1e4
}

func scale(lang *words.Language) (out []Tick) {
	for i := range decades + 1 {
		p := math.Pow(10, float64(i-decades))
		out = append(out, Tick{onScale(p), percent(lang, p)})
	}
	return out
}

func figure(lang *words.Language, r reliability.Range, s *reliability.Spread) Figure {
	f := Figure{Low: r.Low, Mid: r.Mid, High: r.High, At: [3]float64{onScale(r.Low), onScale(r.Mid), onScale(r.High)}, Say: ranged(lang, r)}
	if s != nil && r.Low < r.High {
		f.Middle = [2]float64{onScale(s.P5), onScale(s.P95)}
		f.Sample = lang.Say("Nine in ten of %d samples lie between %s and %s.", s.Samples, percent(lang, s.P5), percent(lang, s.P95))
	}
	return f
}

func ranged(lang *words.Language, r reliability.Range) string {
	if r.Low >= 0.99999 {
		return lang.Say("always")
	}
	return lang.Say("%s to %s, middle %s", percent(lang, r.Low), percent(lang, r.High), percent(lang, r.Mid))
}

// samples is how many are drawn: fewer where the site is so large that it would be felt.
func (m *Model) spreads() []reliability.Spread {
	if m.spread == nil {
		m.spread = m.diagram.Spreads(max(100, min(1000, 20_000_000/m.diagram.Size())), 1)
	}
	return m.spread
}

func (m *Model) row(lang *words.Language, i int) RoomRow {
	r := m.rooms[i]
	s := m.spreads()
	row := RoomRow{Room: string(r.id), Name: r.name, Storey: string(m.o.Site.Rooms[r.id].Storey), Station: figure(lang, m.station[i], &s[2*i]), Sound: figure(lang, m.sound[i], &s[2*i+1])}
	reports := 0
	for _, w := range r.ways {
		if w.reports {
			reports++
		}
	}
	row.Warn = true
	switch {
	case len(r.ways) == 0:
		row.Say = lang.Say("Nothing in this room or in a room beside it notices a fire.")
	case reports == 0:
		row.Say = lang.Say("Alarms sound for a fire here, but nothing reports it to the station.")
	case r.late:
		row.Say = lang.Say("Nothing in this room notices a fire: it is noticed late, when smoke comes into a room beside it. How late is not in the figure.")
	default:
		row.Warn = false
		row.Say = lang.Say("One way reports a fire here.")
		if reports > 1 {
			row.Say = lang.Say("%d ways report a fire here.", reports)
		}
	}
	if len(r.ways) > 0 && len(r.deaf) > 0 {
		row.Warn = true
		row.Say += " " + lang.Say("What sounds for it is not heard in: %s.", m.named(lang, r.deaf))
	}
	return row
}

// named lists rooms by name, some of them.
func (m *Model) named(lang *words.Language, ids []site.RoomID) string {
	var names []string
	for i, id := range ids {
		if i == 4 && len(ids) > 5 {
			return lang.Say("%s and %d more", strings.Join(names, "; "), len(ids)-4)
		}
		name := m.o.Site.Rooms[id].Name
		if name == "" {
			name = string(id)
		}
		names = append(names, name)
	}
	return strings.Join(names, "; ")
}

// singles are the parts that alone fail a top.
func (m *Model) singles(top reliability.Node) (out []int) {
	cuts, err := m.diagram.CutSets(top, reliability.CutLimit{Order: 1})
	if err != nil {
		return nil
	}
	for _, set := range cuts.Sets {
		out = append(out, set...) // the empty set names none
	}
	return out
}

// bridgeOf is the group that only this device reports; "" for none.
func (m *Model) bridgeOf(p *part) site.GroupID {
	kind, id, _ := strings.Cut(p.id, ":")
	if kind != "module" && kind != "ear-of" && kind != "link" {
		return ""
	}
	g := m.o.Site.Devices[site.DeviceID(id)].Hears
	if g == "" || m.bridgesOf(g) != 1 {
		return ""
	}
	return g
}

func (m *Model) singleRow(lang *words.Language, p *part, rooms []site.RoomID, ears bool) SingleRow {
	row := SingleRow{Noticed: words.Upper(p.short.In(lang)), At: p.at, Rooms: []string{}, Chance: ranged(lang, p.u)}
	for _, id := range rooms {
		row.Rooms = append(row.Rooms, string(id))
	}
	what := lang.Say("no fire reaches the station")
	switch g := m.bridgeOf(p); {
	case ears:
		what = lang.Say("someone in the building does not hear of this fire")
	case len(rooms) == len(m.rooms) && len(rooms) > 1:
	case g != "" && len(rooms) == 0:
		what = lang.Say("no alarm of group %s reaches the station", string(g))
	case g != "":
		what = lang.Say("no alarm of group %s reaches the station, and nothing else reports a fire in: %s", string(g), m.named(lang, rooms))
	default:
		what = lang.Say("no fire in %s reaches the station", m.named(lang, rooms))
	}
	row.Say = lang.Say("If %s, %s; %s.", p.fails.In(lang), what, p.noticed.In(lang))
	return row
}

// Rooms is the building.
func (m *Model) Rooms(lang *words.Language) RoomsView {
	v := RoomsView{Label: lang.Word(Label), Rooms: []RoomRow{}, Singles: []SingleRow{}, Weak: []WeakRow{}, Scale: scale(lang), Rates: Rates(lang), Assumed: []string{}, Missing: []string{}}
	in := map[int][]site.RoomID{}
	for i, r := range m.rooms {
		v.Rooms = append(v.Rooms, m.row(lang, i))
		for _, p := range m.singles(r.station) {
			in[p] = append(in[p], r.id)
		}
	}
	var order []int
	for i, p := range m.byPart {
		if len(in[i]) > 0 || m.bridgeOf(p) != "" && strings.HasPrefix(p.id, "module:") {
			order = append(order, i)
		}
	}
	weight := func(i int) float64 { return m.byPart[i].u.Mid * float64(len(in[i])) }
	sorts.Stable(order, func(a, b int) int { return cmp.Compare(weight(b), weight(a)) })
	for _, i := range order {
		v.Singles = append(v.Singles, m.singleRow(lang, m.byPart[i], in[i], false))
	}
	v.Weak = m.weakest(lang)
	at := worst(m.station)
	v.Worst = string(m.rooms[at].id)
	average := mean(m.station)
	v.Mean, v.Any = figure(lang, average, nil), figure(lang, m.union, nil)
	if s := m.spreads(); m.joined {
		v.Any = figure(lang, m.union, &s[len(s)-1])
	}
	v.Say = lang.Say("Least likely to be reported is a fire in %s: it stays unreported in %s of cases.", m.rooms[at].name, ranged(lang, m.station[at]))
	if m.station[at].Low >= 0.99999 {
		v.Say = lang.Say("A fire in %s is not reported at all.", m.rooms[at].name)
	}
	v.AnySay = lang.Say("That there is at least one room of which a fire would not be reported, at a moment taken at random.")
	if !m.joined {
		v.AnySay += " " + lang.Say("The site is too large to join its rooms exactly: the range runs from the worst room to all rooms added.")
	}
	v.MeanSay = lang.Say("That a fire in a room taken at random would not be reported.")
	for _, a := range m.assumed {
		v.Assumed = append(v.Assumed, words.Upper(a.In(lang)))
	}
	if m.o.Radio != nil {
		_, missing := m.o.Radio.Notes(lang)
		v.Missing = append(v.Missing, missing...)
	}
	if len(m.o.heard.alike) == 0 {
		v.Missing = append(v.Missing, lang.Say("Where someone hears an alarm: no room has an outline."))
	}
	return v
}

// weakest are the parts through which most of it goes, over all rooms: how much less it would be if the part never failed.
func (m *Model) weakest(lang *words.Language) []WeakRow {
	var tops []reliability.Node
	var sum float64
	for i, r := range m.rooms {
		tops = append(tops, r.station)
		sum += m.station[i].Mid
	}
	u := m.sys.Chances(reliability.Mid)
	share := m.diagram.Birnbaum(u, tops...)
	for i := range share {
		share[i] *= u[i] / max(sum, 1e-300)
	}
	return m.ranked(lang, share, lang.Say("less would go unreported, over all rooms, if it never failed"))
}

// ranked are the parts with the largest shares.
func (m *Model) ranked(lang *words.Language, share []float64, what string) []WeakRow {
	var order []int
	for i, s := range share {
		if s >= 0.005 {
			order = append(order, i)
		}
	}
	sorts.Stable(order, func(a, b int) int { return cmp.Compare(share[b], share[a]) })
	out := []WeakRow{}
	for _, i := range order[:min(len(order), 10)] {
		p := m.byPart[i]
		out = append(out, WeakRow{Name: words.Upper(p.name.In(lang)), Share: one(share[i]), Say: percent(lang, share[i]) + " " + what, At: p.at})
	}
	return out
}

// mostCuts is how many cut sets are listed.
const mostCuts = 40

// Room is one room in full; false for a room that is not there.
func (m *Model) Room(lang *words.Language, id site.RoomID) (RoomView, bool) {
	i := slices.IndexFunc(m.rooms, func(r *room) bool { return r.id == id })
	if i < 0 {
		return RoomView{}, false
	}
	r := m.rooms[i]
	v := RoomView{Label: lang.Word(Label), Row: m.row(lang, i), Ways: []string{}, Singles: []SingleRow{}, SingleEars: []SingleRow{}, Cuts: []CutRow{}, Weak: []WeakRow{}, Scale: scale(lang)}
	for _, w := range r.ways {
		say := words.Upper(w.say.In(lang))
		switch {
		case w.reports && len(w.sets) > 0:
			say = lang.Say("%s: sounds and reports", say)
		case w.reports:
			say = lang.Say("%s: reports", say)
		default:
			say = lang.Say("%s: sounds only", say)
		}
		v.Ways = append(v.Ways, say)
	}
	single := map[int]bool{}
	list := func(top reliability.Node, ears bool) (out []SingleRow) {
		at := m.singles(top)
		sorts.Stable(at, func(a, b int) int { return cmp.Compare(m.byPart[b].u.Mid, m.byPart[a].u.Mid) })
		out = []SingleRow{}
		for _, p := range at {
			single[p] = single[p] || !ears
			out = append(out, m.singleRow(lang, m.byPart[p], []site.RoomID{r.id}, ears))
		}
		return out
	}
	v.Singles, v.SingleEars = list(r.station, false), list(r.sound, true)
	m.cuts(lang, r, &v)
	if fv, err := m.diagram.FussellVesely(r.station, m.sys.Chances(reliability.Mid)); err == nil {
		v.Weak = m.ranked(lang, fv, lang.Say("of it goes through this part"))
	}
	v.Diagram = m.picture(lang, r, single)
	v.Sheet = m.sheet(lang, i)
	v.Sheet.Pictures = []worked.Picture{v.Diagram}
	return v, true
}

func (m *Model) cuts(lang *words.Language, r *room, v *RoomView) {
	cuts, err := m.diagram.CutSets(r.station, reliability.CutLimit{Sets: 2000})
	if err != nil {
		v.CutsSay = words.Said(err).In(lang)
		return
	}
	u := m.sys.Chances(reliability.Mid)
	product := func(set []int) float64 {
		p := 1.0
		for _, i := range set {
			p *= u[i]
		}
		return p
	}
	sorts.Stable(cuts.Sets, func(a, b []int) int { return cmp.Compare(product(b), product(a)) })
	for _, set := range cuts.Sets[:min(len(cuts.Sets), mostCuts)] {
		var names []string
		for _, i := range set {
			names = append(names, words.Upper(m.byPart[i].name.In(lang)))
		}
		say := strings.Join(names, " + ")
		if len(set) == 0 {
			say = lang.Say("nothing has to fail: nothing reports it")
		}
		v.Cuts = append(v.Cuts, CutRow{say, percent(lang, product(set))})
	}
	v.CutsSay = lang.Say("Minimal cut sets: %s, all of them listed.", lang.Number(cuts.Total, 0))
	if shown := len(v.Cuts); float64(shown) < cuts.Total {
		v.CutsSay = lang.Say("Minimal cut sets: %s. Listed: the %d most likely of the %d smallest.", lang.Number(cuts.Total, 0), shown, len(cuts.Sets))
	}
}

// Helps tries the changes.
func (m *Model) Helps(lang *words.Language) (HelpsView, error) {
	v := HelpsView{Label: lang.Word(Label), Changes: []ChangeRow{}}
	all, err := m.helps()
	if err != nil {
		return v, err
	}
	v.Say = lang.Say("No change that was tried makes a difference.")
	if len(all) > 0 {
		before, best := mean(m.station).Mid, all[0]
		v.How = worked.Step{
			Name: best.say.In(lang), Formula: "7.12", Says: "g = (U - U') / k", Put: percent(lang, before) + " → " + percent(lang, best.station.Mid) + ", k = " + lang.Number(best.cost, -1),
			Value: best.perCost, Say: lang.Number(one(best.perCost*100), -1) + " %", Source: lang.Say("each change is computed by doing it, one at a time; U is the mean over the rooms, k what the change costs"), Confidence: worked.Low,
		}
	}
	for i, c := range all {
		row := ChangeRow{ID: c.id, Name: c.say.In(lang), Cost: c.cost, CostAt: "/care/effort/" + c.id, After: figure(lang, c.station, nil)}
		before := mean(m.station).Mid
		switch {
		case before > 0 && c.gain/before >= 0.005:
			row.Say = lang.Say("%s less goes unreported", percent(lang, c.gain/before))
		case c.gain < -1e-12:
			row.Say = lang.Say("it makes reporting worse")
		default:
			row.Say = lang.Say("no difference worth naming")
		}
		if note := c.note.In(lang); note != "" {
			row.Assumes = note
		}
		if before := mean(m.sound).Mid; before > 0 && c.gainSound/before >= 0.005 {
			row.Say += "; " + lang.Say("%s less goes unheard", percent(lang, c.gainSound/before))
		}
		if all[0].perCost > 0 {
			row.Share = c.perCost / all[0].perCost
		}
		if i == 0 && c.perCost > 0 {
			v.Say = lang.Say("For what it costs, this helps most: %s (%s).", c.say.In(lang), row.Say)
		}
		v.Changes = append(v.Changes, row)
	}
	return v, nil
}

// Rates is the table of figures in words.
func Rates(lang *words.Language) (out []RateRow) {
	for _, r := range table {
		out = append(out, RateRow{lang.Word(r.name), rateSay(lang, &r), lang.Word(r.source), lang.Word(r.confidence)})
	}
	return out
}

func rateSay(lang *words.Language, r *rate) string {
	if r.unit == chance {
		return ranged(lang, r.of)
	}
	two := func(v float64) string { return lang.Number(math.Round(v*1e8)/100, -1) }
	return lang.Say("%s to %s per million hours, middle %s", two(r.of.Low), two(r.of.High), two(r.of.Mid))
}
