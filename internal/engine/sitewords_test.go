package engine

import (
	"testing"

	"proofbell/internal/words"
	"proofbell/site"
)

func TestEveryChoiceHasItsWord(t *testing.T) {
	german := (&Desk{}).In(words.In("de"))
	for _, list := range []string{"room-use", "hazard", "head-kind", "device-class", "opening-kind", "role"} {
		for _, w := range site.Words(list) {
			if own, ok := siteWords[w]; !ok || german.say(w) == "" {
				t.Errorf("%s: %q is said %q", list, w, own)
			}
		}
	}
}
