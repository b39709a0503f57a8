package keypad

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"proofbell/panel"
	"proofbell/site"
)

// Line is one line of a rehearsal's transcript: what one answer did.
type Line struct {
	Key    int         `json:"key"` // position of its last key in the list, from 1
	Zone   site.ZoneID `json:"zone,omitempty"`
	Shows  string      `json:"shows"`            // what the panel showed before
	Answer string      `json:"answer,omitempty"` // as the panel read it
	Did    string      `json:"did"`              // the key that ended it
	Then   string      `json:"then"`             // what it showed afterwards
}

// KeyError says which key of a list the panel did not take. Position is from 1.
type KeyError struct {
	Position int
	Key      string
	Zone     site.ZoneID
	Shows    string
	Err      error // matches ErrRefused, ErrIgnored, ErrEnded, ErrNotKey or ErrInHand
}

func (e *KeyError) Error() string {
	at := fmt.Sprintf("key %d (%s) at %s", e.Position, e.Key, e.Shows)
	if e.Zone != "" {
		at = fmt.Sprintf("zone %s, %s", e.Zone, at)
	}
	return fmt.Sprintf("%s: %v", at, e.Err)
}

func (e *KeyError) Unwrap() error { return e.Err }

// Causes inside a KeyError.
var (
	ErrRefused = errors.New("the panel refuses this answer")
	ErrIgnored = errors.New("the key does nothing here")
	ErrInHand  = errors.New("the keys end with a zone in hand; it is not kept")
)

// Rehearse presses the keys at a simulated panel that already holds these zones, nil for an empty one. It stops at the
// first key that the panel does not take, with a *KeyError; table and transcript then show what happened up to there.
func Rehearse(p *panel.Profile, keys []string, held ZoneTable) (ZoneTable, []Line, error) {
	s := NewSimulator(p, held)
	var lines []Line
	for i, key := range keys {
		var before Display
		ends := key == p.Keypad.Accept || key == p.Keypad.Back || s.acts()
		if ends {
			before = s.Display()
		}
		outcome, err := s.Press(key)
		switch {
		case err != nil:
		case outcome == Refused:
			err = ErrRefused
		case outcome == Ignored:
			err = ErrIgnored
		}
		if err != nil {
			if !ends {
				before = s.Display()
			}
			return s.Table(), lines, &KeyError{i + 1, key, before.Zone, before.Prompt, err}
		}
		if ends {
			after := s.Display()
			answer := before.Entered
			if answer == "" && before.Prompt != after.Prompt && key == p.Keypad.Accept {
				answer = before.Stored
			}
			lines = append(lines, Line{i + 1, before.Zone, before.Prompt, answer, key, after.String()})
		}
	}
	if d := s.Display(); d.Zone != "" {
		return s.Table(), lines, &KeyError{len(keys), keys[len(keys)-1], d.Zone, d.Prompt, ErrInHand}
	}
	return s.Table(), lines, nil
}

// KeysFormat is the value of "format" in a key list.
const KeysFormat = "proofbell.keys/1"

const maxKeys = 200_000

// turnTo is how a key list says that a key is pressed until an answer stands there, and not at all when it does.
func turnTo(key, answer string) string { return key + ">" + answer }

func cutTurn(p *panel.Profile, key string) (turn, to string, ok bool) {
	turn, to, ok = strings.Cut(key, ">")
	return turn, to, ok && !slices.Contains(p.Keypad.Keys, key) && slices.Contains(p.Keypad.Keys, turn)
}

// isKey reports whether a word of a key list is a key, a wait, or a key that turns.
func isKey(p *panel.Profile, word string) bool {
	_, _, turns := cutTurn(p, word)
	return turns || word == panel.Wait || slices.Contains(p.Keypad.Keys, word)
}

// ParseKeys reads a key list: the document that keying writes, or plain text in which a word that is no key is an answer to
// be spelt. Errors name the place.
func ParseKeys(p *panel.Profile, raw []byte) ([]string, error) {
	if len(raw) > maxInput {
		return nil, fmt.Errorf("reading the keys: %d bytes, want at most %d", len(raw), maxInput)
	}
	if text := bytes.TrimSpace(raw); len(text) > 0 && text[0] == '{' {
		return parseKeyDocument(p, text)
	}
	return parseKeyText(p, string(raw))
}

func parseKeyDocument(p *panel.Profile, raw []byte) ([]string, error) {
	var doc struct {
		Format  string   `json:"format"`
		Panel   string   `json:"panel"`
		Version string   `json:"version"`
		Keys    []string `json:"keys"`
	}
	if err := json.Unmarshal(raw, &doc); err != nil {
		return nil, fmt.Errorf("reading the keys: %w; see docs/format/profile.md", err)
	}
	switch {
	case doc.Format != KeysFormat:
		return nil, fmt.Errorf("reading the keys: format %q, want %q", doc.Format, KeysFormat)
	case doc.Panel != p.Name:
		return nil, fmt.Errorf("reading the keys: they are for panel %q, not %q; make the sheet again for this panel", doc.Panel, p.Name)
	case doc.Version != p.Version:
		return nil, fmt.Errorf("reading the keys: they are for version %q of the panel, the profile is %q; make the sheet again", doc.Version, p.Version)
	case len(doc.Keys) > maxKeys:
		return nil, fmt.Errorf("reading the keys: %d keys, want at most %d", len(doc.Keys), maxKeys)
	}
	for i, k := range doc.Keys {
		if !isKey(p, k) {
			return nil, fmt.Errorf("reading the keys: key %d %q: %w; there are %s", i+1, clip(k), ErrNotKey, strings.Join(p.Keypad.Keys, " "))
		}
	}
	return doc.Keys, nil
}

func parseKeyText(p *panel.Profile, text string) ([]string, error) {
	var keys []string
	for number, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "#")
		column := 1
		for _, part := range strings.FieldsFunc(line, blank) {
			column += strings.Index(line[column-1:], part)
			word := strings.ToUpper(part)
			if isKey(p, word) {
				keys = append(keys, word)
			} else if spelt, err := p.Keypad.Spell(word); err != nil {
				return nil, fmt.Errorf("reading the keys: %d:%d: %q is neither a key nor an answer: %w", number+1, column, clip(part), ErrNotKey)
			} else {
				keys = append(keys, spelt...)
			}
			column += len(part)
			if len(keys) > maxKeys {
				return nil, fmt.Errorf("reading the keys: %d:%d: more than %d keys", number+1, column, maxKeys)
			}
		}
	}
	return keys, nil
}

func blank(r rune) bool { return r == ' ' || r == '\t' || r == '\r' || r == ',' }

func clip(s string) string {
	if len(s) > 24 {
		return s[:24] + "..."
	}
	return s
}
