package signal

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// Sizes of a frame, DC-09 5.5.1.3: the length field is 0 and three hexadecimal digits.
const (
	MaxBody  = 0x0FFF                  // bytes from the first quote to the byte before CR
	MaxFrame = 1 + 4 + 4 + MaxBody + 1 // with LF, CRC, length and CR: 4105 bytes
)

// Id tokens of DC-09 that this package understands. An encrypted message carries the same
// token with an asterisk in front; see [Frame.Encrypted].
const (
	IDContactID = "ADM-CID" // payload in Contact ID form
	IDSIA       = "SIA-DCS" // payload in SIA event codes
	IDNull      = "NULL"    // link supervision, no event
	IDAck       = "ACK"
	IDNak       = "NAK"
	IDDuh       = "DUH"
	IDRsp       = "RSP" // acknowledges and carries data back; form unconfirmed, its data is never acted on
)

// Causes inside a [FrameError], for errors.Is.
var (
	ErrStart     = errors.New("no line feed in front")
	ErrTruncated = errors.New("ends before it is complete")
	ErrTooLong   = errors.New("longer than DC-09 allows")
	ErrNotHex    = errors.New("not four digits 0-9 A-F")
	ErrCRC       = errors.New("checksum differs")
	ErrLength    = errors.New("length differs")
	ErrSyntax    = errors.New("not as DC-09 has it")
	ErrUnknownID = errors.New("id is not one we can read")
	ErrPayload   = errors.New("payload does not follow its format")
	ErrEncrypted = errors.New("encrypted")
	ErrTimestamp = errors.New("time stamp missing or outside the window")
)

// FrameError says which element of a frame could not be taken, where and why.
type FrameError struct {
	Offset  int    // index in the frame as received; LF is byte 0
	Element string // start, crc, length, id, sequence, receiver, prefix, account, data, field, timestamp, end
	Err     error  // one of the sentinels of this package
	Got     string // what stands there, "" if that says nothing; may hold any byte
	Want    Phrase // what was expected; says nothing if that is not one thing
}

func (e *FrameError) Error() string {
	s := fmt.Sprintf("frame: %s at byte %d: %v", e.Element, e.Offset, e.Err)
	if e.Got != "" {
		s += fmt.Sprintf(", it says %q", e.Got)
	}
	if !e.Want.IsZero() {
		s += ", expected " + e.Want.String()
	}
	return s
}

// Phrase is the error for a person, with the element in words.
func (e *FrameError) Phrase() Phrase {
	element, cause := elementWords(e.Element), causeWords(e.Err)
	got := strconv.QuoteToGraphic(DecodeText(e.Got))
	switch {
	case e.Got != "" && !e.Want.IsZero():
		return phrase("%s at byte %d: %s. It says %s, expected: %s", element, e.Offset, cause, got, e.Want)
	case e.Got != "":
		return phrase("%s at byte %d: %s. It says %s", element, e.Offset, cause, got)
	case !e.Want.IsZero():
		return phrase("%s at byte %d: %s. Expected: %s", element, e.Offset, cause, e.Want)
	}
	return phrase("%s at byte %d: %s", element, e.Offset, cause)
}

func (e *FrameError) Unwrap() error { return e.Err }

// A Field is one bracketed extended field behind the data.
type Field struct {
	Name  string // first byte of the bracket, by the standard a capital letter; "" for an empty bracket
	Value string // the rest, single bytes as on the wire (Windows-1252); see Text
}

// Text returns the value as UTF-8.
func (f Field) Text() string { return DecodeText(f.Value) }

// NewField makes an extended field from UTF-8 text. The error matches [ErrSyntax] when the
// text has a character that Windows-1252 lacks, or one that would end the field.
func NewField(name byte, text string) (Field, error) {
	v, err := EncodeText(text)
	if err == nil && strings.ContainsAny(v, "[]\r\n") {
		err = fmt.Errorf("field %c: %w: brackets and line ends can not be sent", name, ErrSyntax)
	}
	return Field{Name: string(name), Value: v}, err
}

// Frame is one DC-09 message or reply. Strings hold single bytes as on the wire; only text
// inside Data and Fields can go beyond ASCII, and then it is Windows-1252.
type Frame struct {
	ID        string  // token between the quotes, without the asterisk
	Encrypted bool    // an asterisk stood in front of the token; Data then holds all that follows the bracket, in hex
	Sequence  int     // 0 to 9999; 0 in NULL and NAK
	Receiver  string  // "R" and 1 to 6 hex digits, "" when absent
	Prefix    string  // "L" and up to 6 hex digits as received; "" is written as "L0"
	Account   string  // 1 to 16 hex digits as received; "" only in a NAK that names none
	Data      string  // between the first brackets
	Fields    []Field // extended fields in their order
	Timestamp string  // HH:MM:SS,MM-DD-YYYY without the underscore, as received; "" when absent. See Time
}

