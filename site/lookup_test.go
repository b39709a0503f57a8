package site_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/site"
)

func read(t *testing.T, text []byte) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("demo", text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Every identity of the scenario's table; SD002743 is the one that was misread.
func TestIdentities(t *testing.T) {
	for _, id := range strings.Fields(`DC001124 DC002361 DC003518 DC004797 MO001180 MO002444 GB001775 MO003897 BR001013 SD001228 SD003638 HD001581 SD004842
		HD002720 CO001390 FB001639 DC005950 MO004267 DC006131 MO005710 WP001288 WP002567 TS001170 PB001336 PB002482 DC007386`) {
		if v := site.CheckIdentity(id); !v.Known || !v.Good || v.Family != id[:2] || v.Swapped != nil || v.Changed != nil {
			t.Errorf("%s: %+v", id, v)
		}
	}
	v := site.CheckIdentity("SD002743")
	if !v.Known || v.Good || !slices.Equal(v.Swapped, []string{"SD002473"}) || !slices.Contains(v.Changed, "SD002747") {
		t.Errorf("SD002743: %+v", v)
	}
	for _, id := range []string{"", "SD", "XX001228", "SD00122", "SD0012288", "SD00122A", "SD-01228", "SDÄ1228"} {
		if v := site.CheckIdentity(id); v.Known || v.Good {
			t.Errorf("%q: %+v", id, v)
		}
	}
}

// A modulus 10 check digit catches every single wrong digit and every swap of neighbours but 09 and 90.
func TestEveryMisreadDigitIsCaught(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		family := rapid.SampledFrom([]string{"DC", "MO", "GB", "BR", "SD", "HD", "CO", "FB", "WP", "TS", "PB"}).Draw(t, "family")
		five := rapid.StringMatching(`[0-9]{5}`).Draw(t, "digits")
		digit, ok := site.CheckDigit(family, five)
		if !ok {
			t.Fatal("no check digit")
		}
		good := family + five + string(digit)
		i, to := rapid.IntRange(2, 7).Draw(t, "place"), rapid.StringMatching(`[0-9]`).Draw(t, "misread as")
		bad := good[:i] + to + good[i+1:]
		if v := site.CheckIdentity(bad); v.Good != (bad == good) || !v.Good && !slices.Contains(v.Changed, good) {
			t.Fatalf("%s misread as %s: %+v", good, bad, v)
		}
		if i == 7 || good[i] == good[i+1] || good[i:i+2] == "09" || good[i:i+2] == "90" {
			return
		}
		swapped := good[:i] + good[i+1:i+2] + good[i:i+1] + good[i+2:]
		if v := site.CheckIdentity(swapped); v.Good || !slices.Contains(v.Swapped, good) {
			t.Fatalf("%s swapped to %s: %+v", good, swapped, v)
		}
	})
}

