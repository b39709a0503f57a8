package keypad

import (
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ReadBack returns the cards that read a zone which the panel holds as wanted, without changing anything; nil where the
// panel shows nothing of what it holds.
func ReadBack(lang *words.Language, p *panel.Profile, number site.ZoneID, z site.Zone, slots Slots) []Card {
	if len(slots) == 0 {
		return nil
	}
	return keyer{lang: lang, p: p, zone: number, z: z, slots: slots}.check()
}
