// Package worked holds the calculation sheet: what an engineer who reviews a result follows line by line. Inputs with where
// they come from, then each step with its formula, the numbers put in, the result and the source, then what to be careful of.
//
// One shape for every result of power, circuits and reach. Texts are in the reader's language already. The page, the
// terminal and the paper show the same sheet; nothing here computes.
package worked

import "proofbell/internal/words"

// Sheet is one calculation. Lists are in the order of reading.
type Sheet struct {
	ID       string    `json:"id"` // stable: "standby", "drop.sounders"
	Title    string    `json:"title"`
	Label    string    `json:"label"`  // what the figures are good for: "Planning estimate. Measure on site."; empty: arithmetic
	Result   string    `json:"result"` // one sentence with the figure; or why there is none
	Inputs   []Input   `json:"inputs"`
	Steps    []Step    `json:"steps"`
	Pictures []Picture `json:"pictures"`
	Cautions []string  `json:"cautions"`
	Missing  []string  `json:"missing"` // without which nothing, or less, was determined
	Assumed  []string  `json:"assumed"` // values that stand in for those that nobody gave
}

// Input is one value that went in.
type Input struct {
	Name    string   `json:"name"`    // "Current at rest"
	Sign    string   `json:"sign"`    // its letter in the formulas: "I₁"; empty: none
	Say     string   `json:"say"`     // as people read it, with its unit: "0.36 A"; empty: not given
	Value   string   `json:"value"`   // as the site holds it, for who types over it; empty when At is, or when it is not given
	At      string   `json:"at"`      // JSON pointer of the member of the site that holds it; empty: not of the site
	From    string   `json:"from"`    // who says so: "typed", "the rule set", "assumed: ..."
	Bare    bool     `json:"bare"`    // kept as a number, not as a text with its unit
	Choices []Choice `json:"choices"` // when only these are allowed; none: any text
}

// Choice is one allowed value of an input.
type Choice struct {
	Value string `json:"value"` // "" takes the member out
	Say   string `json:"say"`
}

// Step is one line of the sum.
type Step struct {
	Name       string  `json:"name"`    // "Charge drawn"
	Formula    string  `json:"formula"` // its number in docs/formulas.md: "5.2"
	Says       string  `json:"says"`    // the formula as text: "Q = I₁ T₁ + I₂ T₂"
	Put        string  `json:"put"`     // the numbers put in: "0.36 A × 24 h + 1.30 A × 0.067 h"
	Value      float64 `json:"value"`   // in Unit, not rounded
	Unit       string  `json:"unit"`
	Say        string  `json:"say"` // the result as printed: "8.73 Ah"
	Source     string  `json:"source"`
	Confidence string  `json:"confidence"` // in the value of the source: high, medium, low
}

// Grades of confidence in a source, for words.Language.Word.
var (
	High   = words.Mark("high confidence")
	Medium = words.Mark("medium confidence")
	Low    = words.Mark("low confidence")
)
