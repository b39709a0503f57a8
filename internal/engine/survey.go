package engine

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/survey"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Survey lays out the survey stage.
func (d *Desk) Survey(now time.Time) Survey {
	s := d.State.Site
	findings, _ := d.Findings(now) // an unknown rule set is said in the schedule; the survey goes on without
	v := Survey{
		Site: s, Plans: d.drawn(d.lang), Rooms: []RoomRow{}, Heads: []HeadRow{}, Devices: d.deviceRows(), Questions: []QuestionRow{},
		Asks: survey.Questions(d.lang, s, findings), Presses: presses(d), Photos: d.photos(), Panels: []Choice{}, OwnPanels: []string{}, Words: d.choices(),
		NextOrder: survey.NextOrder(s), NextHead: nextHead(s),
	}
	v.Left = toAsk(v.Asks)
	for _, id := range survey.Walk(s) {
		v.Rooms = append(v.Rooms, d.roomRow(id))
	}
	for _, id := range site.SortedIDs(s.Heads) {
		v.Heads = append(v.Heads, d.headRow(id, findings))
	}
	for _, id := range site.SortedIDs(s.Questions) {
		q := s.Questions[id]
		v.Questions = append(v.Questions, QuestionRow{ID: string(id), Ask: q.Ask, Of: q.Of, Answer: q.Answer})
	}
	for _, name := range panel.Names() {
		v.Panels = append(v.Panels, Choice{Value: name, Say: words.Upper(name)})
	}
	for _, name := range slices.Sorted(maps.Keys(d.State.Profiles)) {
		p := d.State.Profiles[name]
		v.Panels = slices.DeleteFunc(v.Panels, func(c Choice) bool { return c.Value == name })
		v.Panels = append(v.Panels, Choice{Value: name, Say: d.lang.Say("%s %s, this job's own", p.Title, p.Version)})
		v.OwnPanels = append(v.OwnPanels, name)
	}
	for year := now.In(d.zone()).Year(); len(v.Made) < 15; year-- {
		v.Made = append(v.Made, strconv.Itoa(year))
	}
	v.Links = survey.Interconnect(d.lang, s, v.Presses)
	v.Linking = Changes(d.lang, s, v.Links.Patch)
	v.Walk = d.walk(v)
	return v
}

// toAsk counts the questions that are open, whoever can answer them.
func toAsk(asks []survey.Asks) int {
	n := 0
	for _, a := range asks {
		n += len(a.Lines)
	}
	return n
}

func (d *Desk) deviceRows() []DeviceRow {
	s := d.State.Site
	out := []DeviceRow{}
	zones := s.ZonesByDevice()
	for _, id := range site.SortedIDs(s.Devices) {
		dev := s.Devices[id]
		row := DeviceRow{ID: string(id), Name: cmp.Or(s.Models[dev.Model].Name, string(id)), Identity: dev.Identity, Room: s.Rooms[dev.Room].Name, Zones: []string{}}
		for _, zone := range zones[id] {
			row.Zones = append(row.Zones, string(zone))
		}
		row.Line = words.Join(row.Room, row.Identity, d.zoneWords(row.Zones))
		out = append(out, row)
	}
	return out
}

// presses are the readings "sounded" of alarms that are still there, the newest of each.
func presses(d *Desk) []survey.Press {
	newest := map[site.HeadID]survey.Press{}
	for _, r := range d.State.Readings {
		id, ok := strings.CutPrefix(r.About, "/heads/")
		if _, there := d.State.Site.Heads[site.HeadID(id)]; !ok || !there || r.What != "sounded" {
			continue
		}
		p := survey.Press{Head: site.HeadID(id), Heard: []site.HeadID{}, Count: int(r.Value)}
		for _, one := range r.Which {
			p.Heard = append(p.Heard, site.HeadID(one))
		}
		newest[p.Head] = p
	}
	out := []survey.Press{}
	for _, id := range site.SortedIDs(newest) {
		out = append(out, newest[id])
	}
	return out
}

