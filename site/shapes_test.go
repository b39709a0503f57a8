package site

import (
	"math/rand/v2"
	"regexp"
	"testing"
)

// The shapes agree with the patterns that say the same, on texts made of the signs where they part.
func TestShapes(t *testing.T) {
	shapes := []struct {
		is      func(string) bool
		pattern *regexp.Regexp
		signs   []string
	}{
		{isID, regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{0,31}$`), []string{"a", "Z", "7", "-", "é", "_", "aaaaaaaaaa"}},
		{isDate, regexp.MustCompile(`^\d{4}(-\d{2}(-\d{2})?)?$`), []string{"2019", "20", "2", "-", "-04", "x", "٣"}},
		{isSticker, regexp.MustCompile(`^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$`), []string{"7K2M", "Q4XP", "-", "I", "ABCD", "U", "z", "L"}},
		{isPlain, regexp.MustCompile(`^[\p{L}0-9-][\p{L}0-9 ._/()'+-]*$`), []string{"a", "ß", "5", " ", ".", "_", "/", "(", "'", "+", "-", ":", "#", "\xff"}},
		{isNoText, regexp.MustCompile(`^(?i:null|true|false|yes|no|on|off|y|n|[-+.0-9][-+.0-9_a-fox]*|-+|-[ .].*)$`), []string{"null", "NO", "y", "e", "o", "x", "1", ".", "-", "+", "_", " ", "g", "f", "On", "true"}},
	}
	random := rand.New(rand.NewPCG(1, 2))
	for i, s := range shapes {
		yes := 0
		for range 20_000 {
			text := ""
			for range random.IntN(6) {
				text += s.signs[random.IntN(len(s.signs))]
			}
			want := s.pattern.MatchString(text)
			if want {
				yes++
			}
			if s.is(text) != want {
				t.Fatalf("shape %d of %q: %v, its pattern says %v", i, text, !want, want)
			}
		}
		if yes < 50 || yes > 19_950 {
			t.Errorf("shape %d: %d of 20000 texts have it", i, yes)
		}
	}
}
