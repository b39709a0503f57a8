package app

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"

	"proofbell/internal/words"
	"proofbell/signal"
)

// Lesson is a frame explained range by range, for a person who debugs a panel. It says what stands where; the page has
// the sentences. Of fields that may carry keys or codes (K, P) only the letter is in it.
type Lesson struct {
	FrameRow
	Ranges    []Range `json:"ranges"`           // they follow each other and cover all of what came
	Inside    []Range `json:"inside,omitempty"` // what stands inside the encrypted region, from its first byte
	Reply     []Range `json:"reply,omitempty"`  // what was answered
	ReplyLost bool    `json:"replyLost,omitempty"`
	Right     *Right  `json:"right,omitempty"`
}

// Right is a frame as it would be taken.
type Right struct {
	Mended bool    `json:"mended"`           // the same frame, mended; otherwise an example for this account
	Time   string  `json:"time,omitempty"`   // only this is wrong: the time stamp that would have been right then
	Ranges []Range `json:"ranges,omitempty"` // of the right frame
}

// Range is a run of bytes of one element.
type Range struct {
	From    int    `json:"from"` // first byte, counted from 0
	To      int    `json:"to"`   // byte behind the last
	Element string `json:"element"`
	Bad     bool   `json:"bad,omitempty"`
	Text    []Bit  `json:"text"`
	Hex     string `json:"hex"`             // bytes parted by blanks
	Got     string `json:"got,omitempty"`   // checksum and length as they came
	Want    string `json:"want,omitempty"`  // and as they were computed
	Words   string `json:"words,omitempty"` // what a code means, in the reader's language; the letter of a field; a time in UTC
	Number  int    `json:"number,omitempty"`
	Hint    string `json:"hint,omitempty"`   // the mistake that makes such bytes, where it is a known one
	Hidden  bool   `json:"hidden,omitempty"` // not shown: it may be a key or a code
}

// Bit is text that can be shown, or one byte that can not.
type Bit struct {
	Text string `json:"text,omitempty"`
	Byte string `json:"byte,omitempty"` // two hexadecimal digits
}

// FrameLesson explains a frame that is still held. ErrNotFound when it is not.
func (a *App) FrameLesson(n int64, lang *words.Language) (*Lesson, error) {
	k := a.frames.find(n)
	if k == nil {
		return nil, &Problem{Code: NotFound, Say: words.Mark("This frame is no longer held: newer ones took its place."), Try: words.Mark("Go back to the newest frames."), Err: ErrNotFound}
	}
	l := &Lesson{FrameRow: a.row(k, lang), ReplyLost: k.replyLost}
	if k.lost > 0 {
		l.Ranges = []Range{ranged(k.raw, k.raw, signal.Span{To: len(k.raw), Element: "start"})}
		l.Ranges[0].Bad = true
	} else {
		l.Ranges = ranges(k.raw, lang)
		mark(l.Ranges, l.Fault)
		l.Right = right(k, lang)
	}
	if k.clear != nil {
		l.Inside = inside(k, l.Fault, lang)
	}
	if k.reply != nil {
		l.Reply = ranges(k.reply, lang)
	}
	return l, nil
}

