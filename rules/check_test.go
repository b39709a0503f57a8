package rules

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/site"
)

func TestNoSite(t *testing.T) {
	if _, err := Check(nil, nil, demoDay); !errors.Is(err, ErrNoSite) {
		t.Errorf("got %v, want ErrNoSite", err)
	}
}

// A survey that has only begun must not shout: what is not known yet is said quietly.
func TestHalfFinishedSurveyIsQuiet(t *testing.T) {
	for name, text := range map[string]string{
		"nothing":            `{}`,
		"rooms by name":      `{"rooms":{"G1":{"name":"Hall"},"G2":{"name":"Kitchen"}}}`,
		"device without all": `{"models":{"s":{"name":"Smoke detector","class":"smoke","link":"radio","terminals":{"A":{"senses":"smoke"}}}},"devices":{"d":{"model":"s"}}}`,
		"heads without date": `{"heads":{"M1":{"kind":"smoke","group":"M"},"M2":{"kind":"heat","group":"M"}},"groups":{"M":{}}}`,
		"bridge and heads":   `{"models":{"b":{"name":"Bridge","class":"bridge","link":"radio","terminals":{"A":{"senses":"three-pulse"}}}},"devices":{"b":{"model":"b","hears":"M"}},"heads":{"M1":{"kind":"smoke","group":"M"}},"groups":{"M":{}}}`,
	} {
		s, err := site.DecodeJSON("survey.json", []byte(text))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		found := mustCheck(t, s)
		for _, f := range found {
			if !f.NotJudged {
				t.Errorf("%s: %s", name, printed(f))
			}
			if f.NotJudged && len(f.Missing) == 0 {
				t.Errorf("%s: %s does not say what it lacks", name, f.Rule)
			}
		}
	}
}

// Without a profile the panel's limits are not judged, and everything else is.
func TestWithoutProfile(t *testing.T) {
	found, err := Check(read(t, demo.Draft), nil, demoDay)
	if err != nil {
		t.Fatal(err)
	}
	for _, rule := range []string{"zone.panel", "zone.label.words"} {
		i := slices.IndexFunc(found, func(f Finding) bool { return f.Rule == rule })
		if i < 0 || !found[i].NotJudged || !slices.Contains(found[i].Missing, "panel profile") {
			t.Errorf("%s does not say that the panel profile is missing", rule)
		}
	}
	if !slices.ContainsFunc(found, func(f Finding) bool { return f.Rule == "zone.fire.window" }) {
		t.Error("the loss window of zone 15 needs no profile to be judged")
	}
}

func TestSameAnswerEveryTime(t *testing.T) {
	first := mustCheck(t, read(t, demo.Draft))
	for range 20 {
		if again := mustCheck(t, read(t, demo.Draft)); !reflect.DeepEqual(first, again) {
			t.Fatal("two checks of one site differ")
		}
	}
	if !slices.IsSortedFunc(first, func(a, b Finding) int {
		if a.NotJudged != b.NotJudged {
			if a.NotJudged {
				return 1
			}
			return -1
		}
		return severityOrder[a.Severity] - severityOrder[b.Severity]
	}) {
		t.Error("findings are not sorted: stops first, those not judged last")
	}
	keys := map[string]bool{}
	for _, f := range first {
		if keys[f.Key] {
			t.Errorf("two findings have the key %s", f.Key)
		}
		keys[f.Key] = true
	}
}

// Ages are judged on the day that is asked for, not on the day of the test.
func TestDay(t *testing.T) {
	s := read(t, demo.Corrected)
	passed := func(on string) bool {
		day, err := time.Parse(time.DateOnly, on)
		if err != nil {
			t.Fatal(err)
		}
		found, err := Check(s, ladder(t), day)
		if err != nil {
			t.Fatal(err)
		}
		return slices.ContainsFunc(found, func(f Finding) bool { return f.Rule == "age.head.passed" && f.Places[0].ID == "M2" })
	}
	// M2 was made 2017-06: the first of June counts, so its ten years end on 2027-06-01.
	if passed("2027-05-31") || !passed("2027-06-01") {
		t.Error("M2, made 2017-06, is past its ten years from 2027-06-01 on and not before")
	}
}

