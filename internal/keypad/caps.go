package keypad

import (
	"strings"

	"proofbell/internal/words"
)

// Cap is what stands on one keycap of a sheet: a key, a group of digits, or a wait.
type Cap struct {
	Key   string `json:"key"`
	Times int    `json:"times"` // how often in a row
	Wait  bool   `json:"wait"`  // no key: press nothing until the letter stands
	Until string `json:"until"` // "until WEST": pressed until that stands there, and not at all when it does; "" otherwise
}

// waits is how a card writes a wait among its keys.
const waits = "wait"

// until is how a card begins the group behind a key that is pressed until the rest of it stands there.
const until = "until "

// Caps are the keys of a card as they are drawn. A named key that is pressed again and again stands there once.
func Caps(l *words.Language, press []string) []Cap {
	out := []Cap{}
	for _, group := range press {
		if group == waits {
			out = append(out, Cap{Key: l.Say("WAIT"), Times: 1, Wait: true})
			continue
		}
		if answer, turns := strings.CutPrefix(group, until); turns && len(out) > 0 {
			out[len(out)-1].Until = l.Say("until %s", answer)
			continue
		}
		named := len(group) > 1 && strings.Trim(group, "0123456789") != ""
		if n := len(out) - 1; n >= 0 && out[n].Key == group && out[n].Until == "" && named {
			out[n].Times++
			continue
		}
		out = append(out, Cap{Key: group, Times: 1})
	}
	return out
}

// drawn are the keys of a card as they are drawn; nil where each group is a key of its own and nothing has to be said of it.
func drawn(l *words.Language, press []string) []Cap {
	caps := Caps(l, press)
	plain := len(caps) == len(press)
	for _, c := range caps {
		plain = plain && !c.Wait && c.Times == 1 && c.Until == ""
	}
	if plain {
		return nil
	}
	return caps
}

// Pressed writes the keys of a card as one line.
func Pressed(l *words.Language, press []string) string {
	out := make([]string, len(press))
	for i, group := range press {
		if out[i] = group; group == waits {
			out[i] = l.Say("WAIT")
		}
		if answer, turns := strings.CutPrefix(group, until); turns {
			out[i] = l.Say("until %s", answer)
		}
	}
	return strings.Join(out, " ")
}
