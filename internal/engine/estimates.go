package engine

import (
	"strings"
	"time"

	"proofbell/internal/estimate"
	"proofbell/internal/papers"
	"proofbell/internal/placing"
	"proofbell/site"
)

// Estimates compute what documents of planning estimates show.
func (d *Desk) Estimates(now time.Time, with placing.With) papers.Estimates {
	return papers.Estimates{
		Sound: func() (estimate.SoundView, error) { return d.SoundRooms(FieldArg{}) },
		Radio: func() (estimate.RadioView, estimate.RadioPlaces) {
			r := d.Radio()
			return r.View(d.lang), r.Repeaters(false).View(d.lang, r)
		},
		Field: func(what, storey string) (estimate.FieldView, error) {
			return d.Field(FieldArg{What: what, Storey: site.StoreyID(storey)})
		},
		Advice: func() (papers.Advice, error) {
			v, err := d.Placing(now, with)
			if err != nil {
				return papers.Advice{}, err
			}
			out := papers.Advice{Label: v.Label, Say: v.Say, Brought: v.Brought, Assumed: v.Assumed, Missing: v.Missing}
			for _, one := range v.Adds {
				w := papers.Wanted{ID: one.Pointer[strings.LastIndexByte(one.Pointer, '/')+1:], Storey: one.Storey, Room: one.Name, At: one.At, Why: one.Why}
				if one.Margin != nil {
					w.Why = append(w.Why, d.lang.Say("radio margin about %s dB", d.lang.Number(*one.Margin, 1)))
				}
				out.Adds = append(out.Adds, w)
			}
			for _, u := range v.Unmet {
				out.Unmet = append(out.Unmet, u.Need+": "+u.Why)
			}
			return out, nil
		},
	}
}
