package cli

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	goio "io"
	"net"
	"os"
	"slices"
	"strings"
	"time"

	"proofbell/signal"
)

type sendCmd struct {
	To        []string      `arg:"" name:"HOST:PORT" help:"Receivers, tried in this order until one acknowledges."`
	Frame     string        `help:"A whole frame without LF and CR, sent as it is." placeholder:"FRAME"`
	Account   []string      `help:"Account; under load several, one connection after the other." placeholder:"DIGITS"`
	Code      string        `default:"602" help:"Contact ID event, three digits: 602 is a periodic test, 601 a manual one." placeholder:"602"`
	Qualifier string        `default:"new" enum:"new,restore,still-present,opening,closing" help:"${enum}."`
	Zone      int           `help:"Zone or user."`
	Area      int           `help:"Area."`
	SIA       string        `name:"sia" help:"SIA data instead, such as Nri1/FA005." placeholder:"DATA"`
	Null      bool          `help:"Link supervision instead."`
	Path      string        `help:"Network path used, one character."`
	Field     []string      `sep:"none" help:"Extended field, its letter first, such as LHall." placeholder:"TEXT"`
	Prefix    string        `help:"Account prefix." placeholder:"L0"`
	Receiver  string        `help:"Receiver number." placeholder:"R1"`
	Sequence  int           `default:"1" help:"Sequence number; supervision has 0."`
	UDP       bool          `name:"udp" help:"Send over UDP."`
	Attempts  int           `default:"1" help:"How often to try each receiver, with the same number."`
	Timeout   time.Duration `default:"5s" help:"How long to wait for the reply to one attempt."`
	Pause     time.Duration `help:"How long to wait before the next attempt." placeholder:"5s"`
	Confirm   []string      `help:"The same address again, needed when it is not on this machine." placeholder:"HOST:PORT"`
	JSON      bool          `name:"json" help:"Print one JSON line."`

	Connections int     `help:"Load on this machine: so many connections at once, each waiting for its reply." placeholder:"N"`
	Count       int     `help:"Load: so many frames in all." placeholder:"M"`
	Rate        float64 `help:"Load: so many frames a second in all, whatever the replies take; without it as many as go." placeholder:"R"`

	keyFlag
}

// keyFlag tells the encryption key without showing it to whoever lists the processes.
type keyFlag struct {
	Key string `help:"File with the encryption key, in hex or typed, -: standard input; or PROOFBELL_KEY in the environment." placeholder:"FILE"`
}

func (k keyFlag) read(in goio.Reader) (signal.Key, error) {
	text := os.Getenv("PROOFBELL_KEY")
	if k.Key != "" {
		raw, err := readFile(k.Key, in, 1<<20)
		if err != nil {
			return signal.Key{}, err
		}
		text = strings.TrimRight(string(raw), "\r\n")
	}
	if text == "" && k.Key == "" {
		return signal.Key{}, nil
	}
	return signal.ParseKey(text)
}

// Run sends one frame, or many of a load; not good when one is not acknowledged.
func (c *sendCmd) Run(ctx context.Context, io *streams) error {
	for _, to := range c.To {
		local, err := onThisMachine(to)
		if err != nil {
			return err
		}
		if !local && (c.load() || !slices.Contains(c.Confirm, to)) {
			if c.load() {
				return fmt.Errorf("%s is not on this machine: a load is sent to receivers on this machine alone", to)
			}
			return fmt.Errorf("%s is not on this machine: a test event at a station whose account is not on test sends people out. If it is the right one and on test, give it again with --confirm %s", to, to)
		}
	}
	if c.Timeout <= 0 || c.Attempts < 1 || c.Pause < 0 {
		return errors.New("--timeout and --attempts have to be more than 0")
	}
	key, err := c.read(io.in)
	if err != nil {
		return err
	}
	if err := c.digits(); err != nil {
		return err
	}
	if c.load() {
		return c.runLoad(ctx, key, io)
	}
	if c.Frame != "" {
		if len(c.To) > 1 || !key.IsZero() {
			return errors.New("--frame is sent to one receiver, as it is: leave the others and the key out")
		}
		return c.sendRaw(ctx, io)
	}
	if len(c.Account) != 1 {
		return errors.New("give one --account, the number of the account that is on test")
	}
	f, err := c.message(c.Account[0], time.Now()).frame()
	if err != nil {
		return err
	}
	var senders []signal.Sender
	for _, to := range c.To {
		senders = append(senders, signal.Sender{
			Dial:     func(ctx context.Context) (signal.Conn, error) { return c.dial(ctx, to) },
			Attempts: c.Attempts, Timeout: c.Timeout, Pause: c.Pause, Key: key, Now: time.Now, Random: rand.Reader,
		})
	}
	receipt, err := signal.SendInOrder(ctx, f, senders...)
	return c.report(receipt, err, io)
}

// digits checks account and code where they were typed.
func (c *sendCmd) digits() error {
	for _, number := range c.Account {
		if !hexDigits(strings.ToUpper(number), 16) {
			return fmt.Errorf("--account %q: an account has 1 to 16 digits 0-9 and A-F", number)
		}
	}
	if len(c.Code) != 3 || strings.Trim(c.Code, "0123456789BCDEF") != "" {
		return fmt.Errorf("--code %q: a Contact ID event has three digits, as 602", c.Code)
	}
	return nil
}

