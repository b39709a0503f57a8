package signal

import "strings"

// SIA is the data of a SIA-DCS frame (SIA DC-03 as carried by DC-09):
//
//	[#]account "|" function packet { "/" packet } { "|" function ... }
//
// for example #1234|Nri1/FA005: area 1, fire alarm, point 5.
type SIA struct {
	Account string // hex digits; "" when left out in front of the bar
	Blocks  []SIABlock
}

// SIABlock is what stands between two bars.
type SIABlock struct {
	Function byte        // 'N' new events, 'O' events that happened earlier, 'A' text; others are kept as text
	Packets  []SIAPacket // with N and O
	Text     string      // with all others
}

// SIAPacket is a modifier (two small letters; holds for the events after it until replaced)
// or an event (two capitals).
type SIAPacket struct {
	Code  string
	Value string // modifier's value or event's address, as received; may be empty
	Text  string // free text behind the address, between ^ and ^ or after *, as some senders have it
}

// ParseSIA reads the data between the brackets. Slashes after a modifier may be left out, and
// so may the # of the account, as in one published example.
// The error is a *FrameError whose Offset counts from the first byte of data; data without
// any event code is one.
func ParseSIA(data string) (SIA, error) { return parseSIA(data, nil) }

// part is a run of bytes of a payload.
type part struct {
	element  string
	from, to int
}

// parseSIA also tells the parts in their order, as far as they were read, to parts if that is
// not nil.
func parseSIA(data string, parts *[]part) (SIA, error) {
	var s SIA
	tell := func(element string, from, to int) {
		if parts != nil && from < to {
			*parts = append(*parts, part{element, from, to})
		}
	}
	bad := func(off int, want Phrase) (SIA, error) {
		return SIA{}, &FrameError{Offset: off, Element: "data", Err: ErrPayload, Got: clip(data[min(off, len(data)):]), Want: want}
	}
	head, _, found := strings.Cut(data, "|")
	if !found {
		return bad(0, phrase("an account, a bar and %s", "N, O"))
	}
	account, err := payloadAccount(head)
	if err != nil {
		return bad(0, phrase("1 to 16 hex digits in front of the bar, with # or without, or nothing"))
	}
	s.Account = account
	tell("account", 0, len(head))

	events := 0
	for at := len(head); at < len(data); { // data[at] is a bar
		tell("data", at, at+1)
		at++
		if at == len(data) || data[at] == '|' {
			continue // an empty block says nothing
		}
		b := SIABlock{Function: data[at]}
		tell("function", at, at+1)
		at++
		if b.Function != 'N' && b.Function != 'O' {
			from := at
			b.Text, at = upTo(data, at, "|")
			tell("text", from, at)
			s.Blocks = append(s.Blocks, b)
			continue
		}
		for at < len(data) && data[at] != '|' {
			if data[at] == '/' {
				tell("data", at, at+1)
				at++
				continue
			}
			var p SIAPacket
			from := at
			switch {
			case len(data)-at >= 2 && capital(data[at]) && capital(data[at+1]):
				p.Code = data[at : at+2]
				p.Value, at = upTo(data, at+2, "/|^*")
				if digits := strings.TrimLeft(p.Value, "0123456789"); strings.HasPrefix(digits, " ") {
					p.Value, p.Text = p.Value[:len(p.Value)-len(digits)], strings.TrimSpace(digits)
				}
				tell("code", from, from+2)
				tell("number", from+2, from+2+len(p.Value))
				tell("text", from+2+len(p.Value), at)
				events++
			case len(data)-at >= 2 && small(data[at]) && small(data[at+1]):
				p.Code = data[at : at+2]
				p.Value, at = modifierValue(data, at+2, p.Code)
				tell("modifier", from, at)
			default:
				return bad(at, phrase("two capitals of an event code or two small letters of a modifier"))
			}
			if at < len(data) && (data[at] == '^' || data[at] == '*') {
				from := at
				if data[at] == '*' {
					p.Text, at = upTo(data, at+1, "|")
				} else if text, _, closed := strings.Cut(data[at+1:], "^"); closed {
					p.Text, at = text, at+len(text)+2
				} else {
					p.Text, at = upTo(data, at+1, "|")
				}
				tell("text", from, at)
			}
			b.Packets = append(b.Packets, p)
		}
		s.Blocks = append(s.Blocks, b)
	}
	if events == 0 {
		return bad(len(head), phrase("at least one event code after N or O"))
	}
	return s, nil
}

