package signal

import (
	"fmt"
	"time"
)

// Ack is the reply to a frame received without error: number, receiver, prefix and account
// echoed as they came (DC-09-2013 5.5.3.1). An encrypted message needs an encrypted reply.
func (f Frame) Ack() Frame { return f.reply(IDAck) }

// Duh is the reply to a frame received without error that can not be processed (DC-09-2013
// 5.5.3.3). The sender does not repeat the message.
func (f Frame) Duh() Frame { return f.reply(IDDuh) }

// Nak is the reply to an encrypted frame whose time stamp is missing or outside the window;
// at is the receiver's own time (DC-09-2013 5.5.3.2). It names neither number nor account.
func Nak(at time.Time) Frame {
	return Frame{ID: IDNak, Receiver: "R0", Prefix: "L0", Timestamp: FormatTimestamp(at)}
}

func (f Frame) reply(id string) Frame {
	return Frame{ID: id, Sequence: f.Sequence, Receiver: f.Receiver, Prefix: f.Prefix, Account: f.Account}
}

// Answers reports whether reply belongs to message f. ACK, DUH and RSP must carry its
// number and account; a NAK carries neither.
func (reply Frame) Answers(f Frame) bool {
	switch reply.ID {
	case IDNak:
		return true
	case IDAck, IDDuh, IDRsp:
		return reply.Sequence == f.Sequence && reply.Account == f.Account
	}
	return false
}

// ParseReply reads a frame that must be a reply. Errors are those of ParseFrame, and a
// *FrameError with [ErrUnknownID] for a frame that is a message.
func ParseReply(raw []byte) (Frame, error) {
	f, err := ParseFrame(raw)
	if err == nil && !f.IsReply() {
		err = &FrameError{Offset: bodyOffset + 1, Element: "id", Err: ErrUnknownID, Got: f.ID, Want: phrase("%s or %s", "ACK, NAK, DUH", "RSP")}
	}
	return f, err
}

// Verdict is the answer to a frame.
type Verdict int

const (
	StaySilent    Verdict = iota // no byte goes out; the sender takes its next path
	Acknowledge                  // ACK
	CannotProcess                // DUH
	RefuseTime                   // NAK with the receiver's time
)

func (v Verdict) String() string {
	switch v {
	case StaySilent:
		return "silence"
	case Acknowledge:
		return "ACK"
	case CannotProcess:
		return "DUH"
	case RefuseTime:
		return "NAK"
	}
	return fmt.Sprintf("verdict %d", int(v))
}

// MarshalText writes the verdict as its reply's name.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }
