// Package words says a sentence in the language of the reader. The English sentence, with the verbs of fmt in it, is its
// own key; a catalogue gives the same sentence in another language. What has no translation is said in English, and the
// test of this package names it.
package words

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"sync"
	"time"
)

//go:embed de/*.json
var files embed.FS

// Language is one language. The nil Language is English. Safe for concurrent use.
type Language struct {
	tag      string // BCP 47
	comma    string // between the whole and the decimals
	sentence map[string]string
}

var german = sync.OnceValue(func() *Language {
	l := &Language{tag: "de", comma: ",", sentence: map[string]string{}}
	names, _ := fs.Glob(files, "de/*.json")
	for _, name := range names {
		raw, err := files.ReadFile(name)
		if err == nil {
			err = json.Unmarshal(raw, &l.sentence) // adds to what is there
		}
		if err != nil {
			panic("words: " + name + ": " + err.Error()) // embedded and tested: can not happen in a build that passed
		}
	}
	return l
})

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

// Mark marks a sentence that is kept in a table and said later. It returns it unchanged.
func Mark(format string) string { return format }

// Number writes a number with that many decimals: "1.9", in German "1,9".
func (l *Language) Number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if l == nil {
		return s
	}
	return strings.Replace(s, ".", l.comma, 1)
}

// Day writes a date: "2026-09-15" in English, which no country misreads, and "15.09.2026" in German.
func (l *Language) Day(t time.Time) string {
	if l == nil {
		return t.Format(time.DateOnly)
	}
	return t.Format("02.01.2006")
}

// Moment writes date and clock time, 24 h, without the zone: "2026-09-15 14:31".
func (l *Language) Moment(t time.Time) string { return l.Day(t) + " " + t.Format("15:04") }
