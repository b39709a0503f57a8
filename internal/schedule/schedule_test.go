package schedule

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/panel"
	"proofbell/site"
)

func ladder(t testing.TB) *panel.Profile {
	t.Helper()
	p, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func mill(t testing.TB) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestNothingToDo(t *testing.T) {
	plan := Allocate(mill(t), ladder(t))
	if len(plan.Choices) != 0 || len(plan.Left) != 0 || plan.Patch != nil || plan.Free != 48-33 {
		t.Errorf("every device of the mill has its zone: %+v", plan)
	}
}

// The mill with all zones but the entry doors forgotten: allocation has to come back to what its people settled on, except
// where that is a person's choice.
func TestTheMillAgain(t *testing.T) {
	for _, name := range panel.Names() {
		t.Run(name, func(t *testing.T) {
			p, err := panel.Builtin(name)
			if err != nil {
				t.Fatal(err)
			}
			millAgain(t, p)
		})
	}
}

func millAgain(t *testing.T, p *panel.Profile) {
	s, want := mill(t), mill(t).Zones
	keep := map[site.ZoneID]bool{"01": true, "02": true, "19": true, "29": true, "30": true} // one zone of each area, keyed
	for id := range s.Zones {
		if !keep[id] {
			delete(s.Zones, id)
		}
	}
	plan := Allocate(s, p)
	if len(plan.Choices) != 33-5 || len(plan.Left) != 0 {
		t.Fatalf("%d choices, left %v", len(plan.Choices), plan.Left)
	}
	settled := map[string]site.Zone{}
	for _, z := range want {
		settled[string(z.Device)+" "+z.Terminal] = z
	}
	labels := map[string]bool{}
	for _, c := range plan.Choices {
		w, v := settled[string(c.Device)+" "+c.Terminal], c.Value
		if v.Kind != w.Kind || v.Code != w.Code || v.LossWindow != w.LossWindow || v.Bypass != w.Bypass || !slices.Equal(v.Paths, w.Paths) {
			t.Errorf("%s %s: got %+v, the mill has %+v", c.Device, c.Terminal, v, w)
		}
		if v.Area != w.Area && !slices.ContainsFunc(c.Remarks, func(r string) bool { return strings.Contains(r, "area is a guess") }) {
			t.Errorf("%s: area %s, the mill has %s, and no remark", c.Device, v.Area, w.Area)
		}
		if codes, missing := p.SayLabel(v.Label); v.Label == "" || len(missing) > 0 || len(codes) > p.Label.Words || labels[v.Label] {
			t.Errorf("%s: label %q can not be said or is there twice", c.Device, v.Label)
		}
		labels[v.Label] = true
		for _, member := range []string{"number", "kind", "area", "label", "code", "paths", "lossWindow", "bypass", "doorTone"} {
			if !slices.ContainsFunc(c.Why, func(r Reason) bool { return r.Member == member && r.Say != "" }) {
				t.Errorf("%s: no reason for %s", c.Device, member)
			}
		}
	}
	if got := plan.Choices[0]; got.Zone != "03" || !got.Value.Kind.LifeSafety() {
		t.Errorf("the first free number went to %+v, want life safety", got)
	}
	raw, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	patched, err := site.Apply(raw, plan.Patch)
	if err != nil {
		t.Fatal(err)
	}
	after, err := site.DecodeJSON("patched", patched)
	if err != nil {
		t.Fatalf("the patched site does not decode: %v", err)
	}
	if again := Allocate(after, p); len(after.Zones) != 33 || len(again.Choices) != 0 || len(again.Left) != 0 {
		t.Errorf("after the patch: %d zones and still %+v", len(after.Zones), again)
	}
	for id := range keep {
		if a, b := fmt.Sprint(after.Zones[id]), fmt.Sprint(s.Zones[id]); a != b {
			t.Errorf("zone %s was changed from %s to %s", id, b, a)
		}
	}
}

// smoke, a panic button or a probe in one of three rooms of two areas; each room has a zone already, which shows its area.
func small(r *rand.Rand, p *panel.Profile, devices int) *site.Site {
	s := &site.Site{
		Areas: map[site.AreaID]site.Area{"1": {Name: "House"}, "2": {Name: "Workshop"}},
		Rooms: map[site.RoomID]site.Room{"a": {Name: "Hall"}, "b": {Name: "Lounge"}, "c": {Name: "Workshop"}, "d": {Name: "Store"}},
		Models: map[site.ModelID]site.Model{
			"smoke": {Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesSmoke}}},
			"panic": {Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesPanic}}},
			"water": {Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesWater}}},
			"keyed": {Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesMotion}}},
		},
		Devices: map[site.DeviceID]site.Device{}, Zones: map[site.ZoneID]site.Zone{},
	}
	numbers := r.Perm(p.MaxZone())
	for i, room := range []site.RoomID{"a", "b", "c", "d"} {
		id := site.DeviceID("keyed-" + string(room))
		s.Devices[id] = site.Device{Model: "keyed", Room: room}
		s.Zones[p.ZoneID(numbers[i]+1)] = site.Zone{Kind: site.Inside, Device: id, Terminal: "A", Area: areaOfRoom[room], Keyed: true, Label: "Motion"}
	}
	for i := range devices {
		s.Devices[site.DeviceID(fmt.Sprintf("d%d", i))] = site.Device{
			Model: []site.ModelID{"smoke", "panic", "water"}[r.IntN(3)], Room: []site.RoomID{"a", "b", "c", "d"}[r.IntN(4)],
		}
	}
	return s
}

