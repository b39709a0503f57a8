package signal

import (
	"errors"
	"fmt"
	"strings"
)

// Span is a run of bytes of a frame and what it stands for, for showing to a person.
type Span struct {
	From    int    `json:"from"` // first byte; LF is byte 0
	To      int    `json:"to"`   // byte behind the last
	Element string `json:"element"`
	Text    string `json:"text"` // the bytes, as UTF-8
	Say     string `json:"say"`
	Bad     bool   `json:"bad,omitempty"`
}

// Explain cuts a frame into its elements and says of each what it is, and where it is wrong,
// why. The spans follow each other and cover all of raw, whatever it holds. What is said of
// a damaged frame is said of the bytes as they came.
func Explain(raw []byte) []Span {
	x := explainer{raw: raw}
	_, err := ParseFrame(raw)
	var fe *FrameError
	errors.As(err, &fe)
	if fe != nil && fe.Offset < bodyOffset && (fe.Element == "start" || fe.Element == "end") || len(raw) > MaxFrame || len(raw) < bodyOffset+1 {
		x.bad(fe)
		return x.spans
	}
	complete := raw[len(raw)-1] == '\r'
	body := raw[bodyOffset:]
	if complete {
		body = body[:len(body)-1]
	}

	x.take(1, "start", "line feed: a frame begins")
	x.take(4, "crc", "checksum of the body, agrees")
	x.take(4, "length", fmt.Sprintf("length of the body in hexadecimal: %d bytes", len(body)))
	if fe != nil && fe.Offset < bodyOffset {
		bad := &x.spans[1]
		if fe.Element == "length" {
			bad = &x.spans[2]
		}
		bad.Bad, bad.Say = true, fe.Error()
	}

	f, err := parseBody(body)
	var inBody *FrameError
	if errors.As(err, &inBody) {
		x.limit = inBody.Offset
	} else {
		x.limit = len(raw)
	}
	x.body(f)
	if inBody != nil {
		x.bad(inBody)
		return x.spans
	}
	if complete {
		x.take(1, "end", "carriage return: the frame ends")
	} else {
		x.bad(fe)
	}
	return x.spans
}

// explainer hands out spans from the front; with a limit, only what ends at or before it.
type explainer struct {
	raw   []byte
	off   int
	limit int // 0: none
	full  bool
	spans []Span
}

func (x *explainer) take(n int, element, say string) {
	if n == 0 {
		return
	}
	if x.full || x.limit > 0 && x.off+n > x.limit {
		x.full = true
		return
	}
	x.spans = append(x.spans, Span{From: x.off, To: x.off + n, Element: element, Text: DecodeText(string(x.raw[x.off : x.off+n])), Say: say})
	x.off += n
}

// bad makes one span of all that is left.
func (x *explainer) bad(fe *FrameError) {
	s := Span{From: x.off, To: len(x.raw), Element: "end", Bad: true, Text: DecodeText(string(x.raw[x.off:]))}
	if fe != nil {
		s.Element, s.Say = fe.Element, fe.Error()
	}
	x.spans = append(x.spans, s)
}

func (x *explainer) body(f Frame) {
	id := map[string]string{
		IDContactID: "Contact ID follows", IDSIA: "SIA event codes follow", IDNull: "supervision of the link, no event",
		IDAck: "reply: received", IDNak: "reply: the time stamp was refused", IDDuh: "reply: can not be processed", IDRsp: "reply with data",
	}[f.ID]
	if id == "" {
		id = "an id we can not read"
	}
	n := len(f.ID) + 2
	if f.Encrypted {
		id, n = id+"; encrypted", n+1
	}
	x.take(n, "id", id)
	x.take(4, "sequence", fmt.Sprintf("message number %d; its reply carries the same", f.Sequence))
	x.take(len(f.Receiver), "receiver", "receiver number")
	x.take(len(f.Prefix), "prefix", "account prefix")
	if f.Account == "" {
		x.take(len("A0"), "account", "names no account")
	} else {
		x.take(1+len(f.Account), "account", "account "+f.Account)
	}
	if f.Encrypted {
		x.take(1+len(f.Data), "data", fmt.Sprintf("encrypted: %d bytes in hexadecimal", len(f.Data)/2))
		return
	}
	x.take(2+len(f.Data), "data", sayData(f))
	for _, field := range f.Fields {
		say := fieldWords[field.Name]
		if say == "" {
			say = "field of a letter we do not know, kept"
		}
		x.take(2+len(field.Name)+len(field.Value), "field", say)
	}
	if f.Timestamp != "" {
		say := "time stamp that can not be read; the event counts all the same"
		if at, ok := f.Time(); ok {
			say = "sent at " + at.Format("2006-01-02 15:04:05") + " UTC"
		}
		x.take(1+len(f.Timestamp), "timestamp", say)
	}
}

func sayData(f Frame) string {
	events, err := f.Events()
	if err != nil {
		return err.Error()
	}
	if len(events) == 0 {
		return "no event"
	}
	var all []string
	for _, e := range events {
		s := string(e.Qualifier) + ": " + e.Words
		if e.NumberIs != NoNumber {
			s += fmt.Sprintf(", %s %s", e.NumberIs, e.Address)
		}
		if e.Area > 0 {
			s += fmt.Sprintf(", area %d", e.Area)
		}
		all = append(all, s)
	}
	return strings.Join(all, "; ")
}

// Extended fields by their letter; beyond M unconfirmed.
var fieldWords = map[string]string{
	"A": "authentication hash", "C": "supervision category and number of paths", "H": "time of occurrence", "I": "alarm text",
	"J": "network path used", "K": "key exchange", "L": "location on site", "M": "hardware address", "N": "network address",
	"O": "building name", "P": "programming or interactive data", "R": "room", "S": "site name", "T": "alarm trigger",
	"V": "where audio or video is found; never fetched by itself", "X": "longitude", "Y": "latitude", "Z": "altitude",
}
