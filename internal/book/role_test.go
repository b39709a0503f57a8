package book

import (
	"testing"

	"proofbell/evidence"
)

func TestRoles(t *testing.T) {
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
		{"undo", evidence.KindEdit, `{"undo":"x"}`, `{"patch":{"people":{"p-1":{"name":"A"}}}}`, false},
		{"a patch that is none", evidence.KindEdit, `{"patch":3}`, `{"patch":{"people":{"p-1":{"name":"A"}}}}`, false},
		{"nothing that can be opened", evidence.KindEdit, `{}`, "", false},
	} {
		if why := Helper.May(one.kind, []byte(one.body), []byte(one.private)); (why == "") != one.helper {
			t.Errorf("%s: a helper is told %q", one.name, why)
		}
		if why := Lead.May(one.kind, []byte(one.body), []byte(one.private)); why != "" {
			t.Errorf("%s: the lead is told %q", one.name, why)
		}
		if why := Role("").May(one.kind, []byte(one.body), []byte(one.private)); why == "" {
			t.Errorf("%s: nobody in particular may", one.name)
		}
	}
}