var areaOfRoom = map[site.RoomID]site.AreaID{"a": "1", "b": "1", "c": "2", "d": "2"}

// cost is the stated objective, written down a second time: smaller is better, the first members weigh most.
func cost(s *site.Site, numbers map[site.DeviceID]int, all []site.DeviceID) []int {
	block := map[site.ModelID]int{"smoke": 0, "panic": 1, "water": 2}
	c := make([]int, 8) // left out by block (3), left out though earlier, sum of numbers, order of blocks, changes of area, changes of room
	name := func(id site.DeviceID) string {
		return string(areaOfRoom[s.Devices[id].Room]) + string(s.Devices[id].Room) + string(id)
	}
	byNumber := map[int]site.DeviceID{}
	top := 0
	for _, d := range all {
		n, ok := numbers[d]
		if !ok {
			c[block[s.Devices[d].Model]]++
			for _, other := range all {
				if _, ok := numbers[other]; ok && s.Devices[other].Model == s.Devices[d].Model && name(d) < name(other) {
					c[3]++
				}
			}
			continue
		}
		c[4] += n
		byNumber[n] = d
		top = max(top, n)
		for _, other := range all {
			if m, ok := numbers[other]; ok && m < n && block[s.Devices[other].Model] > block[s.Devices[d].Model] {
				c[5]++
			}
		}
	}
	last := map[int]site.Device{}
	for n := range top + 1 {
		id, ok := byNumber[n]
		if !ok {
			continue
		}
		d := s.Devices[id]
		b := block[d.Model]
		if before, ok := last[b]; ok {
			if areaOfRoom[before.Room] != areaOfRoom[d.Room] {
				c[6]++
			}
			if before.Room != d.Room {
				c[7]++
			}
		}
		last[b] = d
	}
	return c
}

// best tries every way to give the free numbers to the devices, leaving some out or not.
func best(s *site.Site, free []int, all []site.DeviceID) []int {
	var found []int
	numbers := map[site.DeviceID]int{}
	used := map[int]bool{}
	var try func(i int)
	try = func(i int) {
		if i == len(all) {
			if c := cost(s, numbers, all); found == nil || slices.Compare(c, found) < 0 {
				found = c
			}
			return
		}
		try(i + 1)
		for _, n := range free {
			if !used[n] {
				used[n], numbers[all[i]] = true, n
				try(i + 1)
				delete(numbers, all[i])
				used[n] = false
			}
		}
	}
	try(0)
	return found
}