func TestMerge(t *testing.T) {
	s := read(t, demo.Draft)
	found := mustCheck(t, s)
	i := slices.IndexFunc(found, func(f Finding) bool { return f.Rule == "power.battery" })
	accepted := Acceptance{Key: found[i].Key, Reason: "cabinet holds no larger one; owner signed", By: "okoro-lind", At: "2026-09-15T10:00:00Z"}
	merged := Merge(found, []Acceptance{
		accepted,
		{Key: found[0].Key, Reason: "", By: "okoro-lind"}, // no reason: covers nothing
		{Key: found[1].Key, Reason: "because", By: ""},    // no name: covers nothing
		{Key: "zone.fire.bypass:0000000000000000", Reason: "gone", By: "okoro-lind"},
	})
	if len(merged) != len(found) {
		t.Fatalf("%d findings became %d: none is hidden", len(found), len(merged))
	}
	for j, f := range merged {
		if (f.Accepted != nil) != (i == j) {
			t.Errorf("%s: accepted %v", f.Rule, f.Accepted)
		}
		if found[j].Accepted != nil {
			t.Error("Merge changed what it was given")
		}
	}
	if *merged[i].Accepted != accepted {
		t.Errorf("got %+v", *merged[i].Accepted)
	}
	before, after := Count(found), Count(merged)
	if after.Accepted != 1 || after.Fix != before.Fix-1 || after.Stop != before.Stop {
		t.Errorf("counted %+v, then %+v", before, after)
	}

	// Taken back: the last word of a key counts.
	for _, f := range Merge(found, []Acceptance{accepted, {Key: accepted.Key, By: "okoro-lind"}}) {
		if f.Accepted != nil {
			t.Error("an acceptance that was taken back still covers")
		}
	}

	// The battery becomes smaller still: the acceptance does not cover that.
	worse, _ := patched(t, encoded(t, s), `{"power":{"battery":"4.0 Ah"}}`)
	for _, f := range Merge(mustCheck(t, worse), []Acceptance{accepted}) {
		if f.Rule == "power.battery" && f.Accepted != nil {
			t.Error("an acceptance covers a fault that has changed")
		}
	}
	// A wording elsewhere changes: the acceptance still holds.
	same, _ := patched(t, encoded(t, s), `{"power":{"batteryDate":"2026-09-09"},"name":"Mill"}`)
	if !slices.ContainsFunc(Merge(mustCheck(t, same), []Acceptance{accepted}), func(f Finding) bool { return f.Accepted != nil }) {
		t.Error("an acceptance is lost though its fault is the same")
	}
}

// The JSON of a finding is a contract with the page and the command line.
func TestFindingJSON(t *testing.T) {
	found := mustCheck(t, read(t, demo.Draft))
	i := slices.IndexFunc(found, func(f Finding) bool { return f.Rule == "zone.fire.bypass" })
	raw, err := json.Marshal(found[i])
	if err != nil {
		t.Fatal(err)
	}
	want := `{"rule":"zone.fire.bypass","severity":"stop","who":"desk","where":"Zone 14 Workshop heat, bypass",` +
		`"say":"Users may leave this \"Heat\" zone out. A life-safety zone must not be bypassed: it would then tell nobody, and stay out until someone thinks of it.",` +
		`"do":"Do not allow it.","clause":{"document":"general practice","confidence":"M"},"places":[{"kind":"zone","id":"14"}],` +
		`"at":{"storey":"ground","x":22.5,"y":3},"patch":{"zones":{"14":{"bypass":false}}},"patchSay":"bypass: yes -\u003e no","key":"` + found[i].Key + `"}`
	if string(raw) != want {
		t.Errorf("got  %s\nwant %s", raw, want)
	}
}

