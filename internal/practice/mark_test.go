package practice_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"proofbell/internal/practice"
	"proofbell/rules"
	"proofbell/site"
)

// worked is a site with three mistakes made by hand: zone 14 may be left out, an identity has two digits swapped, and the
// station's list lacks a line.
func worked(t *testing.T) (s *site.Site, key []string, marks func(...practice.Answer) practice.Marks) {
	t.Helper()
	sound, p := source(t)
	raw, err := site.EncodeJSON(sound)
	if err != nil {
		t.Fatal(err)
	}
	raw, err = site.Apply(raw, site.Patch(`{"zones":{"14":{"bypass":true}},"devices":{"hall-smoke":{"identity":"SD002743"}},"station":{"zoneList":{"25":null}}}`))
	if err != nil {
		t.Fatal(err)
	}
	if s, err = site.DecodeJSON("worked.json", raw); err != nil {
		t.Fatal(err)
	}
	for _, f := range found(t, s, p) {
		if slices.Contains([]string{"zone.fire.bypass", "zone.identity.check", "station.list"}, f.Rule) {
			key = append(key, f.Key)
		}
	}
	if len(key) != 3 {
		t.Fatalf("%d mistakes", len(key))
	}
	return s, key, func(named ...practice.Answer) practice.Marks {
		m, err := practice.Mark(nil, s, p, key, named, day)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
}

func at(kind, id, what string) practice.Answer {
	return practice.Answer{Place: rules.Place{Kind: kind, ID: id}, What: what}
}

func TestMarksWorkedByHand(t *testing.T) {
	_, _, marks := worked(t)
	for _, c := range []struct {
		name  string
		named []practice.Answer
		want  string // found missed wrong true
	}{
		{"nothing named", nil, "0 3 0 0"},
		{"all found", []practice.Answer{at("zone", "14", "bypass"), at("zone", "12", "identity"), at("station", "zoneList", "list")}, "3 0 0 0"},
		{"the line of the list is named by its zone", []practice.Answer{at("zone", "25", "list")}, "1 2 0 0"},
		{"right place, another fault", []practice.Answer{at("zone", "14", "tone")}, "0 3 1 0"},
		{"right fault, another place", []practice.Answer{at("zone", "13", "identity")}, "0 3 1 0"},
		{"named twice counts once", []practice.Answer{at("zone", "14", "bypass"), at("zone", "14", "bypass")}, "1 2 0 0"},
		{"the list named in two ways counts once", []practice.Answer{at("zone", "25", "list"), at("station", "zoneList", "list")}, "1 2 0 0"},
		{"true before, and planted by nobody: M2 is near its end", []practice.Answer{at("head", "M2", "age")}, "0 3 0 1"},
		{"the scenario's odd things are right", []practice.Answer{
			at("zone", "27", "window"), at("zone", "27", "silent"), at("zone", "28", "silent"), at("zone", "30", "code"), at("zone", "04", "tone"),
			at("group", "M", "many"), at("zone", "09", "twice"), at("zone", "10", "twice"), at("zone", "24", "bypass"), at("zone", "25", "bypass"),
		}, "0 3 10 0"},
	} {
		m := marks(c.named...)
		if got := fmt.Sprint(len(m.Found), len(m.Missed), len(m.Wrong), len(m.True)); got != c.want || m.Planted != 3 {
			t.Errorf("%s: %s, want %s: %+v", c.name, got, c.want, m)
		}
		for _, i := range slices.Concat(m.Found, m.Missed, m.Wrong, m.True) {
			if i.Say == "" || i.Where == "" {
				t.Errorf("%s: an item without a reason or place: %+v", c.name, i)
			}
		}
	}
}

// What looks odd and is right is told with its own reason.
func TestOddThingsHaveReasons(t *testing.T) {
	_, _, marks := worked(t)
	for _, c := range []struct {
		a    practice.Answer
		want string
	}{
		{at("zone", "27", "window"), "leaves the house"},
		{at("zone", "28", "silent"), "on purpose"},
		{at("zone", "30", "code"), "no alarm"},
		{at("zone", "04", "tone"), "what it is for"},
		{at("group", "M", "many"), "18 alarms"},
		{at("zone", "10", "twice"), "terminals differ"},
		{at("zone", "24", "bypass"), "Only life safety"},
		{at("zone", "16", "kind"), "Heat, not smoke"},
		{at("zone", "14", "kind"), "Something else is wrong at this place"},
	} {
		if m := marks(c.a); len(m.Wrong) != 1 || !strings.Contains(m.Wrong[0].Say, c.want) {
			t.Errorf("%v: %+v, want %q", c.a, m.Wrong, c.want)
		}
	}
}

// Whoever names what the rules name finds all of it, in every practice.
func TestEveryMistakeCanBeNamed(t *testing.T) {
	seeds := 30
	if testing.Short() {
		seeds = 6
	}
	s, p := source(t)
	for seed := range seeds {
		m, err := practice.Make(s, p, seed, 3, day)
		if err != nil {
			t.Fatal(err)
		}
		places := practice.Places(m.Site)
		var named []practice.Answer
		for _, f := range found(t, m.Site, p) {
			if !slices.Contains(m.Key, f.Key) {
				continue
			}
			var tries []practice.Answer // all at once: the first that finds it is kept
			for _, saying := range practice.Sayings {
				for _, at := range f.Places {
					if slices.ContainsFunc(places, func(p rules.Place) bool {
						return p == at || p.Kind == at.Kind && (at.Kind == "power" || at.Kind == "premises")
					}) {
						tries = append(tries, practice.Answer{Place: at, What: saying.ID})
					}
				}
			}
			one, err := practice.Mark(nil, m.Site, p, []string{f.Key}, tries, day)
			if err != nil {
				t.Fatal(err)
			}
			if len(one.Found) != 1 {
				t.Errorf("seed %d: %s at %v can not be named", seed, f.Rule, f.Places)
				continue
			}
			hit := one.Found[0]
			i := slices.IndexFunc(practice.Sayings, func(s practice.Saying) bool { return s.Say == hit.What })
			named = append(named, practice.Answer{Place: hit.Place, What: practice.Sayings[i].ID})
		}
		all, err := practice.Mark(nil, m.Site, p, m.Key, named, day)
		if err != nil {
			t.Fatal(err)
		}
		if len(all.Missed)+len(all.Wrong) > 0 || len(all.Found) != len(m.Key) {
			t.Errorf("seed %d: %d found, missed %v, wrong %v", seed, len(all.Found), all.Missed, all.Wrong)
		}
	}
}

func TestAnswersAreRead(t *testing.T) {
	s, _ := source(t)
	got, err := practice.ParseAnswers(s, "# mine\nzone 14 bypass\n\n  setting exitDelay time # short\n")
	if err != nil || !slices.Equal(got, []practice.Answer{at("zone", "14", "bypass"), at("setting", "exitDelay", "time")}) {
		t.Errorf("%v, %v", got, err)
	}
	for text, want := range map[string]string{
		"zone 14":             "1: 2 words",
		"\nzone 99 bypass":    `2: the site has no zone "99"`,
		"door 1 bypass":       `1: "door" is no kind of place`,
		"zone 14 nonsense":    "practice sayings",
		"zone 14 bypass tone": "1: 4 words",
	} {
		if _, err := practice.ParseAnswers(s, text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func FuzzAnswers(f *testing.F) {
	s, _ := source(f)
	f.Add("zone 14 bypass\n# x\nhead M1 age")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := practice.ParseAnswers(s, text)
		if err != nil {
			return
		}
		var lines []string
		for _, a := range got {
			lines = append(lines, a.Place.Kind+" "+a.Place.ID+" "+a.What)
		}
		again, err := practice.ParseAnswers(s, strings.Join(lines, "\n"))
		if err != nil || !slices.Equal(again, got) {
			t.Errorf("%q: %v, %v", text, again, err)
		}
	})
}
