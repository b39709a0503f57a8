package history

import (
	"strings"

	"proofbell/signal"
)

// reader of meanings; distinct combinations of cells are few, so they are looked up once.
type meanings struct {
	cache map[[3]string]told
}

// told is what the cells of one line say.
type told struct {
	what   *What
	zone   string // found among the words
	area   string
	acct   string
	wordly bool // there was something to read at all
}

const maxCached = 1 << 14

func (m *meanings) of(code, words, qualifier string) told {
	key := [3]string{code, words, qualifier}
	if t, ok := m.cache[key]; ok {
		return t
	}
	t := tell(code, words, qualifier)
	t.what.condition = t.what.name()
	if len(m.cache) < maxCached {
		if m.cache == nil {
			m.cache = map[[3]string]told{}
		}
		m.cache[key] = t
	}
	return t
}

// tell finds the meaning: a code counts before words, a qualifier of its own before one that stands with the code.
func tell(code, text, qualifier string) told {
	t := told{wordly: code != "" || text != ""}
	if p, ok := payload(code); ok {
		return told{what: &p.What, zone: p.zone, area: p.area, acct: p.acct, wordly: true}
	}
	q := qualifierOf(qualifier)
	if m, own, ok := codeOf(code); ok {
		if q == "" {
			q = own
		}
		if q == "" && m.Format == signal.CID {
			q = qualifierIn(text)
		}
		w := withCode(m, q)
		t.what = &w
		return t
	}
	if p, ok := payload(text); ok {
		return told{what: &p.What, zone: p.zone, area: p.area, acct: p.acct, wordly: true}
	}
	said := strings.TrimSpace(code + " " + text)
	if q == "" {
		q = qualifierIn(said)
	}
	kind, family, is := kindOf(strings.ToLower(said), q)
	w := What{Qualifier: q, Kind: kind, Family: family, Words: said, NumberIs: is}
	switch {
	case w.Qualifier != "":
	case kind == signal.KindOpen:
		w.Qualifier = signal.Opening
	case kind == signal.KindClose:
		w.Qualifier = signal.Closing
	default:
		w.Qualifier = signal.New
	}
	t.what = &w
	return t
}

// withCode puts a qualifier to the meaning of a code, as the standards have it.
func withCode(m signal.Meaning, q signal.Qualifier) What {
	w := What{Qualifier: q, Kind: m.Kind, Family: m.Family, Format: m.Format, Code: m.Code, Words: m.Words, NumberIs: m.NumberIs}
	ends := m.Kind.Ends() && m.Kind != signal.KindClose
	switch {
	case m.Kind == signal.KindClose:
		w.Qualifier = signal.Closing
	case m.Format == signal.SIADCS && m.Kind == signal.KindOpen:
		w.Qualifier = signal.Opening
	case m.Format == signal.SIADCS:
		w.Qualifier = signal.New
		if ends {
			w.Qualifier = signal.Restore
		}
	case m.Kind == signal.KindOpen && (q == signal.Restore || q == signal.Closing):
		w.Qualifier, w.Kind = signal.Closing, signal.KindClose
	case m.Kind == signal.KindOpen:
		w.Qualifier = signal.Opening
	case q == signal.Restore || q == signal.Closing:
		w.Qualifier, w.Kind = signal.Restore, m.Kind.End()
	case q == "":
		w.Qualifier = signal.New
	}
	return w
}