// The worst place of a ceiling is found: the grid is held against an exact answer for rectangles with one detector, where
// the farthest point is a corner.
func TestCoverageOfRectangles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.Float64Range(2, 40).Draw(t, "width"), rapid.Float64Range(2, 40).Draw(t, "height")
		x, y := rapid.Float64Range(0, 1).Draw(t, "x")*w, rapid.Float64Range(0, 1).Draw(t, "y")*h
		far := 0.0
		for _, c := range [][2]float64{{0, 0}, {w, 0}, {0, h}, {w, h}} {
			far = max(far, (c[0]-x)*(c[0]-x)+(c[1]-y)*(c[1]-y))
		}
		text := fmt.Sprintf(`{"storeys":{"g":{"name":"Ground"}},"rooms":{"R":{"name":"Hall","storey":"g","outline":[[0,0],[%.6f,0],[%.6f,%.6f],[0,%.6f]]}},`+
			`"heads":{"M1":{"kind":"smoke","room":"R","at":[%.6f,%.6f],"made":"2026-01"}}}`, w, w, h, h, x, y)
		s, err := site.DecodeJSON("room.json", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		found, err := Check(s, nil, demoDay)
		if err != nil {
			t.Fatal(err)
		}
		said := slices.ContainsFunc(found, func(f Finding) bool { return f.Rule == "smoke.coverage" && !f.NotJudged })
		switch {
		case far > 6.46*6.46 && !said:
			t.Fatalf("a corner is farther than 6.4 m and nobody says so: %s", text)
		case far < 6.44*6.44 && said:
			t.Fatalf("no point is farther than 6.4 m, but one is reported: %s", text)
		}
	})
}

// big makes a site with many devices: rooms in a row on several storeys, ten devices and a head in each.
func big(devices int) *site.Site {
	var b strings.Builder
	perRoom, rooms := 10, devices/10
	var roomText, openText, deviceText, zoneText, headText, listText []string
	random := rand.New(rand.NewPCG(1, 2))
	senses := []string{"smoke", "contact", "motion", "contact", "contact", "motion", "water", "contact", "smoke", "contact"}
	for r := range rooms {
		storey, x := r/50, float64(r%50)*5
		roomText = append(roomText, fmt.Sprintf(`"R%d":{"name":"Room %d","storey":"s%d","outline":[[%g,0],[%g,0],[%g,6],[%g,6]],"use":"bedroom","sleeping":%v}`, r, r, storey, x, x+5, x+5, x, r%2 == 0))
		if r%50 > 0 {
			openText = append(openText, fmt.Sprintf(`"o%d":{"kind":"door","storey":"s%d","at":[%g,3],"rooms":["R%d","R%d"]}`, r, storey, x, r-1, r))
		}
		headText = append(headText, fmt.Sprintf(`"M%d":{"kind":"smoke","group":"g%d","room":"R%d","at":[%g,3],"made":"2019-04"}`, r, r/15, r, x+2.5))
		for k := range perRoom {
			n := r*perRoom + k
			model := senses[k]
			deviceText = append(deviceText, fmt.Sprintf(`"d%d":{"model":%q,"identity":"SD%06d","room":"R%d","at":[%.2f,%.2f],"made":"2026-01","battery":"2026-01"}`, n, model, n, r, x+random.Float64()*5, random.Float64()*6))
			kind, code := map[string]string{"smoke": "smoke", "contact": "perimeter", "motion": "inside", "water": "water"}[model], map[string]string{"smoke": "111", "contact": "131", "motion": "132", "water": "154"}[model]
			zoneText = append(zoneText, fmt.Sprintf(`"%d":{"label":"Room %d %d","kind":%q,"area":"%d","device":"d%d","terminal":"A","code":%q,"paths":["main"],"lossWindow":"200 s"}`, n+1, r, k, kind, 1+storey%4, n, code))
			listText = append(listText, fmt.Sprintf(`"%d":{"label":"Room %d %d"}`, n+1, r, k))
		}
	}
	var storeys, groups []string
	for i := range rooms/50 + 1 {
		storeys = append(storeys, fmt.Sprintf(`"s%d":{"name":"Storey %d","order":%d}`, i, i, min(i, 90)))
	}
	for i := range rooms/15 + 1 {
		groups = append(groups, fmt.Sprintf(`"g%d":{"link":"wired"}`, i))
	}
	models := `"smoke":{"name":"Smoke","class":"smoke","link":"radio","family":"SD","terminals":{"A":{"senses":"smoke"}},"reports":"60 s","batteryLife":"3 y"},` +
		`"contact":{"name":"Contact","class":"contact","link":"radio","terminals":{"A":{"senses":"opening"}},"reports":"60 s"},` +
		`"motion":{"name":"Motion","class":"motion","link":"radio","terminals":{"A":{"senses":"motion"}},"reports":"60 s"},` +
		`"water":{"name":"Water","class":"water","link":"radio","terminals":{"A":{"senses":"water"}},"reports":"60 s"}`
	fmt.Fprintf(&b, `{"account":{"paths":{"main":{"kind":"internet"}}},"storeys":{%s},"rooms":{%s},"openings":{%s},"models":{%s},"devices":{%s},"heads":{%s},"groups":{%s},"areas":{"1":{"name":"A"},"2":{"name":"B"},"3":{"name":"C"},"4":{"name":"D"}},"zones":{%s},"station":{"zoneList":{%s}}}`,
		strings.Join(storeys, ","), strings.Join(roomText, ","), strings.Join(openText, ","), models, strings.Join(deviceText, ","), strings.Join(headText, ","), strings.Join(groups, ","), strings.Join(zoneText, ","), strings.Join(listText, ","))
	s, err := site.DecodeJSON("big.json", []byte(b.String()))
	if err != nil {
		panic(err)
	}
	return s
}

