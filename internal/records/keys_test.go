package records_test

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"proofbell/internal/engine"
	"proofbell/internal/keypad"
	"proofbell/internal/records"
	"proofbell/panel"
)

// drawn returns the text of a PDF in the order in which it was drawn, without any space: keys in boxes stand apart on
// paper, and whether another program sees a space between them is its own affair.
func drawn(t *testing.T, raw []byte) string {
	t.Helper()
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed: the document is not read back")
	}
	cmd := exec.Command(pdftotext, "-raw", "-", "-")
	cmd.Stdin = bytes.NewReader(raw)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return bare(string(out))
}

func bare(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}

// keysOf writes the keys of a card as the sheet prints them: a named key pressed again and again once, with its number.
func keysOf(press []string) string {
	var out strings.Builder
	for i := 0; i < len(press); i++ {
		key, n := press[i], 1
		if key == "wait" {
			key = "WAIT"
		}
		for named := len(key) > 1 && strings.Trim(key, "0123456789") != ""; named && i+1 < len(press) && press[i+1] == press[i]; i++ {
			n++
		}
		if out.WriteString(key); n > 1 {
			fmt.Fprintf(&out, "×%d", n)
		}
	}
	return out.String()
}

// Every prompt of every zone stands on the keying sheet once, in its order, with its keys: read back by another program
// from the sheet as it is printed, on both papers and at each panel.
func TestKeyingSheetHasEveryKeyOnce(t *testing.T) {
	for i, name := range panel.Names() {
		s := mill(t)
		s.Panel.Profile = name
		k := keep(t, s)
		v, err := engine.NewDesk(k.state.Clone(), 0).Keying(noon, nil)
		k.Must(err)
		raw, err := records.PDF(k.paper("keying-sheet", "en", ""), records.Options{Sheet: []string{"A4", "Letter"}[i%2]})
		k.Must(err)
		text := drawn(t, raw)
		zones := 0
		for _, z := range v.Sheet.Zones {
			if len(z.Cards) == 0 {
				continue
			}
			zones++
			heading := bare("Zone " + string(z.Zone) + z.Label)
			if n := strings.Count(text, heading); n != 1 {
				t.Errorf("%s: zone %s has %d headings", name, z.Zone, n)
				continue
			}
			var all strings.Builder
			for _, c := range z.Cards {
				all.WriteString(".*?" + row(c))
			}
			_, rest, _ := strings.Cut(text, heading)
			if n := len(regexp.MustCompile(all.String()).FindAllString(within(rest), -1)); n != 1 {
				t.Errorf("%s: the keys of zone %s stand there %d times, in\n%s", name, z.Zone, n, within(rest))
			}
		}
		if zones < 20 {
			t.Errorf("%s: only %d zones are keyed", name, zones)
		}
	}
}

// row is how one prompt was drawn: what is shown, what is shown then, the letter of a note, the keys.
func row(c keypad.Card) string {
	return regexp.QuoteMeta(bare(c.Shows+c.Sees)) + regexp.QuoteMeta(bare(c.Then)) + "[a-z]{0,2}" + regexp.QuoteMeta(keysOf(c.Press))
}

var next = regexp.MustCompile(`Zone\d\d[^,]`)

// within cuts the text of one zone off: its heading to the next.
func within(text string) string {
	if at := next.FindStringIndex(text); at != nil {
		return text[:at[0]]
	}
	return text
}
