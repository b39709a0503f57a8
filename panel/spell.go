package panel

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Wait in a list of keys is not a key: press nothing for Keypad.LetterPause, so that the letter stands.
const Wait = "WAIT"

// ErrNoKey matches the error of an answer that the keypad has no keys for.
var ErrNoKey = errors.New("no key gives it")

// Spell returns the keys that type an answer: letters by repeated presses of their key, then digits. Where two letters in
// a row sit on one key, or a digit follows on the key of the letter before it, Wait stands between them. The accept key is not included.
func (k Keypad) Spell(answer string) ([]string, error) {
	var out []string
	last, lettered := "", false // key of the letter that still turns
	for _, r := range answer {
		key, presses := k.keyOf(string(r))
		if key == "" {
			return nil, fmt.Errorf("spelling %q: %q: %w", answer, r, ErrNoKey)
		}
		letter := key != string(r)
		if lettered && key == last {
			out = append(out, Wait)
		}
		for range presses {
			out = append(out, key)
		}
		last, lettered = key, letter
	}
	return out, nil
}

// lacks is the first sign of an answer that no key gives, "" when all can be typed.
func (k Keypad) lacks(answer string) string {
	for _, r := range answer {
		if key, _ := k.keyOf(string(r)); key == "" {
			return string(r)
		}
	}
	return ""
}

// keyOf finds the key of one character and how often it is pressed.
func (k Keypad) keyOf(char string) (key string, presses int) {
	if isNumber(char) && slices.Contains(k.Keys, char) { // a key named after a letter does what it does, it types nothing
		return char, 1
	}
	for _, key := range k.Keys {
		if i := strings.Index(k.Letters[key], char); i >= 0 {
			return key, i + 1
		}
	}
	return "", 0
}

// letterCount is the number of letters in front of an answer.
func letterCount(answer string) int {
	n := 0
	for n < len(answer) && answer[n] >= 'A' && answer[n] <= 'Z' {
		n++
	}
	return n
}

// Letters returns how many letters at most stand in front of an answer of this node: so many places of the keypad give
// letters before it gives digits.
func (p *Profile) Letters(n Node) int {
	if n.Form == FormIdentity {
		return p.Identity.Letters
	}
	most := 0
	for _, a := range p.Takes(n) {
		most = max(most, letterCount(a))
	}
	return most
}

// Longest returns the most characters that an answer of this node can have.
func (p *Profile) Longest(n Node) int {
	switch n.Form {
	case FormNumber, FormWord:
		return n.Width
	case FormWords:
		return n.Width*p.Label.Words + len(n.End)
	case FormIdentity:
		return p.Identity.Letters + p.Identity.Digits
	}
	most := 0
	for _, a := range p.Takes(n) {
		most = max(most, len(a))
	}
	return most
}