// ParseFrame reads one frame, from its LF to its CR, both included. The error is a
// *FrameError. The order of the tests is that of a receiver: edges, checksum, length, body;
// so an error other than ErrCRC and before the body still means an undamaged frame.
//
// With an error the frame returned holds what could be read in spite of it, for showing to a
// person: it may be damaged, and nothing else may be done with it.
func ParseFrame(raw []byte) (Frame, error) {
	if len(raw) > MaxFrame {
		return Frame{}, &FrameError{Offset: MaxFrame, Element: "end", Err: ErrTooLong}
	}
	if len(raw) == 0 || raw[0] != '\n' {
		return Frame{}, &FrameError{Offset: 0, Element: "start", Err: ErrStart}
	}
	if len(raw) < 10 || raw[len(raw)-1] != '\r' {
		return Frame{}, &FrameError{Offset: len(raw), Element: "end", Err: ErrTruncated}
	}
	crc, length, body := raw[1:5], raw[5:9], raw[9:len(raw)-1]
	if !upperHex(crc) {
		return Frame{}, &FrameError{Offset: 1, Element: "crc", Err: ErrNotHex, Got: string(crc)}
	}
	if !upperHex(length) {
		return Frame{}, &FrameError{Offset: 5, Element: "length", Err: ErrNotHex, Got: string(length)}
	}
	if length[0] != '0' {
		return Frame{}, &FrameError{Offset: 5, Element: "length", Err: ErrTooLong, Got: string(length), Want: phrase("at most %s", "0FFF")}
	}
	if want := CRC(body); !isHex4(crc, want) {
		f, _ := parseBody(body)
		return f, &FrameError{Offset: 1, Element: "crc", Err: ErrCRC, Got: string(crc), Want: verbatim(hex4(want))}
	}
	if want := uint16(len(body)); !isHex4(length, want) {
		f, _ := parseBody(body)
		return f, &FrameError{Offset: 5, Element: "length", Err: ErrLength, Got: string(length), Want: verbatim(hex4(want))}
	}
	return parseBody(body)
}

// bodyOffset is where the body begins in a frame: behind LF, CRC and length.
const bodyOffset = 9

func parseBody(body []byte) (Frame, error) {
	c := cursor{raw: body}
	var f Frame

	c.literal("\"", "id")
	id := c.until("\"", "id")
	c.literal("\"", "id")
	if strings.HasPrefix(id, "*") {
		f.Encrypted, id = true, id[1:]
	}
	if c.err == nil && !token(id) {
		c.fail(1, "id", ErrSyntax, id, phrase("letters, digits and dashes"))
	}
	f.ID = id

	if digits := c.run(decimal, "sequence", 4, 4); c.err == nil {
		f.Sequence, _ = strconv.Atoi(digits) // four decimal digits
	}
	if c.peek() == 'R' {
		c.off++
		f.Receiver = "R" + c.run(hexDigit, "receiver", 1, 6)
	}
	c.literal("L", "prefix")
	f.Prefix = "L" + c.run(hexDigit, "prefix", 0, 6)
	if f.ID == IDNak && c.err == nil && c.peek() == '[' && strings.HasSuffix(f.Prefix, "A0") {
		// A NAK names no account: literally A0 stands where #acct would (DC-09-2013 5.5.3.2).
		f.Prefix = strings.TrimSuffix(f.Prefix, "A0")
	} else {
		c.literal("#", "account")
		f.Account = c.run(hexDigit, "account", 1, 16)
	}
	c.literal("[", "data")
	if f.Encrypted {
		f.Data = c.rest() // no closing bracket in the clear: it is inside (DC-09-2013 5.4.4.1)
		c.noLineEnd()
		return f, c.error()
	}
	f.Data = c.bracket("data")
	for c.err == nil && c.peek() == '[' {
		c.off++
		if text := c.bracket("field"); c.err == nil {
			field := Field{}
			if text != "" {
				field = Field{Name: text[:1], Value: text[1:]}
			}
			f.Fields = append(f.Fields, field)
		}
	}
	if c.err == nil && c.peek() == '_' {
		c.off++
		at := c.off
		f.Timestamp = c.rest()
		if f.Timestamp == "" || strings.ContainsAny(f.Timestamp, "[]") {
			c.fail(at, "timestamp", ErrSyntax, f.Timestamp, verbatim(stampForm))
		}
	}
	if c.err == nil && c.off < len(body) {
		c.fail(c.off, "end", ErrSyntax, string(body[c.off:]), phrase("a field, a time stamp or the end of the frame"))
	}
	c.noLineEnd()
	return f, c.error()
}