// ranges cuts a frame, its data as well.
func ranges(raw []byte, lang *words.Language) []Range {
	shown := hidden(raw)
	frame, _ := signal.ParseFrame(raw)
	var out []Range
	headed := false
	joined := -1 // where a bracket, slash or blank began that is shown with what follows it
	for _, s := range signal.Explain(raw) {
		if s.Element == "data" && s.Wrong == nil && (s.Text == "[" || s.Text == "/" || s.Text == " ") {
			if joined < 0 {
				joined = s.From
			}
			continue
		}
		if joined >= 0 {
			s.From, joined = joined, -1
		}
		r := ranged(raw, shown, s)
		r.Hint = s.Hint.In(lang.Say)
		r.Bad = s.Wrong != nil && s.Wrong.Err != signal.ErrEncrypted // whether a key is known is told by the fault
		switch s.Element {
		case "crc", "length":
			if body := bodyOf(raw); body != nil {
				r.Got, r.Want = string(raw[s.From:s.To]), fmt.Sprintf("%04X", signal.CRC(body))
				if s.Element == "length" {
					r.Want, r.Number = fmt.Sprintf("%04X", len(body)), len(body)
				}
				r.Bad = r.Got != r.Want
			}
		case "id":
			r.Words = strings.Trim(string(raw[s.From:s.To]), `"`)
		case "sequence":
			r.Number = frame.Sequence
		case "field":
			if s.To-s.From > 2 {
				r.Words = string(raw[s.From+1 : s.From+2])
			}
		case "timestamp":
			if at, ok := frame.Time(); ok {
				r.Words = at.Format("2006-01-02 15:04:05")
			}
		case "account":
			if headed { // the head has named it
				r.Element, r.Words = "data-account", strings.TrimPrefix(s.Text, "#")
			}
			headed = true
		case "qualifier", "code", "area", "number", "function", "modifier", "text":
			r.Element, r.Words = dataElement(frame.ID, s), s.Kind
			switch {
			case s.Element == "code" && s.Kind == string(signal.KindUnknown):
				r.Words = ""
			case s.Element == "code":
				r.Words = s.Say.In(lang.Say)
			case s.Element == "area":
				r.Words = s.Text
			}
		case "data":
			switch {
			case frame.Encrypted:
				r.Element, r.Number = "cipher", len(frame.Data)/2
			case s.Text == "|":
				r.Element = "bar"
			case s.Text == "]":
				r.Element = "data-end"
			}
		}
		out = append(out, r)
	}
	return out
}

// dataElement names a part of the payload after its format.
func dataElement(id string, s signal.Span) string {
	switch {
	case id == signal.IDContactID:
		return "cid-" + s.Element
	case s.Element == "number":
		return "sia-address"
	case s.Element == "function" && s.Kind != "N" && s.Kind != "O":
		return "sia-text"
	}
	return "sia-" + s.Element
}

func bodyOf(raw []byte) []byte {
	if len(raw) < 10 || raw[0] != '\n' {
		return nil
	}
	return bytes.TrimSuffix(raw[9:], []byte{'\r'})
}

func ranged(raw, shown []byte, s signal.Span) Range {
	part := shown[s.From:s.To]
	r := Range{From: s.From, To: s.To, Element: s.Element, Text: bits(part), Hidden: !bytes.Equal(part, raw[s.From:s.To])}
	digits := make([]string, len(part))
	for i, b := range part {
		digits[i] = fmt.Sprintf("%02X", b)
		if b != raw[s.From+i] {
			digits[i] = "**"
		}
	}
	r.Hex = strings.Join(digits, " ")
	return r
}

// bits parts what can be shown from what can not.
func bits(part []byte) []Bit {
	out := []Bit{}
	text := ""
	flush := func() {
		if text != "" {
			out = append(out, Bit{Text: text})
			text = ""
		}
	}
	for _, b := range part {
		if b < 0x20 || 0x7F <= b && b < 0xA0 && signal.DecodeText(string([]byte{b})) == string(rune(b)) {
			flush()
			out = append(out, Bit{Byte: fmt.Sprintf("%02X", b)})
			continue
		}
		text += signal.DecodeText(string([]byte{b}))
	}
	flush()
	return out
}

// secretFields are those whose value may be a key or a code: K is an exchange of keys, P programming.
var secretFields = regexp.MustCompile(`\[[KP][^\]\r]*`)

// hidden returns the bytes with stars in place of what is not for showing.
func hidden(raw []byte) []byte {
	shown := bytes.Clone(raw)
	for _, at := range secretFields.FindAllIndex(raw, -1) {
		for i := at[0] + 2; i < at[1]; i++ {
			shown[i] = '*'
		}
	}
	return shown
}