func TestNaturalOrder(t *testing.T) {
	want := []string{"01", "1", "2", "9", "09", "10", "A", "M1", "M2", "M9", "M10", "M10a", "a2", "a10b2", "a10b10"}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, site.NaturalOrder)
	// Equal numbers: fewer zeros or bytes first; only that the order is fixed matters.
	if got[0] != "01" || !slices.Equal(got[5:], want[5:]) {
		t.Errorf("%q", got)
	}
	id := rapid.StringMatching(`[A-Za-z0-9-]{0,5}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := id.Draw(t, "a"), id.Draw(t, "b"), id.Draw(t, "c")
		if site.NaturalOrder(a, b) != -site.NaturalOrder(b, a) || (site.NaturalOrder(a, b) == 0) != (a == b) {
			t.Fatalf("%q and %q", a, b)
		}
		if site.NaturalOrder(a, b) < 0 && site.NaturalOrder(b, c) < 0 && site.NaturalOrder(a, c) >= 0 {
			t.Fatalf("%q, %q, %q", a, b, c)
		}
	})
}

func TestLookups(t *testing.T) {
	s := read(t, demo.Draft)
	if got := s.ZonesOf("bridge"); !slices.Equal(got, []site.ZoneID{"09", "10"}) || !slices.Equal(s.ZonesByDevice()["bridge"], got) {
		t.Errorf("zones of the bridge: %v", got)
	}
	if s.ZonesOf("keypad-hall") != nil || s.ZonesOf("") != nil || s.ZonesOf("nobody") != nil {
		t.Error("zones of a device without any")
	}
	if a, b := s.Senses("09"), s.Senses("10"); a != site.SensesThree || b != site.SensesFour || s.Senses("99") != "" {
		t.Errorf("the bridge senses %q and %q", a, b)
	}
	if f := s.DeviceFamily("hall-smoke"); f != "SD" {
		t.Errorf("family %q", f)
	}
	for device, want := range map[site.DeviceID]site.StoreyID{"hall-smoke": "ground", "bridge": "upper", "bell-box": "upper" /* by its height, 3.0 m */} {
		if got, ok := s.StoreyOfDevice(device); !ok || got != want {
			t.Errorf("%s is on %q", device, got)
		}
	}
	if got, ok := s.StoreyOfDevice("nobody"); ok {
		t.Errorf("an unknown device is on %q", got)
	}
	if got, ok := s.RoomAt("ground", geom.Point{X: 8, Y: 3}); !ok || got != "G1" {
		t.Errorf("room at M1: %q", got)
	}
	if h, ok := s.Ceiling("G8"); !ok || h != 3.3 {
		t.Errorf("ceiling of the workshop: %v", h)
	}
	if h, ok := s.Ceiling("F2"); !ok || h != 2.6 {
		t.Errorf("ceiling of Alder: %v", h)
	}
	if got := s.HeadsOf("M"); len(got) != 10 || got[9] != "M10" {
		t.Errorf("heads of M: %v", got)
	}
	if got := s.ContactPhone("2"); got != "555-0131" {
		t.Errorf("phone of contact 2: %q", got)
	}
	// Every room of the mill can be reached on foot from the front door.
	reached := map[site.RoomID]bool{"G1": true}
	for range s.Rooms {
		for _, w := range s.Ways() {
			if w.B != "" && (reached[w.A] || reached[w.B]) {
				reached[w.A], reached[w.B] = true, true
			}
		}
	}
	if len(reached) != len(s.Rooms) {
		t.Errorf("reached %v", reached)
	}
}

// spokenWords is the spoken list of the scenario's panel.
var spokenWords = strings.Fields(`FRONT BACK DOOR DOORS SMOKE HEAT CARBON MONOXIDE WATER COLD MOTION GLASS PANIC HALL LOUNGE KITCHEN LANDING OFFICE BOILER ROOM
	WORKSHOP PAPER STORE WHEEL HATCH FIRE BUTTON OWNER FLAT DESK MAINS ALARMS UP DOWN LOUD KEY SWITCH ONE TWO THREE`)

func TestTheCorrectedSiteIsInOrder(t *testing.T) {
	s := read(t, demo.Corrected)
	labels, identities := map[string]site.ZoneID{}, map[string]site.DeviceID{}
	for _, id := range site.SortedIDs(s.Zones) {
		z := s.Zones[id]
		if other, twice := labels[z.Label]; twice {
			t.Errorf("zones %s and %s are both %q", other, id, z.Label)
		}
		labels[z.Label] = id
		words := strings.Fields(strings.ToUpper(z.Label))
		if len(words) > 4 {
			t.Errorf("zone %s: %q is longer than four words", id, z.Label)
		}
		for _, w := range words {
			if !slices.Contains(spokenWords, w) {
				t.Errorf("zone %s: the panel can not say %s", id, w)
			}
		}
		if line := s.Station.ZoneList[id]; line.Label != z.Label || line.Code != z.Code {
			t.Errorf("zone %s: the station has %+v", id, line)
		}
		if s.Senses(id) == "" {
			t.Errorf("zone %s has no sense", id)
		}
	}
	for _, id := range site.SortedIDs(s.Devices) {
		d := s.Devices[id]
		if d.Identity == "" {
			continue
		}
		if other, twice := identities[d.Identity]; twice {
			t.Errorf("%s and %s share %s", other, id, d.Identity)
		}
		identities[d.Identity] = id
		if v := site.CheckIdentity(d.Identity); !v.Good || v.Family != s.DeviceFamily(id) {
			t.Errorf("%s: %s: %+v", id, d.Identity, v)
		}
	}
	placesAreInTheirRooms(t, s)
	bridge := s.Devices["bridge"]
	p, _ := bridge.At.Point()
	q, _ := s.Heads[bridge.Beside].At.Point()
	if d := p.Distance(q); d > 1 || bridge.Room != s.Heads[bridge.Beside].Room {
		t.Errorf("the bridge is %.2f m from %s", d, bridge.Beside)
	}
}

func placesAreInTheirRooms(t *testing.T, s *site.Site) {
	t.Helper()
	check := func(what string, room site.RoomID, at site.Coordinates) {
		if p, ok := at.Point(); ok && room != "" && !s.Rooms[room].Outline.Polygon().Contains(p) {
			t.Errorf("%s is not in %s", what, room)
		}
		floor := s.Storeys[s.Rooms[room].Storey].Level
		ceiling, _ := s.Ceiling(room)
		if z, ok := at.Height(); ok && room != "" && (z < floor.SI() || z > floor.SI()+ceiling+geom.Near) {
			t.Errorf("%s at %v m is not between floor and ceiling of %s", what, z, room)
		}
	}
	for id, d := range s.Devices {
		check(string(id), d.Room, d.At)
	}
	for id, h := range s.Heads {
		check(string(id), h.Room, h.At)
	}
	for id, o := range s.Openings {
		p, _ := o.At.Point()
		onWall := o.Kind == "stair"
		for _, w := range s.Walls {
			a, _ := w.From.Point()
			b, _ := w.To.Point()
			onWall = onWall || w.Storey == o.Storey && (geom.Segment{A: a, B: b}).Distance(p) <= geom.Near
		}
		if !onWall {
			t.Errorf("opening %s is in no wall", id)
		}
		for _, r := range o.Rooms {
			if !s.Rooms[r].Outline.Polygon().Contains(p) {
				t.Errorf("opening %s does not touch room %s", id, r)
			}
		}
	}
}

// The facts of the draft that its checkers are held to, taken from the scenario's tables.
func TestTheDraftHasItsFaults(t *testing.T) {
	s := read(t, demo.Draft)
	placesAreInTheirRooms(t, s)
	z, d := s.Zones, s.Devices
	for fault, planted := range map[string]bool{
		"1 mains pattern on a burglary kind":  z["09"].Kind == site.AlwaysLoud,
		"2 CO pattern sent as fire":           z["10"].Kind == site.Smoke && z["10"].Code == "111",
		"3 no CO head in the group":           s.Heads["C1"].Group == "" && !slices.ContainsFunc(s.HeadsOf("M"), func(h site.HeadID) bool { return strings.Contains(s.Heads[h].Kind, "co") }),
		"4 misread identity":                  d["hall-smoke"].Identity == "SD002743",
		"5 one identity twice":                d["boiler-co"].Identity == "CO001390" && d["wheel-hatch"].Identity == "CO001390",
		"6 heat may be bypassed":              z["14"].Bypass,
		"7 fire zone never missed":            z["15"].LossWindow == "never",
		"8 heat zone rings at the door":       z["16"].DoorTone,
		"9 verification on a call point":      z["18"].Kind == site.SmokeVerified && z["18"].Code == "115",
		"10 wrong area, facing the wheel":     z["23"].Area == "3" && d["wheel-room-motion"].Faces == "G7" && slices.Contains(s.Rooms["G7"].Hazards, "machine"),
		"11 water sent as fire":               z["24"].Code == "111",
		"13 sleeping room without smoke":      s.Rooms["F7"].Sleeping,
		"14 head past ten years, one due":     s.Heads["M9"].Made.String() == "2015-03" && s.Heads["M2"].Made.String() == "2017-06",
		"15 abort window and limit on all":    slices.Contains(s.Settings.AbortWindow.Applies, "fire") && slices.Contains(s.Settings.TripLimit.Applies, "co") && s.Settings.ExitDelay.SI() == 30,
		"16 battery too small":                s.Power.Battery.SI() == 7 && s.Power.AlarmTime.SI() == 240 && s.Settings.FireSounder.SI() == 480,
		"17 station list differs":             s.Station.ZoneList["16"].Label == "Kitchen door, burglary" && s.Station.ZoneList["25"].Label == "",
		"18 second contact not of use":        s.Contacts["2"].Passcode == "none" && s.ContactPhone("2") == s.ContactPhone("1"),
		"19 bridge behind a door":             d["bridge"].Room == "F6" && s.Heads["M4"].Room == "F1",
		"20 stove and panel without detector": slices.Contains(s.Rooms["G4"].Hazards, "wood-stove") && s.Panel.Room == "G6",
		"21 one label twice":                  z["09"].Label == z["11"].Label,
		"22 words that the panel can not say": z["04"].Label == "Escape door up" && z["10"].Label == "Mains alarms CO",
	} {
		if !planted {
			t.Errorf("fault %s is not there", fault)
		}
	}
	if telling := regexp.MustCompile(`(?i)fault|wrong|mistake|should|TODO|bug|planted`).Find(demo.Draft); telling != nil {
		t.Errorf("the draft says %q", telling)
	}
}

func TestAddMonths(t *testing.T) {
	for _, c := range []struct {
		from   string
		months int
		want   string
	}{
		{"2019-04", 120, "2029-04"},
		{"2017", 120, "2027"},
		{"2026-01-31", 1, "2026-02-28"},  // February has no 31st
		{"2024-02-29", 12, "2025-02-28"}, // nor a 29th in 2025
		{"2024-02-29", 48, "2028-02-29"},
		{"2026-08-31", 6, "2027-02-28"},
		{"2026-12-31", -1, "2026-11-30"},
		{"2026-11", 3, "2027-02"},
		{"2020", 18, "2021-07"}, // 1 January 2020 and a year and a half
		{"", 12, ""},
	} {
		var from site.Date
		if c.from != "" {
			var err error
			if from, err = site.ParseDate(c.from); err != nil {
				t.Fatal(err)
			}
		}
		if got := from.AddMonths(c.months).String(); got != c.want {
			t.Errorf("%s and %d months: %s, want %s", c.from, c.months, got, c.want)
		}
	}
}

func TestStickers(t *testing.T) {
	for text, want := range map[string]string{
		"sticker: 7K2M-Q4XP\n":  "",
		"sticker: 7K2M-Q4XO\n":  "not a token",
		"sticker: front door\n": "not a token",
		"sticker: 7K2M-Q4XP\ndevices:\n  a: {sticker: 7K2M-Q4XP}\n": "already",
	} {
		_, err := site.DecodeYAML("site.yaml", []byte(text))
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestTokensAsTyped(t *testing.T) {
	for typed, want := range map[string]site.Token{
		"7K2M-Q4XP": "7K2M-Q4XP", "7k2mq4xp": "7K2M-Q4XP", " 7k2m q4xp ": "7K2M-Q4XP", "o1l2-i345": "0112-1345",
		"7K2M-Q4X": "", "7K2M-Q4XPP": "", "7K2M-Q4X!": "", "UUUU-UUUU": "", "": "", "ßßßß": "",
	} {
		if got, ok := site.ParseToken(typed); ok != (want != "") || ok && got != want {
			t.Errorf("%q: %s, %v", typed, got, ok)
		}
	}
	s := read(t, []byte("sticker: AAAA-0001\ndevices:\n  hall: {sticker: AAAA-0002}\nheads:\n  M1: {kind: smoke, sticker: AAAA-0003}\n"))
	for token, want := range map[site.Token]string{"AAAA-0001": "", "AAAA-0002": "/devices/hall", "AAAA-0003": "/heads/M1"} {
		if about, ok := s.Stuck(token); !ok || about != want {
			t.Errorf("%s is on %q, %v", token, about, ok)
		}
	}
	for _, token := range []site.Token{"AAAA-0004", ""} {
		if about, ok := s.Stuck(token); ok {
			t.Errorf("%q is on %q", token, about)
		}
	}
}

// Whatever is typed: what is taken as a token is one, and reads as itself.
func FuzzParseToken(f *testing.F) {
	for _, typed := range []string{"7K2M-Q4XP", "o1l2i345", "", "----", "ſſſſſſſſ", "ﬁﬁﬁﬁ"} {
		f.Add(typed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		token, ok := site.ParseToken(typed)
		if again, still := site.ParseToken(string(token)); ok && (!still || again != token || len(token) != 9) {
			t.Errorf("%q gives %q, which reads as %q, %v", typed, token, again, still)
		}
	})
}
