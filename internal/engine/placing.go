package engine

import (
	"encoding/json"
	"math"
	"time"

	"proofbell/internal/estimate"
	"proofbell/internal/placing"
	"proofbell/internal/words"
)

// PlacingView is where alarms would have to be added. Advice for a person who knows the building, on planning estimates.
type PlacingView struct {
	Label   string          `json:"label"`
	With    placing.With    `json:"with"`
	Say     string          `json:"say"` // how many, and whether fewer would do
	Adds    []PlacingAdd    `json:"adds"`
	Unmet   []PlacingUnmet  `json:"unmet"`
	Cured   int             `json:"cured"`   // findings that would go with all of them
	Brought []string        `json:"brought"` // findings that would come with them
	Tried   int             `json:"tried"`   // places that were looked at
	Assumed []string        `json:"assumed"`
	Missing []string        `json:"missing"`         // what is not known, and counts for nothing
	Patch   json.RawMessage `json:"patch,omitempty"` // takes all of them; missing for none
}

// PlacingAdd is one proposed alarm.
type PlacingAdd struct {
	Pointer string          `json:"pointer"` // JSON pointer that its patch gives it
	Storey  string          `json:"storey"`
	Room    string          `json:"room"`
	Name    string          `json:"name"` // of the room
	At      [3]float64      `json:"at"`
	Why     []string        `json:"why"`
	Margin  *float64        `json:"margin"` // of its radio, dB; null for an alarm without one
	Patch   json.RawMessage `json:"patch"`  // takes this one
}

// PlacingUnmet is a need that stays open.
type PlacingUnmet struct {
	Need string `json:"need"`
	Why  string `json:"why"`
}

// Placing proposes where to add alarms. In a practice that was not handed in it would tell its mistakes: it is refused.
func (d *Desk) Placing(now time.Time, w placing.With) (PlacingView, error) {
	if d.Hides() {
		return PlacingView{}, &Problem{Code: "hidden", Say: words.Mark("Advice is hidden until the practice is handed in."), Try: words.Mark("Look for the places by yourself, then hand it in.")}
	}
	if w != "" && w != placing.Heads && w != placing.Detectors {
		return PlacingView{}, &Problem{Code: "bad-request", text: words.Later("There is nothing to add of the kind %q.", string(w)), Try: words.Mark("Ask for heads or for detectors.")}
	}
	day := now.In(d.zone())
	told, _ := d.radioTold()
	s := d.State.Site
	a, err := placing.Advise(s, d.profileOf(s), time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC), placing.Options{With: w, Readings: d.soundReadings(), Told: told})
	if err != nil {
		return PlacingView{}, err
	}
	v := PlacingView{
		Label: d.lang.Word(estimate.Label), With: a.With, Adds: []PlacingAdd{}, Unmet: []PlacingUnmet{}, Cured: len(a.Cured), Tried: a.Tried,
		Brought: said(d.lang, a.Brought), Assumed: said(d.lang, a.Assumed), Missing: said(d.lang, a.Missing), Patch: json.RawMessage(a.Patch), Say: placingSay(d.lang, a),
	}
	for _, one := range a.Adds {
		add := PlacingAdd{Pointer: one.Pointer, Storey: string(s.Rooms[one.Room].Storey), Room: string(one.Room), Name: s.Rooms[one.Room].Name, At: one.At, Why: said(d.lang, one.Why), Patch: json.RawMessage(one.Patch)}
		if !math.IsNaN(one.Margin) {
			margin := one.Margin
			add.Margin = &margin
		}
		v.Adds = append(v.Adds, add)
	}
	for _, u := range a.Unmet {
		v.Unmet = append(v.Unmet, PlacingUnmet{u.Need.In(d.lang), u.Why.In(d.lang)})
	}
	return v, nil
}

func placingSay(lang *words.Language, a placing.Advice) string {
	switch {
	case len(a.Adds) == 0 && len(a.Unmet) == 0:
		return lang.Say("By these rules and estimates nothing has to be added.")
	case len(a.Adds) == 0:
		return lang.Say("Nothing that was tried helps.")
	case len(a.Adds) == a.Surely:
		return lang.Say("To add: %d. With fewer it can not be done, by these rules.", len(a.Adds))
	case len(a.Adds) == a.AtLeast:
		return lang.Say("To add: %d. Of the %d places that were tried, fewer do not do.", len(a.Adds), a.Tried)
	}
	return lang.Say("To add: %d. Of the %[3]d places that were tried, at least %[2]d are needed.", len(a.Adds), a.AtLeast, a.Tried)
}

func said(lang *words.Language, texts []words.Text) []string {
	out := make([]string, 0, len(texts))
	for _, t := range texts {
		out = append(out, t.In(lang))
	}
	return out
}