// mark marks the range at which a sound frame could not be taken.
func mark(all []Range, fault *FrameFault) {
	if fault == nil {
		return
	}
	for _, r := range all {
		if r.Bad {
			return
		}
	}
	for i, r := range all {
		if r.From <= fault.Offset && fault.Offset < r.To {
			all[i].Bad = true
			return
		}
	}
}

// inside cuts the decrypted region: pad and bar, which a clear frame does not have, then what a clear frame has from its
// data on. Offsets count from the first byte of the region.
func inside(k *keptFrame, fault *FrameFault, lang *words.Language) []Range {
	wire, _ := signal.ParseFrame(k.raw)
	clear, err := signal.ParseFrame(k.clear)
	if err != nil {
		return nil
	}
	begin := clear.DataOffset()
	pad := len(wire.Data)/2 - (len(k.clear) - 1 - begin) - 1
	if pad < 1 {
		return nil
	}
	out := []Range{{To: pad, Element: "pad", Number: pad, Text: []Bit{}}, {From: pad, To: pad + 1, Element: "bar", Text: bits([]byte("|")), Hex: "7C"}}
	for _, r := range ranges(k.clear, lang) {
		if r.To <= begin || r.Element == "end" {
			continue
		}
		if r.From < begin { // the opening bracket stands outside, in the clear
			r.From, r.Hex = begin, strings.TrimPrefix(strings.TrimPrefix(r.Hex, "5B"), " ")
			if len(r.Text) > 0 {
				r.Text[0].Text = strings.TrimPrefix(r.Text[0].Text, "[")
			}
			if r.From == r.To {
				continue
			}
		}
		r.From, r.To = r.From-begin+pad+1, r.To-begin+pad+1
		r.Bad = r.Bad || fault != nil && fault.Element == r.Element
		out = append(out, r)
	}
	return out
}

// right says what a frame would have been that is taken; nil where the bytes are right, or where they can not tell.
func right(k *keptFrame, lang *words.Language) *Right {
	if k.fault == nil {
		return nil
	}
	switch signal.Cause(k.fault) {
	case signal.Cause(signal.ErrTimestamp):
		return &Right{Time: signal.FormatTimestamp(k.at)}
	case signal.Cause(signal.ErrDecrypt), signal.Cause(signal.ErrEncrypted), signal.Cause(signal.ErrNotEncrypted):
		return nil
	}
	if frame, _ := signal.ParseFrame(k.raw); frame.IsReply() {
		return nil
	}
	if raw := mended(k.raw); raw != nil {
		return &Right{Mended: true, Ranges: ranges(raw, lang)}
	}
	return &Right{Ranges: ranges(example(k.raw), lang)}
}

// mended is the frame with checksum and length as they should be; nil where more than these is wrong, or nothing.
func mended(raw []byte) []byte {
	body := bodyOf(raw)
	if body == nil || raw[len(raw)-1] != '\r' || len(body) > signal.MaxBody {
		return nil
	}
	out := fmt.Appendf([]byte{'\n'}, "%04X%04X", signal.CRC(body), len(body))
	out = append(append(out, body...), '\r')
	if _, err := signal.ParseFrame(out); err != nil || bytes.Equal(raw, out) {
		return nil
	}
	return out
}

// example is a manual test of the account, in the form that the frame seems to have.
func example(raw []byte) []byte {
	frame, _ := signal.ParseFrame(raw)
	f := signal.Frame{ID: signal.IDSIA, Sequence: max(frame.Sequence, 1), Receiver: frame.Receiver, Prefix: frame.Prefix, Account: frame.Account}
	if f.Account == "" {
		f.Account = "1234"
	}
	f.Data = "#" + f.Account + "|Nri1/RX0"
	if bytes.Contains(raw, []byte(signal.IDContactID)) {
		f.ID, f.Data = signal.IDContactID, "#"+f.Account+"|1601 01 000"
	}
	return f.Append(nil)
}
