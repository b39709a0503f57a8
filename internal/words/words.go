// Package words says a sentence in the language of the reader. The English sentence, with the verbs of fmt in it, is its
// own key; a catalogue gives the same sentence in another language. What has no translation is said in English, and the
// test of this package names it.
package words

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"
)

// Language is one language. The nil Language is English. Safe for concurrent use.
type Language struct {
	tag      string // BCP 47
	comma    string // between the whole and the decimals
	sentence map[string]string
}

// quoted puts what is quoted between the marks of German.
var quoted = strings.NewReplacer("%q", "„%s“", "%[1]q", "„%[1]s“", "%[2]q", "„%[2]s“", "%[3]q", "„%[3]s“")

var german = sync.OnceValue(func() *Language {
	l := &Language{tag: "de", comma: ",", sentence: map[string]string{}}
	for name, raw := range embedded() {
		if err := l.learn(raw); err != nil {
			panic("words: " + name + ": " + err.Error()) // tested: can not happen in a build that passed
		}
	}
	return l
})

// learn adds the sentences of a catalogue to what a language says.
func (l *Language) learn(catalogue []byte) error {
	var sentences map[string]string
	if err := json.Unmarshal(catalogue, &sentences); err != nil {
		return err
	}
	for english, own := range sentences {
		l.sentence[english] = quoted.Replace(own)
	}
	return nil
}

// In returns the language of a BCP 47 tag ("de", "de-CH"); English for one that is not spoken here.
func In(tag string) *Language {
	primary, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if primary == "de" {
		return german()
	}
	return nil
}

// Tags lists the languages spoken here, English first.
func Tags() []string { return []string{"en", "de"} }

// Tag returns the BCP 47 tag.
func (l *Language) Tag() string {
	if l == nil {
		return "en"
	}
	return l.tag
}

// Say returns a sentence with its arguments in place, as fmt.Sprintf does. format must be a literal, or have gone
// through Mark, so that the test can find it. A translation may take the arguments in another order (%[2]s).
func (l *Language) Say(format string, args ...any) string {
	if l != nil {
		if own, ok := l.sentence[format]; ok {
			format = own
		}
	}
	if len(args) == 0 && !strings.Contains(format, "%") {
		return format
	}
	return fmt.Sprintf(format, args...)
}

// Word returns what was marked, in the language, as it stands: it is no format, and a % in it means itself.
func (l *Language) Word(marked string) string {
	if l != nil {
		if own, ok := l.sentence[marked]; ok {
			return own
		}
	}
	return marked
}

// Mark marks a sentence that is kept in a table and said later. It returns it unchanged.
func Mark(format string) string { return format }

// Text is a sentence that is said later, when it is known to whom. What is kept for many readers is kept as a Text. The
// zero value says nothing.
type Text struct {
	format string
	args   []any
}

// Later makes a Text. format must be a literal, or have gone through Mark; arguments that are Texts are said in the same
// language.
func Later(format string, args ...any) Text { return Text{format, args} }

// Marked is a sentence that went through Mark somewhere, or else a text that a person typed: it is no format.
func Marked(text string) Text { return Text{"%s", []any{marked(text)}} }

type marked string

// Figure is a number that is said later, with that many decimals, or with as many as it has when decimals is -1.
func Figure(v float64, decimals int) Text { return Text{"%s", []any{figure{v, decimals}}} }

type figure struct {
	value    float64
	decimals int
}

// Typed is a text that a person wrote: it is the same in every language.
func Typed(text string) Text { return Text{"%s", []any{text}} }

// In says the text in a language.
func (t Text) In(l *Language) string {
	if t.format == "" {
		return ""
	}
	args := slices.Clone(t.args)
	for i, a := range args {
		switch a := a.(type) {
		case Text:
			args[i] = a.In(l)
		case marked:
			args[i] = l.Word(string(a))
		case figure:
			args[i] = l.Number(a.value, a.decimals)
		}
	}
	return l.Say(t.format, args...)
}

// String says the text in English.
func (t Text) String() string { return t.In(nil) }

// MarshalJSON says the text in English, for what a program reads.
func (t Text) MarshalJSON() ([]byte, error) { return json.Marshal(t.In(nil)) }

// UnmarshalJSON reads what was said: from then on it is the same in every language.
func (t *Text) UnmarshalJSON(raw []byte) error {
	var said string
	if err := json.Unmarshal(raw, &said); err != nil {
		return err
	}
	*t = Typed(said)
	return nil
}

// Error is an error that people read: what is wrong, and what to do.
type Error struct{ Say, Try Text }

// Error says it in English.
func (e *Error) Error() string { return e.Said().String() }

// Said is what is wrong, with what to do after it.
func (e *Error) Said() Text {
	if e.Try.format == "" {
		return e.Say
	}
	return Later("%s; %s", e.Say, e.Try)
}

// Said is what an error says to a person: in words that can be said in every language where it has them, and else, as an
// error of a library, as it stands.
func Said(err error) Text {
	var e interface{ Said() Text }
	if errors.As(err, &e) {
		return e.Said()
	}
	return Typed(err.Error())
}

// List joins words for a sentence: "09, 11 and 14".
func List[T ~string](l *Language, items []T) string {
	texts := make([]string, len(items))
	for i, t := range items {
		texts[i] = string(t)
	}
	if len(texts) < 2 {
		return strings.Join(texts, "")
	}
	return l.Say("%s and %s", strings.Join(texts[:len(texts)-1], ", "), texts[len(texts)-1])
}

// Upper begins a sentence: its first letter is made a capital.
func Upper(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 || first == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// Number writes a number with that many decimals, or with as many as it has when decimals is -1: "1.9", in German "1,9".
func (l *Language) Number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if l == nil {
		return s
	}
	return strings.Replace(s, ".", l.comma, 1)
}

// Measure writes a figure as somebody typed it, with its unit: "0.7 s" in English, "0,7 s" in German.
func (l *Language) Measure(figure fmt.Stringer) string {
	if l == nil {
		return figure.String()
	}
	return strings.Replace(figure.String(), ".", l.comma, 1)
}

// Day writes a date: "2026-09-15" in English, which no country misreads, and "15.09.2026" in German.
func (l *Language) Day(t time.Time) string {
	if l == nil {
		return t.Format(time.DateOnly)
	}
	return t.Format("02.01.2006")
}

// Month writes a month: "2026-09", in German "09.2026".
func (l *Language) Month(t time.Time) string {
	if l == nil {
		return t.Format("2006-01")
	}
	return t.Format("01.2006")
}

// Moment writes date and clock time, 24 h, without the zone: "2026-09-15 14:31".
func (l *Language) Moment(t time.Time) string { return l.Day(t) + " " + t.Format("15:04") }

// Join lists what is not empty, with commas between.
func Join(parts ...string) string {
	return strings.Join(slices.DeleteFunc(slices.Clone(parts), func(p string) bool { return p == "" }), ", ")
}
