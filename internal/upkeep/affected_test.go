package upkeep

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/internal/prove"
	"proofbell/site"
)

// after edits the practice building: 31 devices with zones of their own and one bridge are 32 devices.
func after(t testing.TB, edit func(*site.Site)) (before, now *site.Site) {
	t.Helper()
	before, now = readSite(t, string(demo.Corrected)), readSite(t, string(demo.Corrected))
	edit(now)
	return before, now
}

func ids(list []Obliged) []string {
	var out []string
	for _, o := range list {
		out = append(out, string(o.Step))
	}
	slices.SortFunc(out, site.NaturalOrder)
	return out
}

// sampled counts the devices of the share: the bridge is one, though several alarms trip it.
func sampled(r Reproof) int {
	devices := map[site.DeviceID]bool{}
	for _, o := range r.Sample {
		devices[o.Device] = true
	}
	return len(devices)
}

func zone(s *site.Site, id site.ZoneID, change func(*site.Zone)) {
	z := s.Zones[id]
	change(&z)
	s.Zones[id] = z
}

func device(s *site.Site, id site.DeviceID, change func(*site.Device)) {
	d := s.Devices[id]
	change(&d)
	s.Devices[id] = d
}

func TestAffected(t *testing.T) {
	for _, c := range []struct {
		name   string
		edit   func(*site.Site)
		must   []string
		others int
		sample int // by hand
		says   string
	}{
		{"nothing", func(*site.Site) {}, nil, 32, 0, ""},
		{"notes and people", func(s *site.Site) {
			s.Premises.Notes = "new gate"
			s.People["vell"] = site.Person{Name: "Osric Vell", Phone: "555-0199"}
			zone(s, "13", func(z *site.Zone) { z.Notes, z.Keyed = "x", false })
		}, nil, 32, 0, ""},
		// One zone touched: 31 others, 3.1, up to 4.
		{"a code", func(s *site.Site) { zone(s, "13", func(z *site.Zone) { z.Code = "110" }) }, []string{"13.alarm"}, 31, 4, "Zone 13: another station code"},
		// The bridge's zone is tripped by the alarms that stand for the group: M2 on the ground floor, M8 upstairs.
		{"the bridge's zone", func(s *site.Site) { zone(s, "09", func(z *site.Zone) { z.Label = "Mains smoke" }) }, []string{"M2.press", "M8.press"}, 31, 4, "Zone 09: another label"},
		// Replaced without a change of the program: it, and nothing else.
		{"a detector replaced", func(s *site.Site) { device(s, "hall-smoke", func(d *site.Device) { d.Identity = "SD001111" }) }, []string{"12.alarm"}, 31, 0, "replaced"},
		{"a battery", func(s *site.Site) { device(s, "hall-smoke", func(d *site.Device) { d.Battery = date(t, "2029-08") }) }, []string{"12.alarm"}, 31, 0, "new battery"},
		// The alarm beside the bridge: itself, and what the bridge hears (M2, M8, and M12 for the CO pattern).
		{"the alarm beside the bridge", func(s *site.Site) {
			s.Heads["M4"] = with(s.Heads["M4"], func(h *site.Head) { h.Made = date(t, "2027-01") })
		}, []string{"M2.press", "M4.press", "M8.press", "M12.press"}, 31, 0, "Alarm M4 was replaced"},
		{"another alarm", func(s *site.Site) {
			s.Heads["M9"] = with(s.Heads["M9"], func(h *site.Head) { h.Made = date(t, "2027-01") })
		}, []string{"M9.press"}, 32, 0, "Alarm M9 was replaced"},
		// M9 is upstairs with M8; the group's alarms that stand for it at the station are M2, M8 and, for CO, M12. Never
		// proved, the first by name is the one.
		{"an alarm that stands alone now", func(s *site.Site) {
			s.Heads["M9"] = with(s.Heads["M9"], func(h *site.Head) { h.Group = "" })
		}, []string{"M2.press", "M9.press"}, 31, 0, "Alarm M9 left group"},
		{"an alarm replaced in another group", func(s *site.Site) {
			s.Groups["other"] = site.Group{Link: "wired"}
			s.Heads["M9"] = with(s.Heads["M9"], func(h *site.Head) { h.Group, h.Made = "other", date(t, "2027-01") })
		}, []string{"M2.press", "M9.press"}, 31, 0, "Alarm M9 was replaced; Alarm M9 left group"},
		{"a detector installed anew", func(s *site.Site) {
			device(s, "hall-smoke", func(d *site.Device) { d.Installed = date(t, "2027-01-10") })
		}, []string{"12.alarm"}, 31, 0, "replaced"},
		// Entry and exit 1: 01 front door, 19 workshop doors, 29 flat door; entry 2: 02. 28 others, 2.8, up to 3.
		{"the exit delay", func(s *site.Site) { s.Settings.ExitDelay = s.Settings.EntryDelay }, []string{"01.alarm", "02.alarm", "19.alarm", "29.alarm"}, 28, 3, "Exit delay"},
		{"the fire sounder", func(s *site.Site) { s.Settings.FireSounder = s.Settings.EntryDelay }, []string{"bell-box.sound", "sounder-hall.sound", "sounder-workshop.sound"}, 32, 4, "fire sounder"},
		{"the panel's battery", func(s *site.Site) { s.Power.BatteryDate = date(t, "2030-09") }, []string{"panel.battery", "panel.mains"}, 32, 0, "another battery"},
		{"a path", func(s *site.Site) {
			p := s.Account.Paths["backup"]
			p.Kind = "telephone"
			s.Account.Paths["backup"] = p
		}, []string{"path.backup"}, 32, 4, "Path"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before, now := after(t, c.edit)
			r := Affected(before, now, ladder(t), set(t), nil, nil)
			if got := ids(r.Must); !slices.Equal(got, c.must) {
				t.Errorf("obliged %v, want %v", got, c.must)
			}
			if r.Others != c.others {
				t.Errorf("%d others, want %d", r.Others, c.others)
			}
			if n := sampled(r); n != c.sample {
				t.Errorf("%d in the sample, want %d: %v", n, c.sample, ids(r.Sample))
			}
			for _, o := range slices.Concat(r.Must, r.Sample) {
				if len(o.Because) == 0 || o.Title == "" {
					t.Errorf("%s has no reason or name", o.Step)
				}
			}
			if !strings.Contains(strings.Join(r.Changes, "; "), c.says) {
				t.Errorf("changes: %v, want %q", r.Changes, c.says)
			}
		})
	}
}