func (c *sendCmd) load() bool { return c.Connections != 0 || c.Count != 0 || c.Rate != 0 }

// message is what is to be sent for an account.
func (c *sendCmd) message(account string, now time.Time) message {
	m := message{
		Account: account, Sequence: c.Sequence, Prefix: c.Prefix, Receiver: c.Receiver, Code: c.Code, Qualifier: c.Qualifier, Zone: c.Zone, Area: c.Area,
		SIA: c.SIA, Null: c.Null, Path: c.Path, Fields: c.Field,
	}
	if c.Null {
		m.Sequence = 0
	} else {
		m.At = now.UTC().Format(time.RFC3339)
	}
	return m
}

func (c *sendCmd) dial(ctx context.Context, to string) (net.Conn, error) {
	network := "tcp"
	if c.UDP {
		network = "udp"
	}
	var d net.Dialer
	return d.DialContext(ctx, network, to)
}

// sent is the JSON line of one frame.
type sent struct {
	To       string        `json:"to"` // the receiver that replied last
	Attempts int           `json:"attempts"`
	Answer   string        `json:"answer"` // ACK, RSP, DUH, NAK, silence
	Reply    *signal.Frame `json:"reply,omitempty"`
	Offset   float64       `json:"offsetSeconds,omitempty"` // of the receiver's clock, by its NAK
	Why      string        `json:"why,omitempty"`           // it was not acknowledged
}

func (c *sendCmd) report(receipt signal.Receipt, err error, io *streams) error {
	silent, refused := errors.Is(err, signal.ErrNoReply), errors.Is(err, signal.ErrNotUnderstood) || errors.Is(err, signal.ErrTimeRefused)
	if err != nil && !silent && !refused {
		return err
	}
	if receipt.Offset.Abs() >= time.Second {
		fmt.Fprintf(io.err, "proofbell: the receiver's clock differs by %v: the frame was sent again by that clock. Set the clock right.\n", receipt.Offset.Round(time.Second))
	}
	to := c.To[receipt.To]
	why := c.why(err)
	switch {
	case c.JSON:
		line := sent{To: to, Attempts: receipt.Attempts, Answer: signal.StaySilent.String(), Offset: receipt.Offset.Seconds(), Why: why}
		if receipt.Reply.ID != "" {
			line.Answer, line.Reply = receipt.Reply.ID, &receipt.Reply
		}
		if e := printLine(io.out, line); e != nil {
			return e
		}
	case err != nil:
		fmt.Fprintln(io.out, why)
	default:
		fmt.Fprintf(io.out, "%s\n", bytes.Trim(receipt.Reply.Append(nil), "\r\n"))
	}
	if err != nil {
		return ErrNotGood
	}
	return nil
}

// why says for each receiver why it did not acknowledge, and what to do.
func (c *sendCmd) why(err error) string {
	switch {
	case err == nil:
		return ""
	case errors.Is(err, signal.ErrNotUnderstood):
		return signal.ErrNotUnderstood.Error() + ": look at the key, at encrypted-only and at the payload; the receiver's line says which"
	case errors.Is(err, signal.ErrTimeRefused):
		return signal.ErrTimeRefused.Error() + ": look at both clocks, and at the key; with --attempts 2 it is sent again by the receiver's clock"
	}
	each := []error{err}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		each = joined.Unwrap() // of SendInOrder: one for each receiver
	}
	if len(each) != len(c.To) {
		return noReply(strings.Join(c.To, ", "), nil)
	}
	var said []string
	for i, to := range c.To {
		said = append(said, noReply(to, each[i]))
	}
	return strings.Join(said, "\n")
}

// onThisMachine reports whether an address can only mean this machine.
func onThisMachine(to string) (bool, error) {
	host, _, err := net.SplitHostPort(to)
	if err != nil {
		return false, fmt.Errorf("%q: %w; write it as host:port", to, err)
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback(), nil
}

// noReply says what silence may mean; err is the network's, if it told one.
func noReply(to string, err error) string {
	var op *net.OpError
	if errors.As(err, &op) && !op.Timeout() {
		return fmt.Sprintf("no reply from %s: %v: does a receiver listen there?", to, op)
	}
	return fmt.Sprintf("no reply from %s: is a receiver there, and is the account on test? Off test a receiver of ours stores and stays silent.", to)
}

// sendRaw sends bytes as they are, sound or not, and prints what comes back.
func (c *sendCmd) sendRaw(ctx context.Context, io *streams) (err error) {
	conn, err := c.dial(ctx, c.To[0])
	var reply string
	if err == nil {
		defer func() { err = errors.Join(err, conn.Close()) }()
		if err := conn.SetDeadline(time.Now().Add(c.Timeout)); err != nil {
			return err
		}
		if _, err = conn.Write([]byte("\n" + c.Frame + "\r")); err == nil {
			reply, err = bufio.NewReader(conn).ReadString('\r')
		}
	}
	if errors.Is(err, os.ErrDeadlineExceeded) || err != nil && reply == "" {
		fmt.Fprintln(io.out, noReply(c.To[0], err))
		return ErrNotGood
	}
	fmt.Fprintln(io.out, strings.Trim(reply, "\r\n"))
	return err
}
