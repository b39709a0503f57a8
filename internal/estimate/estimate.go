// Package estimate asks the sound and the radio model about a site: what stands between, how loud it arrives, how much
// margin is left. It turns a site, its building and what was measured into the plain numbers of packages acoustics and
// radio, and their answers into verdicts that show every term.
//
// Everything here is a planning estimate and is labelled so wherever it is shown: measure on site. What is missing is
// named in Missing and never filled in silently; what was assumed is said in Assumed. Functions are pure and safe for
// concurrent use; a site is not changed.
package estimate

import (
	"math"

	"proofbell/internal/words"
)

// Label stands beside every figure of this package.
var Label = words.Mark("Planning estimate. Measure on site.")

// Term is one number on the way to a result, so that it can be checked by hand.
type Term struct {
	Name    string  `json:"name"`    // in words: "reverberant part in F1"
	Value   float64 `json:"value"`   // rounded, in Unit
	Unit    string  `json:"unit"`    // "dBA", "dB", "m", "m²" or ""
	Formula string  `json:"formula"` // "Lw + 10 log(4/A)"; empty for what was typed
	Source  string  `json:"source"`  // standard, clause and confidence, or what was typed
}

// Verdict says what a margin is worth.
type Verdict string

// The verdicts. None of them is the mark of proof.
const (
	Enough        Verdict = "enough"         // more than the uncertainty above what is required
	Doubtful      Verdict = "doubtful"       // within the uncertainty: measure
	TooLittle     Verdict = "too little"     // short by more than the uncertainty
	NotDetermined Verdict = "not determined" // something is missing
)

var _ = []string{words.Mark("enough"), words.Mark("doubtful"), words.Mark("too little"), words.Mark("not determined")}

// In says the verdict in a language.
func (v Verdict) In(lang *words.Language) string { return lang.Word(string(v)) }

// Judge compares a margin with its uncertainty, both in dB as they are published: rounded to 0.1 dB. NaN is not determined.
func Judge(margin, uncertainty float64) Verdict {
	m, u := math.Round(margin*10), math.Round(uncertainty*10)
	switch {
	case math.IsNaN(m) || math.IsNaN(u):
		return NotDetermined
	case m >= u:
		return Enough
	case m > -u:
		return Doubtful
	}
	return TooLittle
}
