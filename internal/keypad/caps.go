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
}

// waits is how a card writes a wait among its keys.
const waits = "wait"

// Caps are the keys of a card as they are drawn. A named key that is pressed again and again stands there once.
func Caps(l *words.Language, press []string) []Cap {
	out := []Cap{}
	for _, group := range press {
		if group == waits {
			out = append(out, Cap{l.Say("WAIT"), 1, true})
			continue
		}
		named := len(group) > 1 && strings.Trim(group, "0123456789") != ""
		if n := len(out) - 1; n >= 0 && out[n].Key == group && named {
			out[n].Times++
			continue
		}
		out = append(out, Cap{group, 1, false})
	}
	return out
}
