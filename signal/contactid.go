package signal

import (
	"fmt"
	"strconv"
	"strings"
)

// ContactID is the data of an ADM-CID frame: [#]account, bar, QXYZ GG CCC. Digits are
// decimal or B to F (SIA DC-05).
type ContactID struct {
	Account string // hex digits; "" when left out in front of the bar
	Q       byte   // '1' new or opening, '3' restore or closing, '6' still present
	Code    string // three digits
	Group   string // two digits: partition (area), 00 if none
	Number  string // three digits: zone or user, 000 if none
}

// ParseContactID reads the data between the brackets. The account may stand without its #, as
// in one published example. The error is a *FrameError whose Offset counts from the first byte
// of data.
func ParseContactID(data string) (ContactID, error) {
	var c ContactID
	bad := func(off int, want Phrase) (ContactID, error) {
		return ContactID{}, &FrameError{Offset: off, Element: "data", Err: ErrPayload, Got: clip(data[min(off, len(data)):]), Want: want}
	}
	head, block, found := strings.Cut(data, "|")
	if !found {
		return bad(0, phrase("an account, a bar and %s", "QXYZ GG CCC"))
	}
	account, err := payloadAccount(head)
	if err != nil {
		return bad(0, phrase("1 to 16 hex digits in front of the bar, with # or without, or nothing"))
	}
	c.Account = account
	at := len(head) + 1
	if len(block) != len("QXYZ GG CCC") || block[4] != ' ' || block[7] != ' ' {
		return bad(at, phrase("%s with one blank between the groups", "QXYZ GG CCC"))
	}
	if q := block[0]; q != '1' && q != '3' && q != '6' {
		return bad(at, phrase("qualifier 1, 3 or 6"))
	}
	for i := range len(block) {
		if d := block[i]; i != 4 && i != 7 && !decimal(d) && (d < 'B' || d > 'F') {
			return bad(at+i, phrase("digits 0-9 or B-F"))
		}
	}
	c.Q, c.Code, c.Group, c.Number = block[0], block[1:4], block[5:7], block[8:11]
	return c, nil
}

// String is the data as it stands between the brackets, the inverse of ParseContactID but for
// a # that the sender left out.
func (c ContactID) String() string {
	return accountHead(c.Account) + "|" + string(rune(c.Q)) + c.Code + " " + c.Group + " " + c.Number
}

// Event is the same condition without regard to its format. Account is empty when the
// payload names none.
func (c ContactID) Event() Event {
	m, _ := Lookup(CID, c.Code)
	e := Event{
		Account: c.Account, Format: CID, Qualifier: New, Code: c.Code, Kind: m.Kind, Family: m.Family, Words: m.Words,
		Number: number(c.Number), NumberIs: m.NumberIs, Address: c.Number, Area: number(c.Group), Raw: c.String(),
	}
	if e.Number == 0 {
		e.NumberIs = NoNumber
	}
	switch {
	case c.Q == '6':
		e.Qualifier = StillPresent
	case c.Q == '3' && m.Kind == KindOpen:
		e.Qualifier, e.Kind = Closing, KindClose
	case m.Kind == KindOpen:
		e.Qualifier = Opening
	case c.Q == '3':
		e.Qualifier, e.Kind = Restore, m.Kind.End()
	}
	return e
}

// NewContactID builds a payload from decimal numbers. The qualifier takes all five words;
// area 0 to 99, number 0 to 999. The error matches [ErrPayload].
func NewContactID(account string, q Qualifier, code string, area, number int) (ContactID, error) {
	digit := map[Qualifier]byte{New: '1', Opening: '1', Restore: '3', Closing: '3', StillPresent: '6'}[q]
	if digit == 0 {
		return ContactID{}, fmt.Errorf("contact id %s: %w: qualifier %q is none of new, opening, restore, closing, still-present", code, ErrPayload, q)
	}
	if area < 0 || area > 99 || number < 0 || number > 999 {
		return ContactID{}, fmt.Errorf("contact id %s %s, area %d, number %d: %w: area is 0 to 99, number 0 to 999", q, code, area, number, ErrPayload)
	}
	c := ContactID{Account: account, Q: digit, Code: code, Group: fmt.Sprintf("%02d", area), Number: fmt.Sprintf("%03d", number)}
	return ParseContactID(c.String())
}

// number reads decimal digits; -1 when there are others among them.
func number(digits string) int {
	n, err := strconv.ParseUint(digits, 10, 31)
	if err != nil {
		return -1
	}
	return int(n)
}

func payloadAccount(head string) (string, error) {
	if head == "" {
		return "", nil
	}
	digits := strings.TrimPrefix(head, "#")
	if len(digits) < 1 || len(digits) > 16 {
		return "", ErrPayload
	}
	for i := range len(digits) {
		if !hexDigit(digits[i]) {
			return "", ErrPayload
		}
	}
	return digits, nil
}

func accountHead(account string) string {
	if account == "" {
		return ""
	}
	return "#" + account
}

func clip(s string) string { return s[:min(len(s), 32)] }
