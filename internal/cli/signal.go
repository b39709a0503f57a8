package cli

import (
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	goio "io"
	"net"
	"os"
	"strings"
	"time"

	"proofbell/signal"
)

type signalCmd struct {
	Decode decodeCmd `cmd:"" help:"Frames to JSON lines."`
	Encode encodeCmd `cmd:"" help:"JSON lines to frames."`
	Send   sendCmd   `cmd:"" help:"Send one frame and print the reply."`
}

// decoded is one line of output of decode and receive.
type decoded struct {
	Raw    string         `json:"raw"` // hex, LF and CR included
	Frame  *signal.Frame  `json:"frame,omitempty"`
	Events []signal.Event `json:"events"`
	Answer string         `json:"answer"` // what a receiver in an open test window would answer
	Fault  string         `json:"fault,omitempty"`
}

type decodeCmd struct {
	Frame []string `arg:"" optional:"" name:"FRAME" help:"Frames without LF and CR; without any, frames are read from standard input as they come."`
	Hex   bool     `help:"Frames are hex digits."`
}

// Run decodes frames; not good when one of them is not sound.
func (c *decodeCmd) Run(io *streams) error {
	enc := json.NewEncoder(io.out)
	enc.SetEscapeHTML(false)
	bad := false
	print := func(piece signal.Piece) error {
		d := decoded{Raw: hex.EncodeToString(piece.Raw), Events: []signal.Event{}, Answer: signal.StaySilent.String()}
		if piece.Err != nil {
			d.Fault = piece.Err.Error()
		} else {
			r := signal.Judge(piece.Raw)
			d.Frame, d.Answer = &r.Frame, r.Proposed.String()
			if r.Events != nil {
				d.Events = r.Events
			}
			if r.Err != nil {
				d.Fault = r.Err.Error()
			}
		}
		bad = bad || d.Fault != ""
		return enc.Encode(d)
	}
	var split signal.Splitter
	for _, text := range c.Frame {
		raw, err := c.bytes(text)
		if err != nil {
			return err
		}
		if err := drainFrames(&split, raw, print); err != nil {
			return err
		}
	}
	if len(c.Frame) == 0 {
		if _, err := goio.Copy(frameWriter(func(raw []byte) error { return drainFrames(&split, raw, print) }), io.in); err != nil {
			return err
		}
	}
	if piece, ok := split.Flush(); ok {
		if err := print(piece); err != nil {
			return err
		}
	}
	if bad {
		return ErrNotGood
	}
	return nil
}

// frameWriter takes the bytes of a stream.
type frameWriter func([]byte) error

func (w frameWriter) Write(p []byte) (int, error) {
	if err := w(p); err != nil {
		return 0, err
	}
	return len(p), nil
}

func drainFrames(split *signal.Splitter, raw []byte, print func(signal.Piece) error) error {
	_, _ = split.Write(raw) // never fails
	for piece, ok := split.Next(); ok; piece, ok = split.Next() {
		if err := print(piece); err != nil {
			return err
		}
	}
	return nil
}