func date(t testing.TB, text string) site.Date {
	t.Helper()
	d, err := site.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func with(h site.Head, change func(*site.Head)) site.Head {
	change(&h)
	return h
}

// Added: it, and, because its zone was keyed, 4 of the 32 others (3.2, up to 4). Removed: one other by radio, the longest
// untested, and 4 of the 30 that are left (32 - the removed one - the one obliged for it; 3.0 is 3).
func TestAddedAndRemoved(t *testing.T) {
	_, now := after(t, func(*site.Site) {})
	before, _ := after(t, func(*site.Site) {})
	before.Zones, before.Devices = without(before.Zones, "33"), without(before.Devices, now.Zones["33"].Device)
	r := Affected(before, now, ladder(t), set(t), nil, nil)
	if got := ids(r.Must); !slices.Equal(got, []string{"33.alarm"}) || len(r.Sample) == 0 || r.Others != 31 {
		t.Errorf("added: %v and %v of %d", got, ids(r.Sample), r.Others)
	}
	proofs := Proofs{}
	for _, st := range prove.Plan(before, ladder(t), prove.Options{}) {
		proofs[st.ID] = on(t, "2026-09-15")
	}
	proofs["20.alarm"] = on(t, "2026-01-02") // the longest untested
	proofs["21.alarm"] = on(t, "2026-01-03")
	r = Affected(now, before, ladder(t), set(t), proofs, nil)
	if got := ids(r.Must); !slices.Equal(got, []string{"20.alarm"}) || !strings.Contains(r.Must[0].Because[0], "removed") {
		t.Errorf("removed: %+v", r.Must)
	}
	// 31 devices are left, 20 is obliged: 30 others, 10 % is 3; 21 is the longest untested of them.
	if r.Others != 30 || len(r.Sample) != 3 || r.Sample[0].Step != "21.alarm" || r.Sample[0].Last != "2026-01-03" {
		t.Errorf("sample: %+v of %d", r.Sample, r.Others)
	}
}

func without[K comparable, V any](m map[K]V, key K) map[K]V {
	out := map[K]V{}
	for k, v := range m {
		if k != key {
			out[k] = v
		}
	}
	return out
}

// New firmware: 10 % of 32 is 3.2, up to 4, with one on each circuit: the key loop (30, the only one on it), one sounder
// of the sounders' circuit, one by radio.
func TestFirmware(t *testing.T) {
	before, now := after(t, func(s *site.Site) { s.Panel.Firmware = "3.2" })
	before.Panel.Firmware = "3.1"
	r := Affected(before, now, ladder(t), set(t), nil, nil)
	got := ids(r.Sample)
	sounders := slices.DeleteFunc(slices.Clone(got), func(id string) bool { return !strings.HasSuffix(id, ".sound") })
	if len(r.Must) != 0 || !slices.Contains(got, "30.alarm") || len(sounders) != 1 {
		t.Errorf("must %v, sample %v", ids(r.Must), got)
	}
	devices := map[site.DeviceID]bool{}
	for _, o := range r.Sample {
		if !strings.HasSuffix(string(o.Step), ".sound") {
			devices[o.Device] = true
		}
	}
	if len(devices) != 4 {
		t.Errorf("%d devices, want 4: %v", len(devices), got)
	}
}

// At most 50, however large the site: 600 contacts, one recoded, 599 others: 59.9 would be 60.
func TestAtMostFifty(t *testing.T) {
	big := func(code string) *site.Site {
		s := &site.Site{Format: site.Format, Models: map[site.ModelID]site.Model{"c": {Name: "Contact", Class: "contact", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: "opening"}}}}, Devices: map[site.DeviceID]site.Device{}, Zones: map[site.ZoneID]site.Zone{}}
		s.Account.Paths = map[site.PathID]site.Path{"main": {}}
		for i := 1; i <= 600; i++ {
			id := fmt.Sprintf("%03d", i)
			s.Devices[site.DeviceID("d"+id)] = site.Device{Model: "c"}
			s.Zones[site.ZoneID(id)] = site.Zone{Kind: site.Perimeter, Device: site.DeviceID("d" + id), Terminal: "A", Code: "131", Paths: []site.PathID{"main"}}
		}
		z := s.Zones["001"]
		z.Code = code
		s.Zones["001"] = z
		return s
	}
	r := Affected(big("131"), big("134"), nil, set(t), nil, nil)
	if len(r.Must) != 1 || r.Others != 599 || len(r.Sample) != 50 {
		t.Errorf("%d, %d of %d", len(r.Must), len(r.Sample), r.Others)
	}
}