func (d *Desk) photos() []PhotoRow {
	out := []PhotoRow{}
	for _, b := range slices.Backward(d.State.Blobs) {
		if strings.HasPrefix(b.Media, "image/") {
			out = append(out, PhotoRow{
				Entry: string(b.Entry), Address: b.Address, About: b.About, Name: b.Name, By: d.name(string(b.By)), At: b.At.UTC().Format(time.RFC3339),
			})
		}
	}
	return out
}

// nextHead is the next free name: the letter that most alarms begin with, and a number.
func nextHead(s *site.Site) string {
	votes := map[string]int{}
	letter := "A"
	for _, id := range site.SortedIDs(s.Heads) {
		if l := strings.TrimRight(string(id), "0123456789"); l != "" && l != string(id) {
			if votes[l]++; votes[l] > votes[letter] {
				letter = l
			}
		}
	}
	for n := 1; ; n++ {
		id := letter + strconv.Itoa(n)
		if _, taken := s.Heads[site.HeadID(id)]; !taken {
			return id
		}
	}
}

// walk is the survey in the order in which it goes best: nothing of it is needed to go on.
func (d *Desk) walk(v Survey) []WalkStep {
	s, lang := d.State.Site, d.lang
	rooms := WalkStep{ID: "rooms", Say: lang.Say("Rooms, by name"), Left: d.count(len(s.Rooms), words.Mark("1 room"), words.Mark("%d rooms"), words.Mark("no room yet")), Done: len(s.Rooms) > 0}

	undated, unseen := 0, 0
	for id, h := range s.Heads {
		if h.Made.IsZero() {
			undated++
		}
		if !slices.ContainsFunc(v.Photos, func(p PhotoRow) bool { return p.About == "/heads/"+string(id) }) {
			unseen++
		}
	}
	heads := WalkStep{ID: "heads", Say: lang.Say("Alarms and their labels"), Left: lang.Say("no alarm yet")}
	if len(s.Heads) > 0 {
		heads.Left = words.Join(
			d.count(len(s.Heads), words.Mark("1 alarm"), words.Mark("%d alarms"), ""),
			d.count(undated, words.Mark("1 without a date"), words.Mark("%d without a date"), words.Mark("all dated")),
			d.count(unseen, words.Mark("1 not photographed"), words.Mark("%d not photographed"), ""),
		)
		heads.Done = undated == 0
	}

	press := WalkStep{ID: "press", Say: lang.Say("Press one, hear which sound"), Left: lang.Say("not pressed yet")}
	contradicted := len(v.Links.Contradiction)
	if len(v.Presses) > 0 {
		press.Left = words.Join(
			lang.Say("%d of %d pressed", len(v.Presses), len(s.Heads)),
			d.count(len(v.Links.Open), words.Mark("1 alarm open"), words.Mark("%d alarms open"), ""),
			d.count(contradicted, words.Mark("1 contradiction"), words.Mark("%d contradictions"), ""),
		)
		press.Done = len(v.Links.Open)+contradicted == 0 && len(v.Linking) == 0
	}

	var lacks []string
	lack := func(missing bool, say string) {
		if missing {
			lacks = append(lacks, say)
		}
	}
	lack(s.Panel.Profile == "", lang.Say("panel"))
	lack(s.Power.BatteryDate.IsZero(), lang.Say("date of the battery"))
	lack(s.Premises.Internet.Standby == "", lang.Say("router"))
	lack(s.Account.Number == "", lang.Say("account"))
	lid := WalkStep{ID: "panel", Say: lang.Say("Panel, power and station"), Left: lang.Say("all there"), Done: len(lacks) == 0}
	if len(lacks) > 0 {
		lid.Left = lang.Say("lacks: %s", strings.Join(lacks, ", "))
	}

	asks := WalkStep{ID: "asks", Say: lang.Say("Questions to ask"), Left: d.count(v.Left, words.Mark("1 open"), words.Mark("%d open"), words.Mark("none open")), Done: v.Left == 0}
	return []WalkStep{rooms, heads, press, lid, asks}
}

