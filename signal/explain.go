package signal

import (
	"encoding/hex"
	"strings"
	"time"
)

// Span is a run of bytes and what it stands for, for showing to a person.
type Span struct {
	From    int    `json:"from"` // first byte; LF is byte 0
	To      int    `json:"to"`   // byte behind the last
	Element string `json:"element"`
	Text    string `json:"text"`           // the bytes, as UTF-8
	Kind    string `json:"kind,omitempty"` // of a qualifier, number, code, modifier, function or field: which one, for programs
	Say     Phrase `json:"say"`

	// Wrong says why the frame can not be taken, at the one span where that shows; nil
	// elsewhere. Hint names a known mistake that makes such bytes.
	Wrong *FrameError `json:"wrong,omitempty"`
	Hint  Phrase      `json:"hint,omitzero"`

	// Inside is what was encrypted, when the key is known: pad, bar, data, fields and time
	// stamp. From and To, and the offset in Wrong, count in the decrypted bytes.
	Inside []Span `json:"inside,omitempty"`
}

// Explain is the Explain of a Policy without keys.
func Explain(raw []byte) []Span { return Policy{}.Explain(raw, time.Time{}) }

// Explain cuts a frame into its elements and says of each what it is and, where the frame
// fails the decision table, why, and what a right one would have. The spans follow each other
// and cover all of raw, whatever it holds (what is missing at the end is an empty one); exactly
// one of them is Wrong when Judge has an error, but a reply is no error here. What is said of a damaged frame is said of the bytes as
// they came.
func (p Policy) Explain(raw []byte, now time.Time) []Span {
	x := explainer{raw: raw}
	_, err := ParseFrame(raw)
	fe, _ := err.(*FrameError)
	if fe != nil && fe.Offset < bodyOffset && (fe.Element == "start" || fe.Element == "end") || len(raw) > MaxFrame || len(raw) < bodyOffset+1 {
		x.unreadable(fe)
		return x.spans
	}
	complete := raw[len(raw)-1] == '\r'
	body := raw[bodyOffset:]
	if complete {
		body = body[:len(body)-1]
	}

	x.take(1, "start", phrase("line feed: a frame begins"))
	x.take(4, "crc", phrase("checksum: %s came, %s is computed from the bytes", DecodeText(string(raw[1:5])), hex4(CRC(body))))
	x.take(4, "length", phrase("length of the body in hexadecimal: %s came, %s is counted, %d bytes", DecodeText(string(raw[5:9])), hex4(uint16(len(body))), len(body)))
	if fe != nil && fe.Offset < bodyOffset {
		if at := &x.spans[1]; fe.Element == "crc" {
			at.Wrong, at.Hint = fe, crcHint(raw, body)
		} else {
			at = &x.spans[2]
			at.Wrong, at.Hint = fe, lengthHint(raw[5:9], body)
		}
	}

	f, err := parseBody(body) // once more: what is behind a wrong checksum or length is read all the same
	inBody, _ := err.(*FrameError)
	x.limit = len(raw)
	if inBody != nil {
		x.limit = inBody.Offset
	}
	x.frame(f)
	switch {
	case !complete && inBody == nil:
		x.spans = append(x.spans, Span{From: x.off, To: x.off, Element: "end", Say: phrase("carriage return is missing"), Wrong: fe})
	case !complete:
		x.unreadable(fe)
	case inBody != nil && fe.Offset < bodyOffset:
		x.unreadable(inBody)
		x.spans[len(x.spans)-1].Wrong = nil // the first test that failed is the reason
	case inBody != nil:
		x.unreadable(inBody)
	default:
		if fe == nil && !f.IsReply() {
			x.judge(p, f, now)
		}
		x.take(1, "end", phrase("carriage return: the frame ends"))
	}
	return x.spans
}

// judge finds what stands against a frame that is whole, and looks into an encrypted one.
func (x *explainer) judge(p Policy, f Frame, now time.Time) {
	r := p.Judge(x.raw, now)
	fe, _ := r.Err.(*FrameError)
	data := len(x.spans) - 1
	for data > 0 && x.spans[data].Element != "data" {
		data--
	}
	at := &x.spans[data]
	if !r.Encrypted {
		x.wrong(fe, data)
		_, notHex := hex.DecodeString(f.Data)
		switch {
		case strings.Contains(f.Data, "]"):
			at.Hint = phrase("something behind the bracket stands in the clear: all of it is encrypted, up to the end")
		case fe != nil && fe.Err == ErrDecrypt && notHex == nil && len(f.Data)%32 == 0 && f.Data != "":
			at.Hint = phrase("the key of this account differs here and at the panel, or the panel encrypts in another way")
		}
		return
	}
	if fe != nil && fe.Element == "id" { // that one stands in the clear
		x.wrong(fe, data)
		fe = nil
	}
	key := p.Secret(f.Prefix, f.Account).Key
	plain, err := f.decrypted(key)
	if err != nil {
		return // r.Encrypted says that it decrypts
	}
	at.Say = phrase("encrypted: %d bytes in hexadecimal, decrypted below", len(f.Data)/2)
	at.Inside = inside(plain, r.Frame, fe, now)
}