// Append writes the frame with its LF, CRC, length and CR to dst and returns the longer
// slice. It does not check: use [Frame.Encode] for a frame that did not come from ParseFrame.
func (f Frame) Append(dst []byte) []byte {
	start := len(dst)
	dst = append(dst, "\n00000000"...)
	dst = f.appendBody(dst)
	body := dst[start+bodyOffset:]
	putHex4(dst[start+1:], CRC(body))
	putHex4(dst[start+5:], uint16(len(body)))
	return append(dst, '\r')
}

func (f Frame) appendBody(dst []byte) []byte {
	dst = f.appendHead(dst)
	dst = append(dst, f.Data...)
	if f.Encrypted {
		return dst
	}
	return f.appendTail(dst)
}

// appendHead writes what stays readable in an encrypted frame, up to the opening bracket.
func (f Frame) appendHead(dst []byte) []byte {
	dst = append(dst, '"')
	if f.Encrypted {
		dst = append(dst, '*')
	}
	dst = append(dst, f.ID...)
	dst = append(dst, '"')
	if n := f.Sequence; 0 <= n && n <= 9999 {
		dst = append(dst, byte('0'+n/1000), byte('0'+n/100%10), byte('0'+n/10%10), byte('0'+n%10))
	} else {
		dst = strconv.AppendInt(dst, int64(n), 10) // no frame: Encode finds out
	}
	dst = append(dst, f.Receiver...)
	if f.Prefix == "" {
		dst = append(dst, "L0"...)
	} else {
		dst = append(dst, f.Prefix...)
	}
	if f.ID == IDNak && f.Account == "" {
		dst = append(dst, "A0"...)
	} else {
		dst = append(dst, '#')
		dst = append(dst, f.Account...)
	}
	return append(dst, '[')
}

// appendTail writes what follows the data: closing bracket, fields, time stamp.
func (f Frame) appendTail(dst []byte) []byte {
	dst = append(dst, ']')
	for _, x := range f.Fields {
		dst = append(dst, '[')
		dst = append(dst, x.Name...)
		dst = append(dst, x.Value...)
		dst = append(dst, ']')
	}
	if f.Timestamp != "" {
		dst = append(dst, '_')
		dst = append(dst, f.Timestamp...)
	}
	return dst
}

// Encode returns the frame as it goes on the wire. It refuses, with a *FrameError, a frame
// that ParseFrame would not read back as the same value: an account that is not
// hexadecimal, a bracket inside a field, a body over MaxBody.
func (f Frame) Encode() ([]byte, error) {
	if f.Prefix == "" {
		f.Prefix = "L0"
	}
	if n := len(f.appendBody(nil)); n > MaxBody {
		return nil, &FrameError{Offset: 5, Element: "length", Err: ErrTooLong, Got: strconv.Itoa(n), Want: phrase("at most %d bytes", MaxBody)}
	}
	raw := f.Append(nil)
	again, err := ParseFrame(raw)
	if err != nil {
		return nil, err
	}
	if len(f.Fields) == 0 {
		f.Fields = nil
	}
	if !reflect.DeepEqual(again, f) {
		return nil, &FrameError{Offset: bodyOffset, Element: "data", Err: ErrSyntax, Want: phrase("values without brackets, quotes or underscores that change the meaning")}
	}
	return raw, nil
}

// DataOffset is the index of the first byte of Data in the encoded frame.
func (f Frame) DataOffset() int { return bodyOffset + len(f.appendHead(nil)) }

// Field returns the first extended field of that name, as UTF-8 text.
func (f Frame) Field(name string) (string, bool) {
	for _, x := range f.Fields {
		if x.Name == name {
			return x.Text(), true
		}
	}
	return "", false
}

// IsReply reports whether the frame answers a message instead of being one.
func (f Frame) IsReply() bool {
	switch f.ID {
	case IDAck, IDNak, IDDuh, IDRsp:
		return true
	}
	return false
}

// CRC is the checksum of DC-09: CRC-16/ARC (polynomial 8005 reflected, start value 0) over
// the body. DC-09-2007 5.5.1.2; its check value over "123456789" is BB3D.
func CRC(body []byte) uint16 {
	var crc uint16
	for _, b := range body {
		crc = crc>>8 ^ crcTable[byte(crc)^b]
	}
	return crc
}