// Any change of any zone's code is obliged by name, and the share is never fewer than a tenth, never more than 50, and
// never holds what is obliged anyway.
func TestAffectedNeverMisses(t *testing.T) {
	all := site.SortedIDs(readSite(t, string(demo.Corrected)).Zones)
	rapid.Check(t, func(rt *rapid.T) {
		chosen := rapid.SliceOfNDistinct(rapid.SampledFrom(all), 1, 20, rapid.ID[site.ZoneID]).Draw(rt, "zones")
		before, now := after(t, func(s *site.Site) {
			for _, id := range chosen {
				zone(s, id, func(z *site.Zone) { z.Bypass = !z.Bypass })
			}
		})
		r := Affected(before, now, ladder(t), set(t), nil, nil)
		must := map[site.DeviceID]bool{}
		for _, o := range r.Must {
			must[o.Device] = true
		}
		for _, id := range chosen {
			if !must[now.Zones[id].Device] {
				rt.Fatalf("zone %s was changed and is not obliged", id)
			}
		}
		sampled := map[site.DeviceID]bool{}
		for _, o := range r.Sample {
			if must[o.Device] {
				rt.Fatalf("%s is in both", o.Step)
			}
			sampled[o.Device] = true
		}
		if n := len(sampled); 10*n < r.Others || n > 50 || n > r.Others {
			rt.Fatalf("%d of %d others", n, r.Others)
		}
	})
}

// A later run discharges what it proved; what was changed again after it stands.
func TestOpen(t *testing.T) {
	base, changed := after(t, func(s *site.Site) {
		zone(s, "13", func(z *site.Zone) { z.Code = "110" })
		zone(s, "11", func(z *site.Zone) { z.Code = "110" })
	})
	first := Open(base, nil, changed, ladder(t), set(t), nil, nil)
	if got := ids(first.Must); !slices.Equal(got, []string{"11.alarm", "13.alarm"}) || sampled(first) != 3 { // 30 others
		t.Fatalf("before any run: %v, %v", got, ids(first.Sample))
	}
	// One of the two proved, none of the share.
	part := Baseline{Site: changed, Proved: []prove.StepID{"13.alarm"}}
	r := Open(base, []Baseline{part}, changed, ladder(t), set(t), nil, nil)
	if got := ids(r.Must); !slices.Equal(got, []string{"11.alarm"}) || sampled(r) != 3 {
		t.Errorf("after one: %v, %v", got, ids(r.Sample))
	}
	// All of it proved, then nothing is left.
	whole := Baseline{Site: changed, Proved: first.Steps()}
	if r := Open(base, []Baseline{part, whole}, changed, ladder(t), set(t), nil, nil); len(r.Must)+len(r.Sample) != 0 {
		t.Errorf("after all: %v, %v", ids(r.Must), ids(r.Sample))
	}
	// 13 changed once more: it comes back, and so does the share.
	_, again := after(t, func(s *site.Site) {
		zone(s, "13", func(z *site.Zone) { z.Code = "112" })
		zone(s, "11", func(z *site.Zone) { z.Code = "110" })
	})
	r = Open(base, []Baseline{part, whole}, again, ladder(t), set(t), nil, nil)
	if got := ids(r.Must); !slices.Equal(got, []string{"13.alarm"}) || len(r.Sample) == 0 {
		t.Errorf("changed again: %v, %v", got, ids(r.Sample))
	}
}
