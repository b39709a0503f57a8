package prove

import "proofbell/internal/words"

// PutBackSort is one sort of temporary change that a test may need, to be noted with one tap.
type PutBackSort struct {
	ID   string `json:"id"`
	What string `json:"what"` // in words, as it is noted
}

var putBackSorts = []PutBackSort{
	{"bypass", words.Mark("Zone left out (bypass)")},
	{"trip-limit", words.Mark("Trip limit raised")},
	{"door-tone", words.Mark("Door tone off")},
	{"destination", words.Mark("Second destination set")},
	{"delays", words.Mark("Delays changed")},
	{"sounder", words.Mark("Sounder off")},
	{"battery", words.Mark("Battery out")},
	{"threshold", words.Mark("Threshold moved")},
	{"network", words.Mark("Network path unplugged")},
}

// PutBackSorts lists the changes that a test usually needs, in a reader's language.
func PutBackSorts(lang *words.Language) []PutBackSort {
	out := make([]PutBackSort, len(putBackSorts))
	for i, s := range putBackSorts {
		out[i] = PutBackSort{s.ID, lang.Say(s.What)}
	}
	return out
}

// SayPutBack names a change: a usual one in the reader's language, another as it was noted.
func SayPutBack(p PutBack, lang *words.Language) string {
	if what := putBackWhat(p.Sort); what != "" && p.What == what {
		return lang.Say(what)
	}
	return p.What
}

// putBackWhat is a usual change in English, as a record keeps it; "" for one that is not in the list.
func putBackWhat(sort string) string {
	for _, s := range putBackSorts {
		if s.ID == sort {
			return s.What
		}
	}
	return ""
}