// stationNews compares the schedule with the list that the station was last given, or else with the one that it read back.
func (d *Desk) stationNews() StationNews {
	s, lang := d.State.Site, d.lang
	for _, issued := range slices.Backward(d.State.Issued) {
		if !strings.HasPrefix(issued.What, "station") {
			continue
		}
		if issued.As == nil {
			continue
		}
		return StationNews{Since: lang.Say("issued %s", lang.Day(issued.At.In(d.zone()))), Changes: d.zoneNews(issued.As.Site)}
	}
	if len(s.Station.ZoneList) == 0 {
		return StationNews{Changes: []Change{}}
	}
	news := StationNews{Since: lang.Say("as the station read it back"), Changes: []Change{}}
	if on := s.Station.ZoneListAsOf; !on.IsZero() {
		news.Since = lang.Say("as the station read it back on %s", dated(lang, on))
	}
	for _, id := range zonesOfBoth(s.Zones, s.Station.ZoneList) {
		held, there := s.Station.ZoneList[id]
		z, now := s.Zones[id]
		add := func(field, before, after string) {
			if before != after {
				news.Changes = append(news.Changes, Change{Path: "/zones/" + string(id), Where: lang.Say("Zone %s", id), Field: field, Before: before, After: after})
			}
		}
		if !there || !now {
			add("", words.Join(held.Label, held.Code), words.Join(z.Label, z.Code))
			continue
		}
		add(lang.Say("label"), held.Label, z.Label)
		if held.Code != "" {
			add(lang.Say("station code"), held.Code, z.Code)
		}
	}
	return news
}

// zoneNews compares what the station is told of each zone with an earlier site.
func (d *Desk) zoneNews(then *site.Site) []Change {
	out := []Change{}
	before, after := stationLines(d.lang, then), stationLines(d.lang, d.State.Site)
	for _, id := range zonesOfBoth(before, after) {
		old, was := before[id]
		now, is := after[id]
		path := "/zones/" + string(id)
		if !was || !is {
			out = append(out, Change{Path: path, Where: d.lang.Say("Zone %s", id), Before: old.whole(), After: now.whole()})
			continue
		}
		for i, field := range stationFields {
			if old[i] != now[i] {
				out = append(out, Change{Path: path, Where: d.lang.Say("Zone %s", id), Field: d.lang.Word(field), Before: old[i], After: now[i]})
			}
		}
	}
	return out
}

// stationFields are what the station is told of a zone.
var stationFields = [...]string{words.Mark("label"), words.Mark("kind"), words.Mark("station code"), words.Mark("area"), words.Mark("room"), words.Mark("paths")}

type stationLine [len(stationFields)]string

func (l stationLine) whole() string { return words.Join(l[0], l[1], l[2]) }

func stationLines(lang *words.Language, s *site.Site) map[site.ZoneID]stationLine {
	out := map[site.ZoneID]stationLine{}
	for id, z := range s.Zones {
		if z.Kind == site.Unused {
			continue
		}
		var paths []string
		for _, p := range z.Paths {
			paths = append(paths, cmp.Or(s.Account.Paths[p].Name, string(p)))
		}
		room := s.Devices[z.Device].Room
		out[id] = stationLine{z.Label, sayKind(lang, z.Kind), z.Code, cmp.Or(s.Areas[z.Area].Name, string(z.Area)), s.Rooms[room].Name, strings.Join(paths, ", ")}
	}
	return out
}

func zonesOfBoth[A, B any](a map[site.ZoneID]A, b map[site.ZoneID]B) []site.ZoneID {
	all := map[site.ZoneID]bool{}
	for id := range a {
		all[id] = true
	}
	for id := range b {
		all[id] = true
	}
	return site.SortedIDs(all)
}