func TestAgainstExhaustiveSearch(t *testing.T) {
	sizes := []struct{ devices, zones, cases int }{{1, 6, 5}, {2, 7, 20}, {3, 8, 40}, {4, 9, 40}, {5, 9, 20}, {6, 9, 10}, {7, 9, 4}, {7, 7, 10}, {6, 6, 10}, {3, 4, 5}}
	full := 0
	for _, size := range sizes {
		for seed := range uint64(size.cases) {
			p := ladder(t)
			p.Zones.Last = size.zones // a small panel, so that every way can be tried; some are too small
			r := rand.New(rand.NewPCG(seed, uint64(size.devices*100+size.zones)))
			s := small(r, p, size.devices)
			var all []site.DeviceID
			for id := range s.Devices {
				if !strings.HasPrefix(string(id), "keyed") {
					all = append(all, id)
				}
			}
			slices.Sort(all)
			var free []int
			for n := 1; n <= size.zones; n++ {
				if _, taken := s.Zones[site.ZoneID(fmt.Sprint(n))]; !taken {
					free = append(free, n)
				}
			}
			plan := Allocate(s, p)
			got := map[site.DeviceID]int{}
			for _, c := range plan.Choices {
				n, ok := p.ZoneNumber(c.Zone)
				if !ok || !slices.Contains(free, n) {
					t.Fatalf("zone %s is not free", c.Zone)
				}
				got[c.Device] = n
			}
			if len(got)+len(plan.Left) != size.devices {
				t.Fatalf("%d placed and %d left of %d", len(got), len(plan.Left), size.devices)
			}
			if len(plan.Left) > 0 {
				full++
				if !strings.Contains(plan.Left[0].Say, "panel is full") {
					t.Errorf("left without saying that the panel is full: %+v", plan.Left[0])
				}
			}
			if a, b := cost(s, got, all), best(s, free, all); !slices.Equal(a, b) {
				t.Errorf("%d devices, %d zones, seed %d: cost %v, %v is possible; %v", size.devices, size.zones, seed, a, b, got)
			}
		}
	}
	if full == 0 {
		t.Error("no case was too large for its panel")
	}
}

func TestLeftOver(t *testing.T) {
	p := ladder(t)
	s := &site.Site{
		Areas:  map[site.AreaID]site.Area{"1": {Name: "House"}},
		Groups: map[site.GroupID]site.Group{"M": {}},
		Heads:  map[site.HeadID]site.Head{"M1": {Kind: "smoke", Group: "M"}},
		Models: map[site.ModelID]site.Model{
			"bridge":   {Class: "bridge", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesThree}, "B": {Senses: site.SensesFour}}},
			"gas":      {Class: "gas", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesGas}}},
			"blank":    {Class: "contact"},
			"repeater": {Class: "repeater"},
			"many":     {Class: "contact", Terminals: map[string]site.Terminal{"F": {Senses: site.SensesContact}}},
			"mute":     {Class: "contact", Terminals: map[string]site.Terminal{"A": {}}},
		},
		Devices: map[site.DeviceID]site.Device{
			"bridge": {Model: "bridge", Hears: "M"}, "gas": {Model: "gas"}, "blank": {Model: "blank"},
			"repeater": {Model: "repeater"}, "new": {}, "many": {Model: "many"}, "mute": {Model: "mute"},
		},
	}
	plan := Allocate(s, p)
	if len(plan.Choices) != 1 || plan.Choices[0].Terminal != "A" || plan.Choices[0].Value.Label != "Mains alarms smoke" {
		t.Errorf("choices %+v", plan.Choices)
	}
	want := map[string]string{
		"bridge B": "could never trip", "gas A": "no zones of kind Gas", "blank ": "names no terminal", "new ": "model is not chosen",
		"many F": `terminal "F"`, "mute A": "not entered",
	}
	for _, l := range plan.Left {
		key := string(l.Device) + " " + l.Terminal
		if w, ok := want[key]; !ok || !strings.Contains(l.Say, w) || l.Do == "" {
			t.Errorf("%s: %+v, want %q", key, l, w)
		}
		delete(want, key)
	}
	if len(want) > 0 {
		t.Errorf("not left out: %v", want)
	}
	// A detector of which only the class is known is taken as what that says, and somebody is told.
	s.Models["plain"], s.Devices["plain"] = site.Model{Class: "smoke"}, site.Device{Model: "plain"}
	plan = Allocate(s, p)
	if i := slices.IndexFunc(plan.Choices, func(c Choice) bool { return c.Device == "plain" }); i < 0 || plan.Choices[i].Value.Kind != site.Smoke || !strings.Contains(strings.Join(plan.Choices[i].Remarks, " "), "Name the input") {
		t.Errorf("a detector without terminals: %+v", plan.Choices)
	}
	delete(s.Devices, "plain")
	// A CO alarm that stands alone is heard by nobody, whatever the bridge is set to.
	s.Heads["C1"] = site.Head{Kind: "co"}
	s.Devices["bridge"] = site.Device{Model: "bridge"}
	if plan := Allocate(s, p); len(plan.Choices) != 1 {
		t.Errorf("with a CO alarm that stands alone: %+v", plan.Choices)
	}
	s.Devices["bridge"] = site.Device{Model: "bridge", Hears: "M"}
	// A CO head joins the group: now the four-pulse pattern can be heard.
	s.Heads["M2"] = site.Head{Kind: "co", Group: "M"}
	if plan := Allocate(s, p); len(plan.Choices) != 2 || plan.Choices[1].Value.Kind != site.CO || plan.Choices[1].Value.Code != "162" {
		t.Errorf("with a CO head: %+v", plan.Choices)
	}
}

