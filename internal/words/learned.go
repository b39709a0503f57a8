//go:build js

package words

import "errors"

// embedded is empty in the browser: a language is fetched when someone speaks it, and learned.
func embedded() map[string][]byte { return nil }

// Learn adds a catalogue, sentences by their English as JSON, to the language of a tag. It must have come before anything
// is said in that language, which is English until then. Not safe for concurrent use.
func Learn(tag string, catalogue []byte) error {
	l := In(tag)
	if l == nil {
		return errors.New("words: no such language: " + tag)
	}
	return l.learn(catalogue)
}
