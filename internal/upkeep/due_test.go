package upkeep

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/internal/prove"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

func readSite(t testing.TB, text string) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("site.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func set(t testing.TB) *rules.Set {
	t.Helper()
	s, _, err := rules.SetOf(site.RuleSetRef{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func ladder(t testing.TB) *panel.Profile {
	t.Helper()
	p, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func on(t testing.TB, text string) time.Time {
	t.Helper()
	d, err := time.Parse(time.DateOnly, text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func items(l List) map[string]Item {
	out := map[string]Item{}
	for _, r := range l.Rounds {
		for _, it := range r.Items {
			out[it.ID] = it
		}
	}
	return out
}

// Lives and batteries on 15 September 2026, looking 12 months ahead, to 15 September 2027. Sums by hand:
//
//	S1 smoke, made 2016-10:     and 10 years 2026-10, first day 1 October 2026: within the year
//	S2 smoke, made 2016-09-15:  2026-09-15, today: over
//	S3 smoke, made 2016-02-29:  2026 has no 29 February: 2026-02-28: over
//	S4 smoke, made 2017-09-16:  2027-09-16, a day past the year: later
//	S5 smoke, no date:          nobody can say
//	K1 CO, made 2019-10:        7 to 10 years: 2026-10 to 2029-10: within the year
//	K2 CO, 7 years of its own, made 2022-02: 2029-02: later
//	d1, d2 contacts, 5 years, fitted 2022-03: 2027-03; d3 fitted 2021-09: 2026-09, first day 1 September: over
//	panel battery, dated 2022-08: 4 to 5 years: 2026-08 to 2027-08: over
func TestDue(t *testing.T) {
	s := readSite(t, `
power: {battery: 7 Ah, batteryDate: "2022-08"}
storeys: {g: {name: Ground, level: 0 m}}
rooms: {R1: {name: Hall, storey: g}}
models:
  contact: {name: Door contact, class: contact, link: radio, terminals: {A: {senses: opening}}, batteryLife: 5 y}
  co: {name: CO detector, class: co, link: radio, terminals: {A: {senses: co}}}
devices:
  d1: {model: contact, room: R1, at: [1, 1, 2.1], battery: "2022-03"}
  d2: {model: contact, room: R1, at: [2, 1, 1.2], battery: "2022-03"}
  d3: {model: contact, room: R1, battery: "2021-09"}
  d4: {model: contact, room: R1}
  d5: {model: co, room: R1, made: "2017-01"}
heads:
  S1: {kind: smoke, room: R1, at: [1, 1, 2.6], made: "2016-10", power: mains-battery}
  S2: {kind: smoke, room: R1, made: "2016-09-15", power: mains}
  S3: {kind: smoke, room: R1, made: "2016-02-29", power: battery}
  S4: {kind: smoke, room: R1, made: "2017-09-16", power: mains}
  S5: {kind: smoke, room: R1, power: mains}
  K1: {kind: co, room: R1, made: "2019-10", power: mains}
  K2: {kind: co, room: R1, made: "2022-02", power: battery, life: 7 y}
`)
	l := Make(Input{Site: s, Set: set(t), On: on(t, "2026-09-15")})
	got := items(l)
	for id, want := range map[string]struct {
		due, until string
		state      State
		who        string
	}{
		"life.S1":         {"2026-10", "", Coming, ByElectrician},
		"life.S2":         {"2026-09-15", "", Overdue, ByElectrician},
		"life.S3":         {"2026-02-28", "", Overdue, ByTechnician},
		"life.S4":         {"2027-09-16", "", Later, ByElectrician},
		"date.life.S5":    {"", "", Unknown, ByTechnician},
		"life.K1":         {"2026-10", "2029-10", Coming, ByElectrician},
		"life.K2":         {"2029-02", "", Later, ByTechnician},
		"battery.d1":      {"2027-03", "", Coming, ByTechnician},
		"battery.d3":      {"2026-09", "", Overdue, ByTechnician},
		"date.battery.d4": {"", "", Unknown, ByTechnician},
		"life.d5":         {"2024-01", "2027-01", Overdue, ByTechnician},
		"panel-battery":   {"2026-08", "2027-08", Overdue, ByTechnician},
	} {
		it, ok := got[id]
		if !ok || it.Due != want.due || it.Until != want.until || it.State != want.state || it.Who != want.who {
			t.Errorf("%s: %q to %q, %s, %s (there %v), want %+v", id, it.Due, it.Until, it.State, it.Who, ok, want)
		}
		if it.Basis.Document == "" || it.BasisSay == "" || it.WhoSay == "" || it.Due != "" && it.Sure == "" {
			t.Errorf("%s names no basis, person or certainty: %+v", id, it)
		}
	}
	// One batch, one round: the two of 2022-03 together, apart from the one of 2021-09. 2.1 m needs a ladder, 1.2 m does not.
	i := slices.IndexFunc(l.Rounds, func(r Round) bool { return r.ID == "battery.contact.2022-03" })
	if i < 0 || len(l.Rounds[i].Items) != 2 || l.Rounds[i].Ladder != 1 || l.Rounds[i].Due != "2027-03" {
		t.Errorf("battery rounds: %+v", l.Rounds)
	}
	// Mains alarms whose time has come within the year are one round for the electrician.
	i = slices.IndexFunc(l.Rounds, func(r Round) bool { return r.ID == "life.electrician" })
	if i < 0 || len(l.Rounds[i].Items) != 3 || l.Rounds[i].State != Overdue || l.Rounds[i].Due != "2026-09-15" {
		t.Errorf("electrician's round: %+v", l.Rounds)
	}
	for i := 1; i < len(l.Rounds); i++ {
		if stateOrder[l.Rounds[i-1].State] > stateOrder[l.Rounds[i].State] {
			t.Errorf("%s (%s) stands before %s (%s)", l.Rounds[i-1].ID, l.Rounds[i-1].State, l.Rounds[i].ID, l.Rounds[i].State)
		}
	}
}

// The practice building has 31 devices with zones of their own and one bridge. Commissioned whole on 31 January 2026 with
// four visits a year: the first visit is on 30 April (April has 30 days), and 25 % of 32 is 8. The paths and the rest of
// the system are not due before the visit after: their year ends on 31 January 2027, the next visit is on 30 July.
func TestRotationOfTheMill(t *testing.T) {
	s := readSite(t, string(demo.Corrected))
	s.Care.VisitsAYear = 4
	proofs := Proofs{}
	commissioned := on(t, "2026-01-31")
	for _, st := range prove.Plan(s, ladder(t), prove.Options{}) {
		proofs[st.ID] = commissioned
	}
	proofs["13.alarm"] = on(t, "2025-12-01") // tested before the others: first to come
	l := Make(Input{Site: s, Profile: ladder(t), Set: set(t), On: on(t, "2026-03-01"), Proofs: proofs, LastVisit: commissioned.Add(15 * time.Hour)})
	if l.Visit != "2026-04-30" {
		t.Errorf("next visit %s", l.Visit)
	}
	i := slices.IndexFunc(l.Rounds, func(r Round) bool { return r.ID == "test" })
	if i < 0 {
		t.Fatal("no round of tests")
	}
	r := l.Rounds[i]
	tested := slices.DeleteFunc(slices.Clone(r.Items), func(it Item) bool { return it.Kind != KindTest })
	if len(tested) != 8 || len(r.Items) != 8 || !strings.Contains(r.Say, "8 of 32 devices") {
		t.Errorf("%d devices and %d items: %s", len(tested), len(r.Items), r.Say)
	}
	if !slices.Contains(r.Steps, prove.StepID("13.alarm")) {
		t.Errorf("the longest untested is not among %v", r.Steps)
	}
	// In the last quarter all that was proved on the day of commissioning has to come: by 31 January 2027.
	l = Make(Input{Site: s, Profile: ladder(t), Set: set(t), On: on(t, "2027-01-30"), Proofs: proofs, LastVisit: on(t, "2026-10-30")})
	i = slices.IndexFunc(l.Rounds, func(r Round) bool { return r.ID == "test" })
	if got := len(l.Rounds[i].Steps); got < 31+3+4+3 { // zones, followed alarms, mains, battery and two paths, sounders
		t.Errorf("only %d steps at the end of the year", got)
	}
}

func TestShares(t *testing.T) {
	l := &lister{Input: Input{Set: set(t)}}
	for visits, want := range map[int]int{1: 100, 2: 50, 4: 25, 3: 34, 12: 9} { // 100 / 3 = 33.3, 100 / 12 = 8.3
		if got := l.share(visits); got != want {
			t.Errorf("%d visits: %d %%, want %d", visits, got, want)
		}
	}
	for _, c := range []struct{ of, share, want int }{{0, 10, 0}, {1, 10, 1}, {9, 10, 1}, {10, 10, 1}, {11, 10, 2}, {29, 25, 8}, {5, 100, 5}, {5, 0, 1}} {
		if got := part(c.of, c.share); got != c.want {
			t.Errorf("%d %% of %d: %d, want %d", c.share, c.of, got, c.want)
		}
	}
}

// Whatever the devices and the visits: with visits on the planned days everything is tested within its year, and no visit
// tests fewer than the share.
func TestRotationCovers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "devices")
		visits := rapid.SampledFrom([]int{1, 2, 3, 4, 6, 12}).Draw(t, "visits a year")
		share := (100 + visits - 1) / visits
		begin := time.Date(2026, 1, 31, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 400).Draw(t, "day"))
		last := map[string]time.Time{}
		for i := range n { // tested at some time of the year before the first visit
			last[string(rune('a'+i%26))+string(rune('0'+i/26))] = begin.AddDate(0, 0, -rapid.IntRange(0, 200).Draw(t, "age"))
		}
		between := 12 / visits
		visit := begin
		for range 3 * visits {
			next := site.AddMonths(visit, between)
			var all []Tested
			for id, at := range last {
				all = append(all, Tested{id, at})
			}
			chosen := Choose(all, share, 12, visit, next)
			if 100*len(chosen) < share*n && len(chosen) < n {
				t.Fatalf("%d of %d is less than %d %%", len(chosen), n, share)
			}
			oldest := time.Time{}
			for _, c := range chosen {
				if c.Last.Before(oldest) {
					t.Fatal("not longest untested first")
				}
				oldest = c.Last
				last[c.ID] = visit
			}
			for id, at := range last {
				if site.AddMonths(at, 12).Before(next) {
					t.Fatalf("%s, tested %s, is over its year before the next visit on %s", id, at, next)
				}
			}
			visit = next
		}
	})
}

func TestListenerContactsAndSensitivity(t *testing.T) {
	s := readSite(t, string(demo.Corrected))
	in := Input{
		Site: s, Profile: ladder(t), Set: set(t), On: on(t, "2026-11-20"),
		Done:   map[string]time.Time{"listener.landing-bridge": time.Date(2026, 10, 31, 9, 0, 0, 0, time.UTC), "contacts": on(t, "2026-02-01")},
		Sensed: map[site.DeviceID]time.Time{"hall-smoke": on(t, "2026-10-01")},
		Proofs: Proofs{"14.alarm": on(t, "2026-10-01")},
	}
	got := items(Make(in))
	bridge := ""
	for id := range got {
		if strings.HasPrefix(id, "listener.") {
			bridge = id
		}
	}
	in.Done[bridge] = in.Done["listener.landing-bridge"]
	got = items(Make(in))
	for id, want := range map[string]string{
		bridge:                      "2026-11-30", // a month after 31 October: November has 30 days
		"contacts":                  "2027-02-01",
		"sensitivity.hall-smoke":    "2028-10-01", // measured: every other year
		"sensitivity.landing-smoke": "2027-09-09", // never: within a year of 2026-09-09
	} {
		if it, ok := got[id]; !ok || it.Due != want {
			t.Errorf("%s: due %q (there %v), want %s", id, it.Due, ok, want)
		}
	}
}

// What a button proved is no test of a smoke detector; of a self-contained alarm it is the test there is.
func TestGather(t *testing.T) {
	steps := []prove.Step{{ID: "13.alarm", Kind: prove.StepZone}, {ID: "M1.press", Kind: prove.StepHead}, {ID: "14.alarm", Kind: prove.StepZone}, {ID: "15.alarm", Kind: prove.StepZone}}
	results := []prove.StepResult{{Verdict: prove.Proved, Half: true}, {Verdict: prove.Proved, Half: true}, {Verdict: prove.ProvedLate}, {Verdict: prove.NotReceived}}
	at := time.Date(2026, 9, 15, 14, 0, 0, 0, time.UTC)
	closed := at.Add(time.Hour)
	p := Proofs{}
	Gather(p, steps, results, []prove.Tick{{Step: "M1.press", What: prove.Tripped, At: at}}, closed)
	if len(p) != 2 || !p["M1.press"].Equal(at) || !p["14.alarm"].Equal(closed) {
		t.Errorf("gathered %v", p)
	}
}