// modifierValue reads to the next slash, bar or text; values that can only hold digits and
// punctuation also end at a letter, so that a missing slash does no harm (Nri1FA005).
func modifierValue(data string, at int, code string) (string, int) {
	value, end := upTo(data, at, "/|^*")
	switch code {
	case "ri", "id", "pi", "ti", "da", "ai":
		for i := range len(value) {
			if capital(value[i]) || small(value[i]) {
				return value[:i], at + i
			}
		}
	}
	return value, end
}

// upTo returns what stands from at to the first of the stops, or to the end, and where that is.
func upTo(data string, at int, stops string) (string, int) {
	n := strings.IndexAny(data[at:], stops)
	if n < 0 {
		n = len(data) - at
	}
	return data[at : at+n], at + n
}

func capital(c byte) bool { return 'A' <= c && c <= 'Z' }
func small(c byte) bool   { return 'a' <= c && c <= 'z' }

// String is the data as it stands between the brackets, every packet with its slash. For
// what ParseSIA returned it reads back as the same value.
func (s SIA) String() string {
	var b strings.Builder
	b.WriteString(accountHead(s.Account))
	for _, block := range s.Blocks {
		b.WriteByte('|')
		b.WriteByte(block.Function)
		b.WriteString(block.Text)
		for i, p := range block.Packets {
			if i > 0 {
				b.WriteByte('/')
			}
			b.WriteString(p.Code)
			b.WriteString(p.Value)
			switch {
			case p.Text == "":
			case strings.Contains(p.Text, "^"):
				b.WriteString("*" + p.Text)
			default:
				b.WriteString("^" + p.Text + "^")
			}
		}
	}
	return b.String()
}

// Events are the conditions reported, in their order. Account is empty when the payload
// names none. A text block belongs to the event in front of it.
func (s SIA) Events() []Event {
	var events []Event
	raw := DecodeText(s.String())
	for _, block := range s.Blocks {
		if block.Function != 'N' && block.Function != 'O' {
			if n := len(events); n > 0 {
				text := block.Text
				if block.Function != 'A' {
					text = string([]byte{block.Function}) + text
				}
				events[n-1].Text = joinText(events[n-1].Text, DecodeText(text))
			}
			continue
		}
		var modifiers []string
		area := 0
		for _, p := range block.Packets {
			if small(p.Code[0]) {
				modifiers = setModifier(modifiers, p)
				if p.Code == "ri" {
					area = number(p.Value)
				}
				continue
			}
			e := siaEvent(p, area, modifiers)
			e.Account, e.Late, e.Raw = s.Account, block.Function == 'O', raw
			e.Modifiers = DecodeText(strings.Join(modifiers, "/"))
			events = append(events, e)
		}
	}
	return events
}

func siaEvent(p SIAPacket, area int, modifiers []string) Event {
	m, _ := Lookup(SIADCS, p.Code)
	e := Event{
		Format: SIADCS, Qualifier: New, Code: p.Code, Kind: m.Kind, Family: m.Family, Words: m.Words,
		NumberIs: m.NumberIs, Address: DecodeText(p.Value), Area: area, Text: joinText("", DecodeText(p.Text)),
	}
	switch {
	case m.Kind == KindOpen:
		e.Qualifier = Opening
	case m.Kind == KindClose:
		e.Qualifier = Closing
	case m.Kind.Ends():
		e.Qualifier = Restore
	}
	if p.Value == "" && m.NumberIs == User { // the user stands in a modifier then
		e.Address = DecodeText(modifierOf(modifiers, "id"))
	}
	if e.Address != "" {
		e.Number = number(e.Address)
	}
	switch {
	case e.Number == 0:
		e.NumberIs = NoNumber
	case e.NumberIs == NoNumber:
		e.NumberIs = Zone // a code that needs no address came with one: most senders mean the point
	case e.NumberIs == Area:
		e.Area = e.Number
	}
	return e
}

func modifierOf(modifiers []string, name string) string {
	for _, m := range modifiers {
		if v, ok := strings.CutPrefix(m, name); ok {
			return v
		}
	}
	return ""
}

// setModifier replaces the modifier of the same name: it holds until replaced.
func setModifier(modifiers []string, p SIAPacket) []string {
	next := make([]string, 0, len(modifiers)+1)
	for _, m := range modifiers {
		if !strings.HasPrefix(m, p.Code) {
			next = append(next, m)
		}
	}
	return append(next, p.Code+p.Value)
}

// joinText adds text to what is there, blanks in place of control characters.
func joinText(have, more string) string {
	more = strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F {
			return ' '
		}
		return r
	}, more))
	if have == "" || more == "" {
		return have + more
	}
	return have + " " + more
}
