package keypad

import (
	"reflect"
	"strings"
	"testing"

	"proofbell/internal/words"
)

// Keys are caps; a wait, and until when a key is pressed, are words of the reader's language.
func TestCaps(t *testing.T) {
	press := []string{"7", "wait", "77", "DOWN", "DOWN", "TURN", "until WEST", "SET"}
	for lang, want := range map[string][]Cap{
		"en": {{Key: "7", Times: 1}, {Key: "WAIT", Times: 1, Wait: true}, {Key: "77", Times: 1}, {Key: "DOWN", Times: 2}, {Key: "TURN", Times: 1, Until: "until WEST"}, {Key: "SET", Times: 1}},
		"de": {{Key: "7", Times: 1}, {Key: "WARTEN", Times: 1, Wait: true}, {Key: "77", Times: 1}, {Key: "DOWN", Times: 2}, {Key: "TURN", Times: 1, Until: "bis WEST"}, {Key: "SET", Times: 1}},
	} {
		if got := Caps(words.In(lang), press); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v", lang, got)
		}
	}
}

// A card says how its keys are drawn only where that is not one cap for each group.
func TestDrawn(t *testing.T) {
	for press, told := range map[string]bool{"0 9 OK": false, "OK OK": true, "7 wait 77": true, "TURN until_WEST": true, "": false} {
		groups := strings.Fields(press)
		for i := range groups {
			groups[i] = strings.ReplaceAll(groups[i], "_", " ")
		}
		if got := drawn(words.In("en"), groups); (got != nil) != told {
			t.Errorf("%q: %+v", press, got)
		}
	}
}