// inside explains decrypted bytes, of which clear was read.
func inside(plain []byte, clear Frame, fe *FrameError, now time.Time) []Span {
	x := explainer{raw: plain, limit: len(plain)}
	bar := strings.IndexByte(string(plain), '|')
	x.take(bar, "pad", phrase("pad: %d bytes that mean nothing and vary, so that 16 divides the length", bar))
	if string(plain[:bar]) == "#"+clear.Account {
		x.spans[0].Hint = phrase("this is the account: the pad seems to stand at the end, it belongs in front")
	}
	x.take(1, "pad", phrase("bar: the pad ends, the message begins"))
	x.message(clear)
	if fe == nil {
		return x.spans
	}
	if fe.Err == ErrTimestamp {
		last := len(x.spans) - 1
		at := *fe
		at.Offset = x.spans[last].From
		x.spans[last].Wrong = &at
		x.spans[last].Hint = timeHint(clear, now)
		return x.spans
	}
	at := *fe
	if fe.Element == "data" { // JudgeWith has it at the beginning of the region
		if _, err := clear.Events(); err != nil {
			at.Offset = err.(*FrameError).Offset - clear.DataOffset() + bar + 1
		}
	}
	x.wrong(&at, 0)
	return x.spans
}

// wrong marks the span that the error is about: the one its offset is in, or else the fallback.
func (x *explainer) wrong(fe *FrameError, fallback int) {
	if fe == nil {
		return
	}
	for i, s := range x.spans {
		if s.From <= fe.Offset && fe.Offset < s.To {
			fallback = i
		}
	}
	x.spans[fallback].Wrong = fe
}

// explainer hands out spans from the front, only what ends at or before the limit.
type explainer struct {
	raw   []byte
	off   int
	limit int // 0: none
	full  bool
	spans []Span
}

func (x *explainer) take(n int, element string, say Phrase) {
	if n <= 0 {
		return
	}
	if x.full || x.limit > 0 && x.off+n > x.limit {
		x.full = true
		return
	}
	x.spans = append(x.spans, Span{From: x.off, To: x.off + n, Element: element, Text: DecodeText(string(x.raw[x.off : x.off+n])), Say: say})
	x.off += n
}

// kind notes which one the span is that was just taken.
func (x *explainer) kind(element, kind string) {
	if n := len(x.spans); n > 0 && x.spans[n-1].Element == element {
		x.spans[n-1].Kind = kind
	}
}

// takeIf takes what begins with b, and nothing from there on if that does not: of a frame that
// was not read to its end there may be less than it seems.
func (x *explainer) takeIf(b byte, n int, element string, say Phrase) {
	if x.off < len(x.raw) && x.raw[x.off] != b {
		x.full = true
	}
	x.take(n, element, say)
}

// unreadable makes one span of all that is left.
func (x *explainer) unreadable(fe *FrameError) {
	s := Span{From: x.off, To: len(x.raw), Element: "end", Wrong: fe, Text: DecodeText(string(x.raw[x.off:])), Say: phrase("can not be read")}
	if fe != nil {
		s.Element = fe.Element
		if fe.Err == ErrStart && len(x.raw) == 0 {
			s.Say = phrase("nothing came")
		}
	}
	x.spans = append(x.spans, s)
}

// frame takes the body of a frame.
func (x *explainer) frame(f Frame) {
	n := len(f.ID) + 2
	if f.Encrypted {
		n++
	}
	x.take(n, "id", sayID(f))
	if f.Sequence == 0 {
		x.take(4, "sequence", phrase("message number 0, as supervision and NAK have it"))
	} else {
		x.take(4, "sequence", phrase("message number %d; its reply carries the same", f.Sequence))
	}
	x.take(len(f.Receiver), "receiver", phrase("receiver number"))
	x.take(len(f.Prefix), "prefix", phrase("account prefix"))
	if f.Account == "" {
		x.take(len("A0"), "account", phrase("names no account"))
	} else {
		x.take(1+len(f.Account), "account", phrase("account %s", f.Account))
	}
	if f.Encrypted {
		x.take(1+len(f.Data), "data", phrase("encrypted: %d bytes in hexadecimal", len(f.Data)/2))
		return
	}
	x.take(1, "data", phrase("the data begin"))
	x.message(f)
}

func sayID(f Frame) Phrase {
	if f.Encrypted {
		f.Encrypted = false
		return phrase("%s; encrypted", sayID(f))
	}
	switch f.ID {
	case IDContactID:
		return phrase("Contact ID follows")
	case IDSIA:
		return phrase("SIA event codes follow")
	case IDNull:
		return phrase("supervision of the link, no event")
	case IDAck:
		return phrase("reply: received")
	case IDNak:
		return phrase("reply: the time stamp was refused")
	case IDDuh:
		return phrase("reply: can not be processed")
	case IDRsp:
		return phrase("reply: received; its data are not acted on")
	}
	return phrase("an id we can not read")
}

// message takes what follows the opening bracket.
func (x *explainer) message(f Frame) {
	x.data(f)
	x.takeIf(']', 1, "data", phrase("the data end"))
	for _, field := range f.Fields {
		x.takeIf('[', 2+len(field.Name)+len(field.Value), "field", sayField(field.Detail()))
		x.kind("field", DecodeText(field.Name))
	}
	if f.Timestamp == "" {
		return
	}
	say := phrase("time stamp that can not be read; in a clear message the event counts all the same")
	if at, ok := f.Time(); ok {
		say = phrase("sent at %s UTC", at.Format("2006-01-02 15:04:05"))
	}
	before := len(x.spans)
	x.takeIf('_', 1+len(f.Timestamp), "timestamp", say)
	if len(x.spans) > before {
		x.spans[before].Hint = timeHint(f, time.Time{})
	}
}

func sayField(d Detail) Phrase {
	switch {
	case !d.Fault.IsZero():
		return phrase("%s: %s", d.Words, d.Fault)
	case d.Kind == FieldLongitude || d.Kind == FieldLatitude:
		return phrase("%s: %.4f degrees", d.Words, d.Degrees)
	case d.Kind == FieldOccurred:
		return phrase("%s: %s", d.Words, verbatim(d.Occurred.Format("2006-01-02 15:04:05")))
	case d.Category != "" && d.Paths > 0:
		return phrase("%s: %s, %d", d.Words, d.Category, d.Paths)
	}
	return d.Words
}
