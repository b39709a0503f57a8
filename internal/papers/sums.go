package papers

import (
	"proofbell/internal/words"
	"proofbell/internal/worked"
)

// OfSum is the part of a document that holds a calculation sheet: result and label, then the sheet.
func OfSum(sh worked.Sheet) Section {
	s := Section{ID: "sum." + sh.ID, Title: sh.Title, Text: []string{words.Upper(sh.Result)}, Sum: &sh}
	if sh.Label != "" {
		s.Text = append(s.Text, sh.Label)
	}
	return s
}

// calculations is the document of the calculation sheets alone.
func (w *writer) calculations() {
	w.add(Section{ID: "caution", Own: true, Framed: true, Title: w.l.Say("For review"), Text: []string{
		w.l.Say("Each sheet shows what went in and who says so, each formula with the figures put in and its source, and what to be careful of. A formula stands under its number in the list of formulas, with its range. These are planning figures: measure on site. Local code, the listing and licensed practice decide."),
	}})
	w.property()
	w.sums(true)
}

// sums writes the calculation sheets of the job. The record of the finished system has no sheet of which nothing came.
func (w *writer) sums(all bool) {
	if w.Sums == nil {
		return
	}
	for _, s := range w.Sums(all) {
		if s.Sum != nil && len(s.Sum.Missing) > 0 {
			if !all && len(s.Sum.Steps) == 0 {
				continue
			}
			if all {
				w.lack("survey", s.Title+": "+words.Upper(s.Sum.Missing[0]))
			}
		}
		w.add(s)
	}
}

// given are result and inputs of a sheet: what a later issue is compared by.
func given(s Section) []Pair {
	if s.Sum == nil {
		return nil
	}
	out := []Pair{{s.Title, s.Sum.Result}}
	for _, in := range s.Sum.Inputs {
		out = append(out, Pair{s.Title + ", " + in.Name, in.Say})
	}
	return out
}