// codeOf reads a code with or without its qualifier: 131, E131, R131, 1131, 3131, BA, "BA burglary".
func codeOf(cell string) (m signal.Meaning, q signal.Qualifier, ok bool) {
	s := strings.TrimSpace(cell)
	if i := strings.IndexAny(s, " -:/"); i > 0 {
		if rest := strings.TrimLeft(s[i:], " -:/"); len(rest) == 1 {
			q = qualifierOf(rest)
		}
		s = s[:i]
	}
	s = strings.ToUpper(s)
	if len(s) == 4 {
		lead := map[byte]signal.Qualifier{
			'E': signal.New, 'N': signal.New, '1': signal.New, 'R': signal.Restore, '3': signal.Restore,
			'6': signal.StillPresent, 'P': signal.StillPresent,
		}[s[0]]
		if lead == "" {
			return m, "", false
		}
		q, s = lead, s[1:]
	}
	if len(s) == 3 && allDigits(s) {
		m, ok = signal.Lookup(signal.CID, s)
		return m, q, ok || s[0] >= '1' && s[0] <= '9'
	}
	if len(s) == 2 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'A' && s[1] <= 'Z' {
		m, ok = signal.Lookup(signal.SIADCS, s)
		return m, "", ok
	}
	return m, "", false
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// block is a whole Contact ID payload that stands in one cell or line.
type block struct {
	What
	zone, area, acct string
}

// payload finds QXYZ GG CCC of Contact ID (SIA DC-05) in a text: "[#4816|1131 01 015]", "4816 18 1131 01 015".
func payload(text string) (b block, ok bool) {
	const width = len("QXYZ GG CCC")
	for i := 0; i+width <= len(text); i++ {
		s := text[i : i+width]
		if s[4] != ' ' || s[7] != ' ' || i > 0 && digit(text[i-1]) || i+width < len(text) && digit(text[i+width]) {
			continue
		}
		if !allDigits(s[:4]) || !allDigits(s[5:7]) || !allDigits(s[8:]) || s[0] != '1' && s[0] != '3' && s[0] != '6' {
			continue
		}
		q := map[byte]signal.Qualifier{'1': signal.New, '3': signal.Restore, '6': signal.StillPresent}[s[0]]
		m, _ := signal.Lookup(signal.CID, s[1:4])
		return block{withCode(m, q), s[8:], s[5:7], accountBefore(text[:i])}, true
	}
	return b, false
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

// accountBefore finds the account in front of a payload: after # or as the word before the message type.
func accountBefore(head string) string {
	if i := strings.LastIndexByte(head, '#'); i >= 0 {
		head = head[i+1:]
		for n := range len(head) {
			if !hexDigit(head[n]) {
				return head[:n]
			}
		}
		return head
	}
	fields := strings.Fields(head)
	if n := len(fields); n > 0 && (fields[n-1] == "18" || fields[n-1] == "98") { // message types of DC-05
		fields = fields[:n-1]
	}
	if n := len(fields); n > 0 && len(fields[n-1]) >= 3 && len(fields[n-1]) <= 16 && isHex(fields[n-1]) {
		return fields[n-1]
	}
	return ""
}

func isHex(s string) bool {
	for i := range len(s) {
		if !hexDigit(s[i]) {
			return false
		}
	}
	return s != ""
}

func hexDigit(c byte) bool { return digit(c) || c|0x20 >= 'a' && c|0x20 <= 'f' }

// Words that stand alone in a column for the qualifier.
var qualifierWords = map[string]signal.Qualifier{
	"e": signal.New, "n": signal.New, "1": signal.New, "new": signal.New, "event": signal.New, "on": signal.New, "set": signal.New,
	"active": signal.New, "alarm": signal.New, "begin": signal.New, "start": signal.New, "neu": signal.New, "ein": signal.New,
	"auslösung": signal.New, "ereignis": signal.New, "a": signal.New,
	"r": signal.Restore, "3": signal.Restore, "restore": signal.Restore, "restoral": signal.Restore, "restored": signal.Restore,
	"normal": signal.Restore, "off": signal.Restore, "clear": signal.Restore, "cleared": signal.Restore, "end": signal.Restore,
	"rückstellung": signal.Restore, "rueckstellung": signal.Restore, "ruhe": signal.Restore, "aus": signal.Restore, "ende": signal.Restore,
	"6": signal.StillPresent, "p": signal.StillPresent, "still present": signal.StillPresent, "besteht weiter": signal.StillPresent,
	"opening": signal.Opening, "closing": signal.Closing,
}

func qualifierOf(cell string) signal.Qualifier {
	if cell == "" {
		return ""
	}
	return qualifierWords[strings.ToLower(cell)]
}

// qualifierIn finds the end of a condition among words.
func qualifierIn(text string) signal.Qualifier {
	low := strings.ToLower(text)
	for _, w := range restoreWords {
		if hasWord(low, w) {
			return signal.Restore
		}
	}
	return ""
}

var restoreWords = []string{
	"restore", "restored", "restoral", "restores", "normal", "cleared", "clear", "back", "ended", "end", "ok", "reset",
	"rückstellung", "rueckstellung", "rückgestellt", "behoben", "wieder da", "ruhe", "ende", "beendet", "kommt zurück",
}

// hasWord reports whether w stands in text with no letter beside it.
func hasWord(text, w string) bool {
	for from := 0; ; {
		i := strings.Index(text[from:], w)
		if i < 0 {
			return false
		}
		i += from
		end := i + len(w)
		if (i == 0 || !letter(text[i-1]) && text[i-1] < 0x80) && (end == len(text) || !letter(text[end]) && text[end] < 0x80) {
			return true
		}
		from = i + 1
	}
}

// saying is one way to name a condition in words: every part must stand in the text.
type saying struct {
	parts  []string
	kind   signal.Kind
	family signal.Family
	is     signal.NumberIs
}

// The first that fits counts, so what is special stands above what is general. A part that begins with a blank must begin
// a word; one that ends in a blank must end one.
var sayings = []saying{
	{[]string{"walk"}, signal.KindWalkTested, signal.Tests, signal.Zone},
	{[]string{"on test"}, signal.KindTestBegin, signal.Tests, signal.NoNumber},
	{[]string{"probebetrieb"}, signal.KindTestBegin, signal.Tests, signal.NoNumber},
	{[]string{"periodic"}, signal.KindTest, signal.Tests, signal.NoNumber},
	{[]string{" test "}, signal.KindTest, signal.Tests, signal.NoNumber},
	{[]string{"routineruf"}, signal.KindTest, signal.Tests, signal.NoNumber},
	{[]string{"probealarm"}, signal.KindTest, signal.Tests, signal.NoNumber},
	{[]string{"testmeldung"}, signal.KindTest, signal.Tests, signal.NoNumber},
	{[]string{"exit error"}, signal.KindTrouble, signal.Burglary, signal.Zone},
	{[]string{"bypass"}, signal.KindBypass, signal.System, signal.Zone},
	{[]string{"umgangen"}, signal.KindBypass, signal.System, signal.Zone},
	{[]string{"abgeschaltet"}, signal.KindBypass, signal.System, signal.Zone},
	{[]string{"tamper"}, signal.KindTamper, signal.System, signal.Zone},
	{[]string{"sabotage"}, signal.KindTamper, signal.System, signal.Zone},
	{[]string{"jamming"}, signal.KindSystem, signal.System, signal.NoNumber},
	{[]string{"interference"}, signal.KindSystem, signal.System, signal.NoNumber},
	{[]string{"funkstörung"}, signal.KindSystem, signal.System, signal.NoNumber},
	{[]string{"supervision"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"missing"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"not heard"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"check-in"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"überwachung"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"nicht gehört"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"funkausfall"}, signal.KindSupervisionLost, signal.System, signal.Zone},
	{[]string{"batter", "system"}, signal.KindPower, signal.System, signal.NoNumber},
	{[]string{"batter", "panel"}, signal.KindPower, signal.System, signal.NoNumber},
	{[]string{"akku"}, signal.KindPower, signal.System, signal.NoNumber},
	{[]string{"batter"}, signal.KindBatteryLow, signal.System, signal.Zone},
	{[]string{"mains", " lost "}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"mains", "fail"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"mains", "restor"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"mains", " back "}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{" ac ", "fail"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{" ac ", "loss"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{" ac ", "restor"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"power", "fail"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"power", "restor"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"netzausfall"}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{" netz "}, signal.KindMainsLost, signal.System, signal.NoNumber},
	{[]string{"communic"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{"network"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{" line ", "fault"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{" line ", "fail"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{" path "}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{"polling"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{"übertragungsweg"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{"verbindung"}, signal.KindCommunication, signal.Path, signal.NoNumber},
	{[]string{"restart"}, signal.KindSystem, signal.System, signal.NoNumber},
	{[]string{"power up"}, signal.KindSystem, signal.System, signal.NoNumber},
	{[]string{"neustart"}, signal.KindSystem, signal.System, signal.NoNumber},
	{[]string{"programming"}, signal.KindProgramming, signal.System, signal.NoNumber},
	{[]string{"programmierung"}, signal.KindProgramming, signal.System, signal.NoNumber},
	{[]string{"parametrierung"}, signal.KindProgramming, signal.System, signal.NoNumber},
	{[]string{"cancel"}, signal.KindCancel, signal.People, signal.User},
	{[]string{"fire", "trouble"}, signal.KindTrouble, signal.Fire, signal.Zone},
	{[]string{"maintenance"}, signal.KindMaintenance, signal.Fire, signal.Zone},
	{[]string{"dirty"}, signal.KindMaintenance, signal.Fire, signal.Zone},
	{[]string{"verschmutz"}, signal.KindMaintenance, signal.Fire, signal.Zone},
	{[]string{"wartung"}, signal.KindMaintenance, signal.Fire, signal.Zone},
	{[]string{"trouble"}, signal.KindTrouble, signal.Technical, signal.Zone},
	{[]string{" fault "}, signal.KindTrouble, signal.Technical, signal.Zone},
	{[]string{"störung"}, signal.KindTrouble, signal.Technical, signal.Zone},
	{[]string{"smoke"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{"fire"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{" heat "}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{"call point"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{" rauch"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{"feuer"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{" brand"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{"handmelder"}, signal.KindAlarm, signal.Fire, signal.Zone},
	{[]string{"carbon monoxide"}, signal.KindAlarm, signal.CO, signal.Zone},
	{[]string{"kohlenmonoxid"}, signal.KindAlarm, signal.CO, signal.Zone},
	{[]string{" co ", "alarm"}, signal.KindAlarm, signal.CO, signal.Zone},
	{[]string{" gas "}, signal.KindAlarm, signal.Gas, signal.Zone},
	{[]string{"water"}, signal.KindAlarm, signal.Water, signal.Zone},
	{[]string{"wasser"}, signal.KindAlarm, signal.Water, signal.Zone},
	{[]string{"temperature"}, signal.KindAlarm, signal.Climate, signal.Zone},
	{[]string{"temperatur"}, signal.KindAlarm, signal.Climate, signal.Zone},
	{[]string{"panic"}, signal.KindAlarm, signal.Panic, signal.Zone},
	{[]string{"hold-up"}, signal.KindAlarm, signal.Panic, signal.Zone},
	{[]string{"duress"}, signal.KindAlarm, signal.Panic, signal.User},
	{[]string{"überfall"}, signal.KindAlarm, signal.Panic, signal.Zone},
	{[]string{"medical"}, signal.KindAlarm, signal.Medical, signal.Zone},
	{[]string{"burglar"}, signal.KindAlarm, signal.Burglary, signal.Zone},
	{[]string{"intru"}, signal.KindAlarm, signal.Burglary, signal.Zone},
	{[]string{"einbruch"}, signal.KindAlarm, signal.Burglary, signal.Zone},
	{[]string{"disarm"}, signal.KindOpen, signal.People, signal.User},
	{[]string{"unscharf"}, signal.KindOpen, signal.People, signal.User},
	{[]string{" opened "}, signal.KindOpen, signal.People, signal.User},
	{[]string{" opening "}, signal.KindOpen, signal.People, signal.User},
	{[]string{" armed "}, signal.KindClose, signal.People, signal.User},
	{[]string{" arming "}, signal.KindClose, signal.People, signal.User},
	{[]string{" scharf"}, signal.KindClose, signal.People, signal.User},
	{[]string{" closed "}, signal.KindClose, signal.People, signal.User},
	{[]string{" closing "}, signal.KindClose, signal.People, signal.User},
	{[]string{"alarm"}, signal.KindAlarm, signal.Technical, signal.Zone},
}

// kindOf tells a condition from words in lower case.
func kindOf(low string, q signal.Qualifier) (signal.Kind, signal.Family, signal.NumberIs) {
	padded := " " + strings.Map(func(r rune) rune {
		if strings.ContainsRune(`.,;:/()[]"'#_-`, r) {
			return ' '
		}
		return r
	}, low) + " "
	for _, s := range sayings {
		fits := true
		for _, p := range s.parts {
			if !strings.Contains(padded, p) && !strings.Contains(low, p) {
				fits = false
				break
			}
		}
		if !fits {
			continue
		}
		if q == signal.Restore && s.kind != signal.KindOpen && s.kind != signal.KindClose {
			return s.kind.End(), s.family, s.is
		}
		return s.kind, s.family, s.is
	}
	return signal.KindUnknown, "", signal.Zone
}