// bytes turns an argument into the bytes of a frame, adding LF and CR where they were left out.
func (c *decodeCmd) bytes(text string) ([]byte, error) {
	raw := []byte(text)
	if c.Hex {
		var err error
		if raw, err = hex.DecodeString(strings.ReplaceAll(text, " ", "")); err != nil {
			return nil, fmt.Errorf("--hex %q: %w", text, err)
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
		var m message
		err := d.Decode(&m)
		var f signal.Frame
		if err == nil {
			f, err = m.frame()
		}
		var raw []byte
		if err == nil {
			raw, err = f.Encode()
		}
		if err != nil {
			return fmt.Errorf("line %d: %w; members: account, sequence, code, qualifier, zone, area, or sia, or null", n, err)
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

type sendCmd struct {
	To        string        `arg:"" name:"HOST:PORT" help:"Receiver."`
	Frame     string        `help:"A whole frame without LF and CR, sent as it is." placeholder:"FRAME"`
	Account   string        `help:"Account." placeholder:"DIGITS"`
	Code      string        `help:"Contact ID event, three digits." placeholder:"111"`
	Qualifier string        `default:"new" enum:"new,restore,still-present,opening,closing" help:"${enum}."`
	Zone      int           `help:"Zone or user."`
	Area      int           `help:"Area."`
	SIA       string        `name:"sia" help:"SIA data instead, such as Nri1/FA005." placeholder:"DATA"`
	Null      bool          `help:"Link supervision instead."`
	Path      string        `help:"Network path used, one character."`
	Sequence  int           `default:"1" help:"Sequence number."`
	UDP       bool          `name:"udp" help:"Send over UDP."`
	Attempts  int           `default:"1" help:"How often to try."`
	Timeout   time.Duration `default:"5s" help:"How long to wait for the reply to one attempt."`
	Confirm   string        `help:"The same address again, needed when it is not on this machine." placeholder:"HOST:PORT"`
}

// Run sends one frame; not good when it is not acknowledged.
func (c *sendCmd) Run(ctx context.Context, io *streams) error {
	host, _, err := net.SplitHostPort(c.To)
	if err != nil {
		return fmt.Errorf("%q: %w; write it as host:port", c.To, err)
	}
	if ip := net.ParseIP(host); (ip == nil || !ip.IsLoopback()) && host != "localhost" && c.Confirm != c.To {
		return fmt.Errorf("%s is not on this machine: a test event at a station whose account is not on test sends people out. If it is the right one and on test, give it again with --confirm %s", c.To, c.To)
	}
	if c.Timeout <= 0 || c.Attempts < 1 {
		return errors.New("--timeout and --attempts have to be more than 0")
	}
	network := "tcp"
	if c.UDP {
		network = "udp"
	}
	dial := func(ctx context.Context) (signal.Conn, error) {
		var d net.Dialer
		return d.DialContext(ctx, network, c.To)
	}
	if c.Frame != "" {
		return c.sendRaw(ctx, dial, io)
	}
	m := message{Account: c.Account, Sequence: c.Sequence, Code: c.Code, Qualifier: c.Qualifier, Zone: c.Zone, Area: c.Area, SIA: c.SIA, Null: c.Null, Path: c.Path}
	f, err := m.frame()
	if err != nil {
		return err
	}
	if !c.Null {
		f.Timestamp = signal.FormatTimestamp(time.Now())
	}
	receipt, err := signal.Sender{Dial: dial, Attempts: c.Attempts, Timeout: c.Timeout}.Send(ctx, f)
	if errors.Is(err, signal.ErrNoReply) {
		fmt.Fprintln(io.out, noReply(c.To))
		return ErrNotGood
	}
	if errors.Is(err, signal.ErrNotUnderstood) || errors.Is(err, signal.ErrTimeRefused) {
		fmt.Fprintln(io.out, err)
		return ErrNotGood
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(io.out, "%s", bytes.Trim(receipt.Reply.Append(nil), "\r\n"))
	fmt.Fprintln(io.out)
	return nil
}

// noReply says what silence may mean.
func noReply(to string) string {
	return fmt.Sprintf("no reply from %s: is a receiver there, and is the account on test? Off test a receiver of ours stores and stays silent.", to)
}

// sendRaw sends bytes as they are, sound or not, and prints what comes back.
func (c *sendCmd) sendRaw(ctx context.Context, dial func(context.Context) (signal.Conn, error), io *streams) (err error) {
	conn, err := dial(ctx)
	if err != nil {
		return fmt.Errorf("sending: %w", err)
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	if err := conn.SetDeadline(time.Now().Add(c.Timeout)); err != nil {
		return err
	}
	if _, err := conn.Write([]byte("\n" + c.Frame + "\r")); err != nil {
		return fmt.Errorf("sending: %w", err)
	}
	reply, err := bufio.NewReader(conn).ReadString('\r')
	if errors.Is(err, os.ErrDeadlineExceeded) || err != nil && reply == "" {
		fmt.Fprintln(io.out, noReply(c.To))
		return ErrNotGood
	}
	fmt.Fprintln(io.out, strings.Trim(reply, "\r\n"))
	return err
}