func TestLossWindows(t *testing.T) {
	p := ladder(t)
	duration := func(text string) (m site.Model) {
		if text != "" {
			if err := json.Unmarshal([]byte(`"`+text+`"`), &m.Reports); err != nil {
				t.Fatal(err)
			}
		}
		return m
	}
	for _, c := range []struct {
		kind    site.ZoneKind
		reports string
		carried bool
		link    string
		want    string
		remark  bool
	}{
		{site.Smoke, "60 s", false, "radio", "200 s", false}, // three reports take 180 s
		{site.Smoke, "70 s", false, "radio", "200 s", true},  // 210 s
		{site.Smoke, "", false, "radio", "200 s", true},
		{site.CO, "60 s", true, "radio", "200 s", false},      // life safety is never let out of sight
		{site.Water, "60 min", false, "radio", "4 h", false},  // 3 h
		{site.Water, "80 min", false, "radio", "4 h", false},  // 4 h exactly
		{site.Water, "81 min", false, "radio", "24 h", false}, //
		{site.Water, "6 h", false, "radio", "24 h", false},
		{site.Water, "9 h", false, "radio", "24 h", true},
		{site.Water, "60 s", false, "radio", "200 s", false},
		{site.Water, "", false, "radio", "24 h", false},
		{site.PanicQuiet, "", true, "radio", "never", false},
		{site.Keyswitch, "", false, "wired", "", false},
	} {
		m := duration(c.reports)
		m.Carried, m.Link = c.carried, c.link
		x := candidate{kind: c.kind, model: m}
		if got := x.lossWindow(p); got != c.want || (len(x.remarks) > 0) != c.remark {
			t.Errorf("%s reporting every %q: %q %v, want %q, remark %v", c.kind, c.reports, got, x.remarks, c.want, c.remark)
		}
	}
}

// Doors: the first door of an area without one gets the entry delay; what leads outside is perimeter, what lies between rooms inside.
func TestDoors(t *testing.T) {
	s := mill(t)
	for _, id := range []site.ZoneID{"01", "02", "03", "04", "22"} {
		delete(s.Zones, id)
	}
	kinds, labels := map[site.DeviceID]site.ZoneKind{}, map[site.DeviceID]string{}
	for _, c := range Allocate(s, ladder(t)).Choices {
		kinds[c.Device], labels[c.Device] = c.Value.Kind, c.Value.Label
	}
	entries := 0
	for _, d := range []site.DeviceID{"front-door", "kitchen-door", "lounge-doors", "escape-door"} {
		switch kinds[d] {
		case site.Entry1:
			entries++
		case site.Perimeter:
		default:
			t.Errorf("%s became %s", d, kinds[d])
		}
	}
	if labels["front-door"] != "Front door" {
		t.Errorf("the front door is called %q", labels["front-door"])
	}
	if entries != 1 || kinds["wheel-hatch"] != site.Perimeter {
		t.Errorf("%d entry doors, want 1; hatch %s, want perimeter: %v", entries, kinds["wheel-hatch"], kinds)
	}
}

