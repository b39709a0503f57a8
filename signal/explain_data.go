package signal

// data takes the payload between the brackets.
func (x *explainer) data(f Frame) {
	switch f.ID {
	case IDContactID:
		x.contactID(f)
	case IDSIA:
		x.sia(f)
	case IDNull:
		x.take(len(f.Data), "data", phrase("supervision carries no data: this is not looked at"))
	default:
		if f.IsReply() {
			x.take(len(f.Data), "data", phrase("data for the sender, not acted on"))
		} else {
			x.take(len(f.Data), "data", phrase("data of an id we can not read"))
		}
	}
}

func (x *explainer) contactID(f Frame) {
	c, err := ParseContactID(f.Data)
	if err != nil {
		x.rest(f.Data, err)
		return
	}
	e := c.Event()
	head := len(f.Data) - len("|QXYZ GG CCC")
	x.payloadAccount(f, c.Account, head)
	x.take(1, "data", phrase("bar: the account ends"))
	x.take(1, "qualifier", sayQualifier(e.Qualifier))
	x.kind("qualifier", string(e.Qualifier))
	x.take(3, "code", sayCode(e))
	x.kind("code", string(e.Kind))
	x.take(1, "data", phrase("blank"))
	if e.Area == 0 {
		x.take(2, "area", phrase("no area"))
	} else {
		x.take(2, "area", phrase("area %s", c.Group))
	}
	x.take(1, "data", phrase("blank"))
	x.take(3, "number", sayNumber(e))
	x.kind("number", string(e.NumberIs))
}

// rest takes a payload that does not follow its format, in two: what was read, and what not.
func (x *explainer) rest(data string, err error) {
	at := err.(*FrameError).Offset
	x.take(min(at, len(data)), "data", phrase("this far it follows its format"))
	x.take(len(data)-at, "data", phrase("this does not follow the format of its id"))
}

func (x *explainer) payloadAccount(f Frame, account string, n int) {
	if account == f.Account {
		x.take(n, "account", phrase("account %s", account))
	} else {
		x.take(n, "account", phrase("account %s: the event is of this one, the frame comes from %s", account, f.Account))
	}
}

func (x *explainer) sia(f Frame) {
	var parts []part
	s, err := parseSIA(f.Data, &parts)
	events := s.Events()
	var code string
	var e Event
	at := 0
	for _, p := range parts {
		text := f.Data[p.from:p.to]
		at = p.to
		switch p.element {
		case "account":
			account, _ := payloadAccount(text)
			x.payloadAccount(f, account, len(text))
		case "function":
			x.take(1, "function", sayFunction(text[0]))
			x.kind("function", text)
		case "modifier":
			x.take(len(text), "modifier", sayModifier(text[:2], DecodeText(text[2:])))
			x.kind("modifier", text[:2])
		case "code":
			code = text
			if len(events) > 0 { // events follow the codes in their order; there are none of a payload with an error
				e, events = events[0], events[1:]
			} else {
				m, _ := Lookup(SIADCS, code)
				e = Event{Code: code, Words: m.Words, Kind: m.Kind, NumberIs: m.NumberIs}
			}
			x.take(2, "code", sayCode(e))
			x.kind("code", string(e.Kind))
		case "number":
			e.Address = DecodeText(text)
			x.take(len(text), "number", sayNumber(e))
			x.kind("number", string(e.NumberIs))
		case "text":
			x.take(len(text), "text", phrase("text"))
		default:
			if text == "|" {
				x.take(1, "data", phrase("bar: the next block begins"))
			} else {
				x.take(1, "data", phrase("slash: the next part"))
			}
		}
	}
	if err == nil {
		return
	}
	fe := err.(*FrameError)
	if fe.Offset < at { // about all of it: no event at all
		return
	}
	x.take(len(f.Data)-at, "data", phrase("this does not follow the format of its id"))
}

func sayQualifier(q Qualifier) Phrase {
	switch q {
	case Restore:
		return phrase("restore: it is over")
	case StillPresent:
		return phrase("reported before and still there")
	case Opening:
		return phrase("opening, disarmed")
	case Closing:
		return phrase("closing, armed")
	}
	return phrase("new event")
}

// sayCode says the code in our words; those are a key of translations as they stand.
func sayCode(e Event) Phrase {
	if e.Kind == KindUnknown {
		return phrase("code that we do not know, kept")
	}
	return Phrase{Format: e.Words}
}

func sayNumber(e Event) Phrase {
	if e.Number == 0 && e.NumberIs == NoNumber {
		return phrase("no number")
	}
	switch e.NumberIs {
	case User:
		return phrase("user %s", e.Address)
	case Area:
		return phrase("area %s", e.Address)
	case Door:
		return phrase("door %s", e.Address)
	case Line:
		return phrase("line %s", e.Address)
	case Expander:
		return phrase("expander %s", e.Address)
	}
	return phrase("zone %s", e.Address)
}

func sayFunction(b byte) Phrase {
	switch b {
	case 'N':
		return phrase("new events follow")
	case 'O':
		return phrase("events that happened earlier follow")
	case 'A':
		return phrase("text follows")
	}
	return phrase("block of a kind we do not know, kept as text")
}

// sayModifier: ti, ri, id, pi, ai and ph agree between implementations; the others are
// unconfirmed.
func sayModifier(name, value string) Phrase {
	switch name {
	case "ri":
		return phrase("area %s", value)
	case "id":
		return phrase("user %s", value)
	case "ti":
		return phrase("time at the panel %s", value)
	case "da":
		return phrase("date at the panel %s", value)
	case "pi":
		return phrase("keypad or expander %s", value)
	case "ai":
		return phrase("automatic function %s", value)
	case "ph":
		return phrase("telephone %s", value)
	case "lv":
		return phrase("level %s", value)
	case "va":
		return phrase("value %s", value)
	case "pt":
		return phrase("path %s", value)
	case "rg":
		return phrase("route group %s", value)
	case "ss":
		return phrase("sub-account %s", value)
	}
	return phrase("modifier of letters we do not know, kept")
}
