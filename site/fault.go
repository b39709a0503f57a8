package site

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// Fault is one thing wrong with the form of a site file: what, where and what to do about it. Its sentences are said, and
// written as JSON, in English; see In.
type Fault struct {
	File   string     `json:"file,omitempty"` // name as given to the decoder
	Line   int        `json:"line"`           // from 1; 0 when there is no text behind the value
	Column int        `json:"column"`         // from 1, in characters
	Path   string     `json:"path"`           // JSON pointer of the member: "/zones/09/kind"
	Say    words.Text `json:"say"`            // what is wrong
	Try    words.Text `json:"try"`            // what to do
}

// In returns the fault with its sentences in the language of a BCP 47 tag; English where that is not spoken.
func (f Fault) In(language string) Fault {
	l := words.In(language)
	f.Say, f.Try = words.Typed(f.Say.In(l)), words.Typed(f.Try.In(l))
	return f
}

// Error returns "file:line:column: what; what to do" in English.
func (f Fault) Error() string { return f.Said().String() }

// Said is the same as a sentence for any language.
func (f Fault) Said() words.Text {
	return words.Later("%s%s", f.place(), (&words.Error{Say: f.Say, Try: f.Try}).Said())
}

// place is where the fault lies, as it stands before a sentence.
func (f Fault) place() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File + ":")
	}
	if f.Line > 0 {
		fmt.Fprintf(&b, "%d:%d:", f.Line, f.Column)
	}
	if b.Len() > 0 {
		b.WriteByte(' ')
	}
	if f.Line == 0 && f.Path != "" {
		b.WriteString(f.Path + ": ")
	}
	return b.String()
}

// MaxFaults is the largest number of faults that one decoding reports.
const MaxFaults = 50

// Faults is what decoding returns when a text is not a site file: at least one fault, in the order of the text.
type Faults []Fault

// In returns the faults in the language of a BCP 47 tag; English where that is not spoken.
func (f Faults) In(language string) Faults {
	said := make(Faults, len(f))
	for i, one := range f {
		said[i] = one.In(language)
	}
	return said
}

// Error returns one fault a line, in English.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, one := range f {
		lines[i] = one.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single faults to errors.As.
func (f Faults) Unwrap() []error {
	errs := make([]error, len(f))
	for i, one := range f {
		errs[i] = one
	}
	return errs
}

// sorted returns f in the order of the text, cut to MaxFaults; nil when there is none.
func (f Faults) sorted() error {
	if len(f) == 0 {
		return nil
	}
	sorts.Stable(f, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Path, b.Path))
	})
	if len(f) > MaxFaults {
		f = f[:MaxFaults]
	}
	return f
}

// nearest returns the word of list that a mistyped word most likely means: at most a third of it differs. Or "".
// Words of one or two letters, as short ids are, are near to too many others.
func nearest(word string, list []string) string {
	if len(word) < 3 || len(word) > 64 {
		return ""
	}
	best, bestCost := "", max(1, len([]rune(word))/3)+1
	for _, candidate := range list {
		if cost := edits(strings.ToLower(word), strings.ToLower(candidate)); cost < bestCost {
			best, bestCost = candidate, cost
		}
	}
	return best
}

// edits counts the insertions, deletions, changes and swaps of neighbours that turn a into b
// (optimal string alignment distance).
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row[0] = i
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(y)]
}

// suggest says which word was probably meant, or lists the allowed ones.
func suggest(word string, list []string) words.Text {
	if near := nearest(word, list); near != "" {
		return words.Later("did you mean %q?", near)
	}
	return words.Later("write one of: %s", strings.Join(list, ", "))
}

// Refused says why a date or a quantity was not taken: what is wrong with it, and what to do. ok is false for an error of
// anything else.
func Refused(err error) (why *words.Error, ok bool) {
	var own *words.Error
	var typed *quantity.Error
	switch {
	case errors.As(err, &own):
		return own, true
	case errors.As(err, &typed):
		what, hint := words.Marked(typed.Why), words.Marked(typed.Hint)
		if typed.Unit != "" {
			what = words.Later("unit %q is not known", typed.Unit)
		}
		if typed.Better != "" {
			hint = words.Later("%s: %s", hint, typed.Better)
		}
		return &words.Error{Say: words.Later("%q is not a %s: %s", typed.Text, words.Marked(typed.Of), what), Try: hint}, true
	}
	return nil, false
}
