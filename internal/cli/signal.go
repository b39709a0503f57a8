package cli

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	goio "io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"proofbell/internal/words"
	"proofbell/signal"
)

type signalCmd struct {
	Decode  decodeCmd  `cmd:"" help:"Frames to JSON lines."`
	Explain explainCmd `cmd:"" help:"What every byte of a frame is, and what is wrong with it."`
	Encode  encodeCmd  `cmd:"" help:"JSON lines to frames."`
	Send    sendCmd    `cmd:"" help:"Send a frame and print the reply; or load a receiver on this machine."`
}

// decoded is one line of output of decode and receive.
type decoded struct {
	Raw    string         `json:"raw"` // hex, LF and CR included
	Frame  *signal.Frame  `json:"frame,omitempty"`
	Events []signal.Event `json:"events"`
	Answer string         `json:"answer"` // what a receiver in an open test window would answer
	Fault  string         `json:"fault,omitempty"`

	Encrypted bool `json:"encrypted,omitempty"` // on the wire; frame is what was inside
}

// framesFlag are the frames of decode and explain.
type framesFlag struct {
	Frame []string `arg:"" optional:"" name:"FRAME" help:"Frames without LF and CR; without any, frames are read from standard input as they come."`
	Hex   bool     `help:"Frames are hex digits."`
	At    string   `help:"Clock of the receiver, for the time test of encrypted frames; without it, now." placeholder:"2026-09-15T14:05:09Z"`
	keyFlag
}

// each hands over what the frames are cut into.
func (c *framesFlag) each(io *streams, take func(signal.Piece) error) error {
	var split signal.Splitter
	for _, text := range c.Frame {
		raw, err := c.bytes(text)
		if err != nil {
			return err
		}
		if err := drainFrames(&split, raw, take); err != nil {
			return err
		}
	}
	if len(c.Frame) == 0 {
		if c.Key == "-" {
			return errors.New("--key - and the frames can not both come from standard input")
		}
		if _, err := goio.Copy(frameWriter(func(raw []byte) error { return drainFrames(&split, raw, take) }), io.in); err != nil {
			return err
		}
	}
	if piece, ok := split.Flush(); ok {
		return take(piece)
	}
	return nil
}

// policy is that of a receiver that has this one key for every account, and its clock.
func (c *framesFlag) policy(in goio.Reader) (p signal.Policy, now time.Time, err error) {
	now = time.Now()
	if c.At != "" {
		if now, err = time.Parse(time.RFC3339, c.At); err != nil {
			return p, now, fmt.Errorf("--at %q: write it as 2026-09-15T14:05:09Z", c.At)
		}
	}
	key, err := c.read(in)
	p.Secret = func(string, string) signal.Secret { return signal.Secret{Key: key} }
	return p, now, err
}

type decodeCmd struct {
	framesFlag
}

// Run decodes frames; not good when one of them is not sound.
func (c *decodeCmd) Run(io *streams) error {
	policy, now, err := c.policy(io.in)
	if err != nil {
		return err
	}
	bad := false
	err = c.each(io, func(piece signal.Piece) error {
		d := decoded{Raw: hex.EncodeToString(piece.Raw), Events: []signal.Event{}, Answer: signal.StaySilent.String()}
		if piece.Err != nil {
			d.Fault = piece.Err.Error()
		} else {
			r := policy.Judge(piece.Raw, now)
			d.Frame, d.Encrypted, d.Answer = &r.Frame, r.Encrypted, r.Proposed.String()
			if r.Events != nil {
				d.Events = r.Events
			}
			if r.Err != nil {
				d.Fault = r.Err.Error()
			}
		}
		bad = bad || d.Fault != ""
		return printLine(io.out, d)
	})
	if err == nil && bad {
		return ErrNotGood
	}
	return err
}

type explainCmd struct {
	framesFlag
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
	JSON bool   `name:"json" help:"Print one JSON line a frame, in English."`
}

// Run says of every byte what it is; not good when a frame can not be taken.
func (c *explainCmd) Run(io *streams) error {
	policy, now, err := c.policy(io.in)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	bad := false
	err = c.each(io, func(piece signal.Piece) error {
		spans := policy.Explain(piece.Raw, now)
		bad = bad || wrong(spans)
		if c.JSON {
			return printLine(io.out, spans)
		}
		if piece.Err != nil {
			_, err := fmt.Fprintf(io.out, "%s\n\n", lang.Say("%d bytes that belong to no frame: %s", piece.Lost, piece.Err.Phrase().In(lang.Say)))
			return err
		}
		w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
		explain(w, spans, "", lang)
		fmt.Fprintln(w)
		return w.Flush()
	})
	if err == nil && bad {
		return ErrNotGood
	}
	return err
}

func wrong(spans []signal.Span) bool {
	return slices.ContainsFunc(spans, func(s signal.Span) bool { return s.Wrong != nil || wrong(s.Inside) })
}

// explain writes a line for each span, what was encrypted indented, and under it why the frame can not be taken.
func explain(w goio.Writer, spans []signal.Span, indent string, lang *words.Language) {
	for _, s := range spans {
		text := strconv.QuoteToGraphic(s.Text)
		if len([]rune(text)) > 42 {
			text = string([]rune(text)[:40]) + "…"
		}
		fmt.Fprintf(w, "%s%d-%d\t%s\t%s\n", indent, s.From, s.To, text, s.Say.In(lang.Say))
		if s.Wrong != nil {
			fmt.Fprintf(w, "%s!\t\t%s\n", indent, s.Wrong.Phrase().In(lang.Say))
		}
		if !s.Hint.IsZero() {
			fmt.Fprintf(w, "%s?\t\t%s\n", indent, s.Hint.In(lang.Say))
		}
		explain(w, s.Inside, indent+"  ", lang)
	}
}

