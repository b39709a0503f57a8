package book

import (
	"testing"

	"proofbell/evidence"
	"proofbell/site"
)

func TestRoles(t *testing.T) {
	s := roleState()
	for _, one := range []struct {
		name          string
		kind          evidence.Kind
		body, private string
		helper        bool
	}{
		{"tick", evidence.KindTick, `{}`, "", true},
		{"note", evidence.KindNote, `{}`, `{"text":"x"}`, true},
		{"photo", evidence.KindBlob, `{}`, "", true},
		{"reading", evidence.KindReading, `{}`, "", true},
		{"put back", evidence.KindPutback, `{}`, "", true},
		{"off test", evidence.KindOnTest, `{"act":"off-test"}`, "", false},
		{"close the run", evidence.KindRun, `{"act":"closed"}`, "", false},
		{"read back", evidence.KindReadback, `{}`, "", false},
		{"accept", evidence.KindAccept, `{}`, "", false},
		{"issue", evidence.KindIssued, `{}`, "", false},
		{"sign", evidence.KindSign, `{}`, "", false},
		{"show a secret", evidence.KindReveal, `{}`, "", false},
		{"destroy the key", evidence.KindKey, `{"act":"erased"}`, "", false},
		{"a kind that is not known yet", "later", `{}`, "", false},
		{"edit a zone", evidence.KindEdit, `{"patch":{"zones":{"09":{"kind":"smoke"}}}}`, "", false},
		{"name a person", evidence.KindEdit, `{"patch":{}}`, `{"patch":{"people":{"p-1":{"name":"A"}}}}`, true},
		{"name a person and a zone", evidence.KindEdit, `{"patch":{"zones":{}}}`, `{"patch":{"people":{"p-1":{"name":"A"}}}}`, false},
		{"name a person and a contact", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-1":{"name":"A"}},"contacts":null}}`, false},
		{"take a person out", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-1":null}}}`, false},
		{"take out all people", evidence.KindEdit, `{}`, `{"patch":{"people":null}}`, false},
		{"write over another person", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-8":{"name":"A"}}}}`, false},
		{"correct one's own name", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-9":{"name":"A","firm":"B","role":"technician","languages":["de"]}}}}`, true},
		{"a person with a telephone", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-1":{"name":"A","phone":"1"}}}}`, false},
		{"a person without a name", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-1":{"firm":"A"}}}}`, false},
		{"a member taken out", evidence.KindEdit, `{}`, `{"patch":{"people":{"p-9":{"name":"A","firm":null}}}}`, false},
		{"take back one's own tick", evidence.KindTick, `{"what":"withdrawn","of":"tick-9"}`, "", true},
		{"take back another's tick", evidence.KindTick, `{"what":"withdrawn","of":"tick-8"}`, "", false},
		{"take back a tick not known yet", evidence.KindTick, `{"what":"withdrawn","of":"tick-7"}`, "", false},
		{"withdraw one's own photo", evidence.KindBlob, `{"address":"own","about":"/heads/M1","withdrawn":true}`, "", true},
		{"withdraw another's photo", evidence.KindBlob, `{"address":"other","about":"/heads/M1","withdrawn":true}`, "", false},
		{"take back what the station said", evidence.KindReadback, `{"takes":["tick-9"]}`, "", false},
		{"undo", evidence.KindEdit, `{"undo":"x"}`, `{"patch":{"people":{"p-1":{"name":"A"}}}}`, false},
		{"a patch that is none", evidence.KindEdit, `{"patch":3}`, `{"patch":{"people":{"p-1":{"name":"A"}}}}`, false},
		{"nothing that can be opened", evidence.KindEdit, `{}`, "", false},
	} {
		if why := Helper.May(s, "p-9", one.kind, []byte(one.body), []byte(one.private)); (why == "") != one.helper {
			t.Errorf("%s: a helper is told %q", one.name, why)
		}
		if why := Lead.May(s, "p-9", one.kind, []byte(one.body), []byte(one.private)); why != "" {
			t.Errorf("%s: the lead is told %q", one.name, why)
		}
		if why := Role("").May(s, "p-9", one.kind, []byte(one.body), []byte(one.private)); why == "" {
			t.Errorf("%s: nobody in particular may", one.name)
		}
	}
}

// roleState is a job with two people, p-8 and p-9, of whom each ticked and photographed once.
func roleState() *State {
	s := New("job")
	s.Site.People = map[site.PersonID]site.Person{"p-8": {Name: "Ann"}, "p-9": {Name: "Bo"}}
	s.Blobs = []Blob{{Address: "own", About: "/heads/M1", By: "p-9"}, {Address: "other", About: "/heads/M1", By: "p-8"}}
	s.Log = []Line{{ID: "tick-8", By: "p-8", Kind: evidence.KindTick}, {ID: "tick-9", By: "p-9", Kind: evidence.KindTick}}
	return s
}