// Work grows with the site, not with its square: four times the devices, far less than sixteen times the allocations.
func TestWorkGrowsWithTheSite(t *testing.T) {
	profile := ladder(t)
	allocations := func(devices int) float64 {
		s := big(devices)
		return testing.AllocsPerRun(1, func() {
			if _, err := Check(s, profile, demoDay); err != nil {
				t.Fatal(err)
			}
		})
	}
	small, large := allocations(500), allocations(2000)
	if large > 6*small {
		t.Errorf("500 devices take %.0f allocations, 2000 take %.0f: more than 6 times as many", small, large)
	}
}

func BenchmarkCheck5000(b *testing.B) {
	s, profile := big(5000), ladder(b)
	for b.Loop() {
		if _, err := Check(s, profile, demoDay); err != nil {
			b.Fatal(err)
		}
	}
}

// FuzzCheck changes the demo by arbitrary merge patches: whatever can be decoded can be checked, and twice the same.
func FuzzCheck(f *testing.F) {
	base := encoded(f, read(f, demo.Corrected))
	profile := ladder(f)
	for _, m := range mutations {
		f.Add([]byte(m.patch))
	}
	f.Add([]byte(`{"rooms":{"F1":{"outline":[[0,0],[1e3,0]]}},"heads":{"M4":{"at":[1]}},"devices":{"bridge":{"at":[]}}}`))
	f.Add([]byte(`{"models":{"bridge":{"listens":null}},"power":{"restLoad":"9999999999999999999 A"},"heads":{"M4":{"life":"99999999999999 y"}}}`))
	f.Add([]byte(`{"rooms":{"F1":{"outline":[["9999999999999999999 m",0],[0,"-99999999999999999999 m"],[1,1]]}}}`))
	f.Fuzz(func(t *testing.T, patch []byte) {
		text, err := site.Apply(base, site.Patch(patch))
		if err != nil {
			return
		}
		s, err := site.DecodeJSON("fuzz.json", text)
		if err != nil {
			return
		}
		first, err := Check(s, profile, demoDay)
		if err != nil {
			t.Fatal(err)
		}
		for _, finding := range first {
			if finding.Where == "" || finding.Say == "" || finding.Do == "" || finding.Key == "" {
				t.Errorf("%s says too little: %+v", finding.Rule, finding)
			}
			if _, err := json.Marshal(finding); err != nil {
				t.Errorf("%s can not be written: %v", finding.Rule, err)
			}
		}
		if again, _ := Check(s, nil, demoDay); len(again) == 0 && len(first) > 0 {
			t.Error("without a profile everything is gone")
		}
	})
}

// A model made from a class alone names no terminal: what its class senses counts, and nothing else does. Once terminals
// are named they alone count.
func TestBareModelSensesByClass(t *testing.T) {
	contact := map[string]site.Terminal{"B": {Senses: site.SensesContact}}
	for _, one := range []struct {
		model site.Model
		sense string
		want  bool
	}{
		{site.Model{Class: "smoke"}, site.SensesSmoke, true},
		{site.Model{Class: "smoke"}, site.SensesCO, false},
		{site.Model{Class: "co"}, site.SensesCO, true},
		{site.Model{Class: "smoke", Terminals: contact}, site.SensesSmoke, false},
	} {
		if got := one.model.Detects(one.sense); got != one.want {
			t.Errorf("%+v senses %s: %v", one.model, one.sense, got)
		}
	}
}
