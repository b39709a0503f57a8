package panel

import (
	"slices"
	"strings"

	"proofbell/site"
)

// SayLabel turns a label into the numbers of the spoken words. Words that the panel can not say come back in missing, in
// capitals, and then codes has only the others; a label that is too long gives all its codes, so compare with Label.Words.
// Punctuation between words is ignored.
func (p *Profile) SayLabel(label string) (codes, missing []string) {
	return p.SayWords(strings.FieldsFunc(label, func(r rune) bool { return strings.ContainsRune(" \t,.;:/-'()", r) }))
}

// SayWords is SayLabel for words that are already apart.
func (p *Profile) SayWords(words []string) (codes, missing []string) {
	for _, w := range words {
		w = strings.ToUpper(strings.TrimSpace(w))
		if n, ok := p.Words[w]; ok {
			codes = append(codes, n)
		} else {
			missing = append(missing, w)
		}
	}
	return codes, missing
}

// SayInstead proposes spoken words for one that the panel can not say. nil when the profile knows none.
func (p *Profile) SayInstead(word string) []string {
	return slices.Clone(p.SayAs[strings.ToUpper(word)])
}

// SayZone gives the spoken words of a zone: its own list of words where it has one, else its label.
func (p *Profile) SayZone(z site.Zone) (codes, missing []string) {
	if len(z.Words) > 0 {
		return p.SayWords(z.Words)
	}
	return p.SayLabel(z.Label)
}

// Word returns the spoken word with that number, "" when there is none.
func (p *Profile) Word(number string) string {
	for w, n := range p.Words {
		if n == number {
			return w // numbers are distinct: Check
		}
	}
	return ""
}