var crcTable = func() (t [256]uint16) {
	for i := range t {
		v := uint16(i)
		for range 8 {
			if v&1 == 1 {
				v = v>>1 ^ 0xA001
			} else {
				v >>= 1
			}
		}
		t[i] = v
	}
	return t
}()

// putHex4 writes four capital digits to the front of dst.
func putHex4(dst []byte, v uint16) {
	const digits = "0123456789ABCDEF"
	dst[0], dst[1], dst[2], dst[3] = digits[v>>12], digits[v>>8&0xF], digits[v>>4&0xF], digits[v&0xF]
}

func hex4(v uint16) string {
	var b [4]byte
	putHex4(b[:], v)
	return string(b[:])
}

func isHex4(have []byte, v uint16) bool {
	var b [4]byte
	putHex4(b[:], v)
	return string(have) == string(b[:])
}

func upperHex(b []byte) bool {
	for _, c := range b {
		if !decimal(c) && (c < 'A' || c > 'F') {
			return false
		}
	}
	return true
}

func decimal(c byte) bool  { return '0' <= c && c <= '9' }
func hexDigit(c byte) bool { return decimal(c) || 'A' <= c && c <= 'F' || 'a' <= c && c <= 'f' }

func token(id string) bool {
	for i := range len(id) {
		c := id[i]
		if !decimal(c) && c != '-' && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') {
			return false
		}
	}
	return id != ""
}

// cursor walks over a body. After the first error every method returns nothing.
type cursor struct {
	raw []byte
	off int
	err *FrameError
}

func (c *cursor) error() error {
	if c.err == nil {
		return nil // a nil *FrameError in an error would not be nil
	}
	return c.err
}

func (c *cursor) fail(off int, element string, err error, got string, want Phrase) {
	if c.err == nil {
		if len(got) > 32 {
			got = got[:32]
		}
		c.err = &FrameError{Offset: bodyOffset + off, Element: element, Err: err, Got: got, Want: want}
	}
}

// peek returns the next byte, or 0 at the end and after an error.
func (c *cursor) peek() byte {
	if c.err != nil || c.off >= len(c.raw) {
		return 0
	}
	return c.raw[c.off]
}

func (c *cursor) literal(s, element string) {
	if c.err != nil {
		return
	}
	if !bytes.HasPrefix(c.raw[c.off:], []byte(s)) {
		if c.off == len(c.raw) {
			c.fail(c.off, element, ErrTruncated, "", verbatim(strconv.Quote(s)))
		} else {
			c.fail(c.off, element, ErrSyntax, string(c.raw[c.off:c.off+1]), verbatim(strconv.Quote(s)))
		}
		return
	}
	c.off += len(s)
}

// until returns the bytes up to the stop, which is left in place.
func (c *cursor) until(stop, element string) string {
	if c.err != nil {
		return ""
	}
	n := bytes.Index(c.raw[c.off:], []byte(stop))
	if n < 0 {
		c.fail(len(c.raw), element, ErrTruncated, "", verbatim(strconv.Quote(stop)))
		return ""
	}
	c.off += n
	return string(c.raw[c.off-n : c.off])
}

// run takes the longest run of such bytes, which must be min to max long.
func (c *cursor) run(is func(byte) bool, element string, min, max int) string {
	if c.err != nil {
		return ""
	}
	n := 0
	for c.off+n < len(c.raw) && is(c.raw[c.off+n]) && n <= max {
		n++
	}
	text := string(c.raw[c.off : c.off+n])
	switch {
	case n > max:
		c.fail(c.off, element, ErrSyntax, text, phrase("at most %d digits", max))
		return ""
	case n < min:
		c.fail(c.off, element, ErrSyntax, text, phrase("at least %d digits", min))
		return ""
	}
	c.off += n
	return text
}

// bracket takes the text up to and with the closing bracket.
func (c *cursor) bracket(element string) string {
	at := c.off
	text := c.until("]", element)
	if i := strings.IndexByte(text, '['); i >= 0 {
		c.fail(at+i, element, ErrSyntax, "[", phrase("a closing bracket before the next opening one"))
		return ""
	}
	c.literal("]", element)
	return text
}

// noLineEnd refuses what no stream could have delivered as one frame.
func (c *cursor) noLineEnd() {
	if i := bytes.IndexAny(c.raw, "\r\n"); i >= 0 {
		c.fail(i, "end", ErrSyntax, string(c.raw[i:i+1]), phrase("no line end inside a frame"))
	}
}

func (c *cursor) rest() string {
	if c.err != nil {
		return ""
	}
	text := string(c.raw[c.off:])
	c.off = len(c.raw)
	return text
}
