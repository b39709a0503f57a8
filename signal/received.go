package signal

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"time"
)

// Received is one frame as it reached a receiver.
type Received struct {
	Raw       []byte    // from LF to CR, as received
	Frame     Frame     // for showing only, perhaps in part, when Damaged
	Encrypted bool      // Frame was encrypted on the wire and is clear here
	Events    []Event   // none for NULL, and where Err is set
	Err       error     // nil, or the *FrameError that stands against taking the frame as it is
	Proposed  Verdict   // what JudgeWith says; holds only inside an open test window
	Transport string    // "tcp" or "udp"
	Remote    string    // sender's address and port
	At        time.Time // local clock when the last byte was in, UTC
	Receiver  string    // id of the receiver
}

// Deliver keeps a received signal and decides its answer. When it returns nil, the signal is
// on disk: the receiver answers after that and never before, because a lost ACK is repeated
// and a lost alarm is not. With an error nothing is answered and the sender repeats.
//
// The verdict is Received.Proposed inside an open test window of the account (or a practice
// job), and StaySilent otherwise. A duplicate is proposed, and answered, like the first one.
type Deliver func(ctx context.Context, r Received) (Verdict, error)

// Judge is JudgeWith for a receiver that has no keys: it never decrypts.
func Judge(raw []byte) Received { return JudgeWith(raw, nil, time.Time{}) }

// JudgeWith is the Judge of a Policy that has nothing but keys.
func JudgeWith(raw []byte, secret func(prefix, account string) Secret, now time.Time) Received {
	return Policy{Secret: secret}.Judge(raw, now)
}

// Policy is what a receiver has to choose where the text of the standard was not seen or
// leaves it open. The zero value is the choice of this project.
type Policy struct {
	// Secret tells how an account is to be read; nil means all in clear.
	Secret func(prefix, account string) Secret

	// How far the time stamp of an encrypted message may be from the receiver's clock; 0 or
	// less: MaxAge and MaxAhead. Both limits count as inside.
	Age, Ahead time.Duration

	// NakUndecryptable answers what does not decrypt with NAK in place of DUH: a wrong key
	// yields no valid time. The sender then repeats, where DUH makes it give up.
	NakUndecryptable bool
}

// Judge applies the decision table of this project for a receiver in test use
// (docs/format/wire-dc09.md) to one frame. It fills Raw, Frame, Encrypted, Events, Err and
// Proposed. now is the receiver's clock, for the time test of encrypted frames.
func (p Policy) Judge(raw []byte, now time.Time) Received {
	r := Received{Raw: raw}
	r.Frame, r.Err = ParseFrame(raw)
	if r.Err != nil {
		// DC-09-2007 C.2.3.5 gives no answer to a wrong CRC, and by analogy there is none
		// where length or head are wrong.
		return r
	}
	if r.Frame.IsReply() {
		// Nobody asked us: answering a reply could keep two receivers talking for ever.
		r.Err = &FrameError{Offset: bodyOffset + 1, Element: "id", Err: ErrUnknownID, Got: r.Frame.ID, Want: phrase("a message, not a reply")}
		return r
	}
	var s Secret
	if p.Secret != nil {
		s = p.Secret(r.Frame.Prefix, r.Frame.Account)
	}
	switch {
	case r.Frame.Encrypted && !s.Key.IsZero():
		if r.Err = r.decrypt(s.Key, p, now); r.Err != nil {
			return r
		}
	case !r.Frame.Encrypted && s.EncryptedOnly:
		r.Err = &FrameError{Offset: bodyOffset + 1, Element: "id", Err: ErrNotEncrypted, Got: r.Frame.ID, Want: verbatim("*" + r.Frame.ID)}
		r.Proposed = CannotProcess
		return r
	}
	r.Events, r.Err = r.Frame.Events()
	if r.Err != nil {
		if fe, ok := r.Err.(*FrameError); ok && r.Encrypted && fe.Element == "data" {
			fe.Offset = r.Frame.DataOffset() + 1 // inside the encrypted region; the id on the wire has an asterisk
		}
		r.Proposed = CannotProcess
		return r
	}
	r.Proposed = Acknowledge
	return r
}

// decrypt replaces the frame by the clear one inside it and tests its time.
func (r *Received) decrypt(k Key, p Policy, now time.Time) error {
	wire := r.Frame
	clear, err := wire.Decrypt(k)
	if err != nil {
		r.Proposed = CannotProcess
		if p.NakUndecryptable {
			r.Proposed = RefuseTime
		}
		return err
	}
	r.Frame, r.Encrypted = clear, true
	// DC-09-2013 5.5.3.2: the time is tested before anything inside is believed.
	if at, ok := clear.Time(); !ok || !p.inWindow(at, now) {
		r.Proposed = RefuseTime
		return &FrameError{Offset: wire.DataOffset(), Element: "timestamp", Err: ErrTimestamp, Got: clear.Timestamp, Want: phrase("near %s", FormatTimestamp(now))}
	}
	return nil
}

// Damaged reports whether the bytes were no sound message: damaged on the way, no frame at
// all, or a reply that nobody asked for. Such a thing is counted and shown, and never stored
// as a signal or answered.
func (r Received) Damaged() bool {
	if r.Err == nil {
		return false
	}
	for _, sound := range []error{ErrUnknownID, ErrPayload, ErrEncrypted, ErrTimestamp, ErrDecrypt, ErrNotEncrypted} {
		if errors.Is(r.Err, sound) {
			return r.Frame.IsReply()
		}
	}
	return true
}

// DuplicateWindow is how long a repeat counts as the same message. Project policy; the
// standard names no time.
const DuplicateWindow = 5 * time.Minute

// DuplicateKey is the same for two frames exactly when the second one, coming within
// DuplicateWindow, is a repeat of the first: same id, prefix, account, number and data. It is
// "" for NULL, which is never a repeat. Time stamp and extended fields do not count, because
// a repeat may carry a new time or take another path. Give it the decrypted frame.
func DuplicateKey(f Frame) string {
	if f.ID == IDNull {
		return ""
	}
	prefix := strings.TrimLeft(strings.TrimPrefix(f.Prefix, "L"), "0") // L, L0 and L00 are one
	all := append(make([]byte, 0, 128), f.ID...)
	all = append(append(all, ' '), strings.ToUpper(prefix)...)
	all = append(append(all, ' '), strings.ToUpper(f.Account)...)
	all = append(append(all, ' ', byte(f.Sequence>>8), byte(f.Sequence), ' '), f.Data...)
	sum := sha256.Sum256(all)
	return hex.EncodeToString(sum[:16])
}

// Cause names the reason of an error of this package in a word or two, for a table of
// counts; "" for nil, "other" for an error that is none of ours.
func Cause(err error) string {
	if err == nil {
		return ""
	}
	for _, c := range []struct {
		err  error
		word string
	}{
		{ErrStart, "garbage"},
		{ErrTruncated, "truncated"},
		{ErrTooLong, "too long"},
		{ErrNotHex, "not hex"},
		{ErrCRC, "checksum"},
		{ErrLength, "length"},
		{ErrSyntax, "syntax"},
		{ErrUnknownID, "unknown id"},
		{ErrPayload, "payload"},
		{ErrEncrypted, "encrypted"},
		{ErrTimestamp, "time stamp"},
		{ErrDecrypt, "does not decrypt"},
		{ErrNotEncrypted, "not encrypted"},
	} {
		if errors.Is(err, c.err) {
			return c.word
		}
	}
	return "other"
}
