package engine

import (
	"slices"
	"testing"

	"proofbell/demo"
	"proofbell/internal/keypad"
)

// The page says which card does not fit and what stands there instead; the answer names the place and leads back.
func TestLost(t *testing.T) {
	j := newJob(t, demo.Corrected)
	e := New()
	answer(t, e, "job.load", map[string]any{"job": j.Job, "entries": j.Entries})
	lost := func(kind string, card int, shown string) keypad.Rescue {
		return see[keypad.Rescue](t, e, "job.lost", map[string]any{"job": j.Job, "now": j.At, "kind": kind, "zone": "09", "card": card, "prompt": "DANGER?", "shown": shown})
	}
	if r := lost("zone", 4, ""); !r.Ask || !slices.Contains(r.Shows, "KEEP?") || len(r.Cards) > 0 {
		t.Errorf("nothing said yet: %+v", r)
	}
	if r := lost("zone", 4, "as what?"); len(r.Places) != 1 || r.Places[0].Node != "what" || len(r.Cards) != 1 || !r.Cards[0].Until || *r.Next != (keypad.At{Kind: "zone", Zone: "09", Card: 1}) {
		t.Errorf("at another question: %+v", r)
	}
	if r := lost("check", 2, "KEEP?"); len(r.Cards) != 1 || !r.Cards[0].Until || r.Next.Kind != "check" {
		t.Errorf("at the question that keeps: %+v", r)
	}
	if r := lost("zone", 4, "NOT TAKEN / DANGER?"); len(r.Cards) != 0 || r.Next.Card != 4 {
		t.Errorf("refused at the card itself: %+v", r)
	}
	if r := lost("leave", 1, "programming ended"); r.Next != nil || len(r.Cards) != 0 {
		t.Errorf("left already: %+v", r)
	}
}
