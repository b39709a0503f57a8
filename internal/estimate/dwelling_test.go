package estimate

import (
	"math"
	"strings"
	"testing"
)

// Two flats, each with a group of its own: by hand (above) the alarm of the hall arrives at the bed with 67.8 of 75 dBA, the one in the bedroom
// with more than 90. Where nothing is said of dwellings both have to be heard.
func TestAGroupIsJudgedInItsDwellings(t *testing.T) {
	two := strings.NewReplacer("heads:\n", "heads:\n  N1: {kind: smoke, group: N, room: B, at: [7, 2.5, 2.5], level: 85 dBA}\n", "groups: {M", "groups: {N: {link: wired}, M").Replace(twoRooms)
	in := func(hall, bedroom string) string {
		s := two
		if hall != "" {
			s = strings.Replace(s, "name: Hall,", "name: Hall, dwelling: "+hall+",", 1)
		}
		if bedroom != "" {
			s = strings.Replace(s, "name: Bedroom,", "name: Bedroom, dwelling: "+bedroom+",", 1)
		}
		return s
	}
	held678(t, siteOf(t, two), "nothing said")
	held678(t, siteOf(t, in("", "Flat 2")), "a hall common to all")
	held678(t, siteOf(t, in("Flat 1", "")), "a bedroom of no dwelling")
	held678(t, siteOf(t, in("Flat 1", "Flat 1")), "one dwelling")
	m := soundOf(siteOf(t, in("Flat 1", "Flat 2")), SoundOptions{})
	r := rowOf(t, m, "B", "1")
	if r.Verdict != Enough || r.Carries != "/heads/N1" {
		t.Errorf("two dwellings: %s by %s", r.Verdict, r.Carries)
	}
	if assumed, _ := m.Notes(nil); !strings.Contains(strings.Join(assumed, "|"), "for the local code") {
		t.Errorf("not told: %v", assumed)
	}
	// A CO alarm of the hall's group in the bedroom notices no fire; a smoke alarm there makes it a group of both dwellings.
	extra := func(kind string) string {
		return strings.Replace(in("Flat 1", "Flat 2"), "heads:\n", "heads:\n  M3: {kind: "+kind+", group: M, room: B, at: [9, 4, 2.5], level: 60 dBA}\n", 1)
	}
	if r := rowOf(t, soundOf(siteOf(t, extra("co")), SoundOptions{}), "B", "1"); r.Carries != "/heads/N1" {
		t.Errorf("CO: by %s", r.Carries)
	}
	if r := rowOf(t, soundOf(siteOf(t, extra("smoke")), SoundOptions{}), "B", "1"); r.Carries == "/heads/N1" || *r.Level > 75 {
		t.Errorf("smoke: %v by %s", *r.Level, r.Carries)
	}
	// A dwelling in which no group notices fires is judged by all of them, as if nothing were said.
	none := strings.NewReplacer("group: N, ", "group: M, ", "N: {link: wired}, ", "", "room: B, at: [7", "room: H, at: [1").Replace(in("Flat 1", "Flat 2"))
	if r := rowOf(t, soundOf(siteOf(t, none), SoundOptions{}), "B", "1"); r.Verdict != TooLittle || math.Abs(*r.Level-67.8) > 0.6 {
		t.Errorf("a dwelling without a group: %+v", r)
	}
}