func TestLabels(t *testing.T) {
	p := ladder(t)
	for _, c := range []struct{ room, use, senses, want string }{
		{"Entrance hall and stair", "hall", site.SensesSmoke, "Hall smoke"},
		{"Boiler and laundry room", "boiler", site.SensesCO, "Boiler room carbon monoxide"},
		{"Owner's flat", "flat", site.SensesSmoke, "Owner flat smoke"},
		{"Corridor and landing", "corridor", site.SensesMotion, "Landing motion"},
		{"Print shop", "workshop", site.SensesHeat, "Workshop heat"}, // PRINT is proposed as WORKSHOP
		{"Zeppelin shed", "kitchen", site.SensesWater, "Kitchen water"},
		{"Zeppelin shed", "", site.SensesWater, "Water"},
		{"Front hall kitchen landing", "", site.SensesCO, "Front hall carbon monoxide"}, // four words at most
		{"Bücherei", "office", site.SensesPanic, "Office panic"},
		{"", "", site.SensesKey, "Key switch"},
	} {
		s := &site.Site{Rooms: map[site.RoomID]site.Room{"r": {Name: c.room, Use: c.use}}}
		x := candidate{senses: c.senses, room: "r"}
		if got := x.label(s, newLabeller(s, p)); got != c.want {
			t.Errorf("%s (%s), %s: %q, want %q", c.room, c.use, c.senses, got, c.want)
		}
	}
	s := &site.Site{Rooms: map[site.RoomID]site.Room{"r": {Name: "Hall"}}, Zones: map[site.ZoneID]site.Zone{"01": {Label: "HALL Smoke"}}}
	l := newLabeller(s, p)
	var got []string
	for range 5 {
		x := candidate{senses: site.SensesSmoke, room: "r"}
		got = append(got, x.label(s, l))
	}
	if want := []string{"Hall smoke one", "Hall smoke two", "Hall smoke three", "", ""}; !slices.Equal(got, want) {
		t.Errorf("labels %q, want %q: the panel counts to three", got, want)
	}
}

// Zones 09, 17, 27 and 30 of the mill by hand, from the event numbers of ANSI/SIA DC-05.
func TestExpected(t *testing.T) {
	got := map[site.ZoneID]map[Condition]string{}
	for _, e := range Expected(mill(t), ladder(t)) {
		if got[e.Zone] == nil {
			got[e.Zone] = map[Condition]string{}
		}
		got[e.Zone][e.Condition] = e.Begin + ">" + e.End + " " + e.Restore
	}
	want := map[site.ZoneID]map[Condition]string{
		"09": {Alarm: "111>111 follows", Trouble: "373>373 follows", Tamper: "383>383 follows", Battery: "384>384 follows", Missing: "381>381 follows"},
		"17": {Alarm: "162>162 follows", Trouble: "380>380 follows", Tamper: "383>383 follows", Battery: "384>384 follows", Missing: "381>381 follows"},
		"27": {Alarm: "122> none", Trouble: "375>375 follows", Tamper: "383>383 follows", Battery: "384>384 follows"}, // a carried pendant: never missed
		"30": {Alarm: "409>409 follows"},                                                                              // a key switch: opening and closing
	}
	for id, w := range want {
		if fmt.Sprint(got[id]) != fmt.Sprint(w) {
			t.Errorf("zone %s: %v, want %v", id, got[id], w)
		}
	}
	s := mill(t)
	z := s.Zones["24"]
	z.Code = "158"
	s.Zones["24"] = z
	for _, e := range Expected(s, ladder(t)) {
		if e.Zone == "24" && e.Condition == Alarm && (e.Begin != "158" || e.End != "158" || e.Usual) {
			t.Errorf("a scheduled code has to win: %+v", e)
		}
	}
}

func TestStationList(t *testing.T) {
	s := mill(t)
	rows := StationList(s, ladder(t))
	if len(rows) != 33 {
		t.Errorf("%d rows, want the mill's 33 zones", len(rows))
	}
	raw, err := json.Marshal(rows)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range s.Devices {
		if d.Identity != "" && strings.Contains(string(raw), d.Identity) {
			t.Errorf("the list for the station holds the identity %s", d.Identity)
		}
	}
	for _, r := range rows {
		if r.Zone == "09" && (r.Label != "Mains alarms smoke" || r.Code != "111" || !r.Restores || r.Paths != 2 || r.Category != "fire" || r.Remarks == "") {
			t.Errorf("zone 09: %+v", r)
		}
		if r.Zone == "27" && r.Restores {
			t.Errorf("the pendant sends no restore: %+v", r)
		}
	}
}
