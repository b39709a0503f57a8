package practice

import (
	"slices"
	"testing"

	"proofbell/rules"
)

// Whoever names what a rule finds is never told that it is a wrong alarm for want of a word.
func TestEveryRuleHasASaying(t *testing.T) {
	for _, r := range rules.All() {
		if r.ID != "ruleset.unknown" && !slices.ContainsFunc(Sayings, func(s Saying) bool { return s.means(r.ID) }) {
			t.Errorf("%s: no saying means it", r.ID)
		}
	}
}
