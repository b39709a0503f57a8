package survey

import (
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

func of(all []Asks, who string) Asks {
	i := slices.IndexFunc(all, func(a Asks) bool { return a.Of == who })
	if i < 0 {
		return Asks{}
	}
	return all[i]
}

func TestQuestionsOfAnEmptyJob(t *testing.T) {
	all := Questions(nil, &site.Site{Format: site.Format, Name: "Ferry house"}, nil)
	if here := of(all, "here"); len(here.Lines) != 1 || !strings.Contains(here.Lines[0].Say, "Begin in the hall") {
		t.Errorf("on site: %+v", here)
	}
	want := "Ferry house: questions for the station\n\n1. What is the account number, and in which format are signals wanted (Contact ID or SIA)?\n2. Which number puts the account on test, and for how long at most?\n"
	if got := of(all, "station").Text; got != want {
		t.Errorf("the text for the station:\n%s", got)
	}
	if len(of(all, "authority").Lines)+len(of(all, "electrician").Lines) > 0 {
		t.Error("nothing is known yet that the authority or the electrician could be asked about")
	}
}

// The drafted mill asks what its file asks, and what it lacks: read off demo/larkwater-draft.yaml.
func TestQuestionsOfTheDraft(t *testing.T) {
	s, err := site.DecodeYAML("draft", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	all := Questions(nil, s, []rules.Finding{
		{NotJudged: true, Who: rules.Authority, Where: "Zone 12", Missing: []string{"whether verification is allowed"}, Places: []rules.Place{{Kind: "zone", ID: "12"}}},
		{NotJudged: true, Who: rules.OnSite, Where: "Radio margin", Missing: []string{"an engine"}}, // of no place: nothing to look up
	})
	for who, want := range map[string][]string{
		"owner":     {"Is there a written fire risk assessment for the sleeping guests?"},
		"station":   {"Does the station pass on a fire signal at once, or call the premises first?"},
		"authority": {"Which fire rules apply to four rooms let to paying guests, and does this household-style system meet them?", "Is a permit asked for an alarm system here, and what is its number?", "Zone 12: whether verification is allowed"},
	} {
		var got []string
		for _, line := range of(all, who).Lines {
			got = append(got, line.Say)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", who, got, want)
		}
		for _, private := range []string{"555-0131", "Millrace", "Thrane"} {
			if strings.Contains(of(all, who).Text, private) {
				t.Errorf("%s: the text holds %s", who, private)
			}
		}
	}
	s.Questions["risk-assessment"] = site.Question{Ask: "x", Of: "owner", Answer: "none"}
	if got := of(Questions(nil, s, nil), "owner").Lines; len(got) > 0 {
		t.Errorf("an answered question is asked again: %+v", got)
	}
	if got := of(Questions(words.In("de"), s, nil), "station").Title; got != "An die Leitstelle" {
		t.Errorf("in German: %q", got)
	}
}

func TestGuessUse(t *testing.T) {
	for name, want := range map[string]string{
		"Hall": "hall", "Kitchen": "kitchen", "Boiler room": "boiler", "Guest bathroom": "bathroom", "Breakfast room": "dining", "Küche": "kitchen",
		"Flur oben": "hall", "Owner's flat": "flat", "Upper landing": "corridor", "Room 4": "", "Wheel room": "",
	} {
		if got := GuessUse(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

func TestWalk(t *testing.T) {
	s := &site.Site{Rooms: map[site.RoomID]site.Room{"a": {Order: 2}, "b": {}, "c": {Order: 1}, "B2": {}, "d": {Order: 10}}}
	if got := Walk(s); !slices.Equal(got, []site.RoomID{"c", "a", "d", "B2", "b"}) {
		t.Errorf("%v", got)
	}
	if got := NextOrder(s); got != 11 {
		t.Errorf("the next is %d", got)
	}
}