// frameWriter takes the bytes of a stream.
type frameWriter func([]byte) error

func (w frameWriter) Write(p []byte) (int, error) {
	if err := w(p); err != nil {
		return 0, err
	}
	return len(p), nil
}

func drainFrames(split *signal.Splitter, raw []byte, take func(signal.Piece) error) error {
	_, _ = split.Write(raw) // never fails
	for piece, ok := split.Next(); ok; piece, ok = split.Next() {
		if err := take(piece); err != nil {
			return err
		}
	}
	return nil
}

// bytes turns an argument into the bytes of a frame, adding LF and CR where they were left out.
func (c *framesFlag) bytes(text string) ([]byte, error) {
	raw := []byte(text)
	if c.Hex {
		var err error
		if raw, err = hex.DecodeString(strings.ReplaceAll(text, " ", "")); err != nil {
			return nil, fmt.Errorf("--hex %q: %w; write two digits 0-9 and A-F for each byte", text, err)
		}
	}
	if !bytes.HasPrefix(raw, []byte("\n")) {
		raw = append([]byte("\n"), raw...)
	}
	if !bytes.HasSuffix(raw, []byte("\r")) {
		raw = append(raw, '\r')
	}
	return raw, nil
}

// message is what encode and send take: a frame by its parts.
type message struct {
	Account   string `json:"account"`
	Sequence  int    `json:"sequence"`
	Prefix    string `json:"prefix"`
	Receiver  string `json:"receiver"`
	Code      string `json:"code"`
	Qualifier string `json:"qualifier"` // new, restore, opening, closing, still-present
	Zone      int    `json:"zone"`
	Area      int    `json:"area"`
	SIA       string `json:"sia"`  // SIA data without account, such as Nri1/FA005; instead of code, zone, area
	Path      string `json:"path"` // network path used, one character
	At        string `json:"at"`   // RFC 3339; empty: no time stamp
	Null      bool   `json:"null"` // link supervision

	Fields []string `json:"fields"` // extended fields, their letter first
}

func (m message) frame() (signal.Frame, error) {
	f := signal.Frame{ID: signal.IDContactID, Sequence: m.Sequence, Prefix: m.Prefix, Receiver: m.Receiver, Account: m.Account}
	if f.Prefix == "" {
		f.Prefix = "L0"
	}
	switch {
	case m.Null:
		f.ID = signal.IDNull
	case m.SIA != "":
		f.ID, f.Data = signal.IDSIA, "#"+m.Account+"|"+m.SIA
	default:
		q := signal.Qualifier(m.Qualifier)
		if q == "" {
			q = signal.New
		}
		payload, err := signal.NewContactID(m.Account, q, m.Code, m.Area, m.Zone)
		if err != nil {
			return f, err
		}
		f.Data = payload.String()
	}
	if m.Path != "" {
		field, err := signal.NewField('J', m.Path)
		if err != nil {
			return f, err
		}
		f.Fields = append(f.Fields, field)
	}
	for _, text := range m.Fields {
		if text == "" || text[0] < 'A' || text[0] > 'Z' {
			return f, fmt.Errorf("field %q: a capital letter comes first, such as LHall", text)
		}
		field, err := signal.NewField(text[0], text[1:])
		if err != nil {
			return f, err
		}
		f.Fields = append(f.Fields, field)
	}
	if m.At != "" {
		at, err := time.Parse(time.RFC3339, m.At)
		if err != nil {
			return f, fmt.Errorf("at %q: write it as 2026-09-15T14:05:09Z", m.At)
		}
		f.Timestamp = signal.FormatTimestamp(at)
	}
	return f, nil
}

type encodeCmd struct {
	Text bool `help:"Print frames without LF and CR, one a line."`
}

// Run encodes one frame for each line of JSON.
func (c *encodeCmd) Run(io *streams) error {
	lines := bufio.NewScanner(io.in)
	for n := 1; lines.Scan(); n++ {
		if len(bytes.TrimSpace(lines.Bytes())) == 0 {
			continue
		}
		d := json.NewDecoder(bytes.NewReader(lines.Bytes()))
		d.DisallowUnknownFields()
		m := message{Sequence: -1}
		err := d.Decode(&m)
		if m.Sequence == -1 { // left out
			m.Sequence = 1
			if m.Null {
				m.Sequence = 0
			}
		}
		var f signal.Frame
		if err == nil {
			f, err = m.frame()
		}
		var raw []byte
		if err == nil {
			raw, err = f.Encode()
		}
		if err != nil {
			return fmt.Errorf("line %d: %w; members: account, sequence (1, or 0 with null), prefix, receiver, code, qualifier, zone, area, path, fields, at; sia instead of code, zone and area; or null", n, err)
		}
		if c.Text {
			raw = append(bytes.Trim(raw, "\r\n"), '\n')
		}
		if _, err := io.out.Write(raw); err != nil {
			return err
		}
	}
	return lines.Err()
}
