// Package signal reads and writes what a security panel tells a monitoring station:
// ANSI/SIA DC-09 frames, in clear and encrypted, the Contact ID (SIA DC-05) and SIA event
// code (SIA DC-03) payloads inside them, and the replies. It needs nothing but the standard
// library.
//
// A receiver cuts its stream with [Splitter] and gives each frame to [Policy.Judge], which
// parses, decrypts, tests the time, reads the events and proposes the answer; [Frame.Ack],
// [Frame.AckEncrypted], [Frame.Duh] and [Nak] make its bytes. [DuplicateKey] tells repeats,
// [Supervisor] watches that accounts are heard from.
//
// A sender makes a [Frame] with [NewContactID] or SIA data and gives it to [Sender], or to
// [SendInOrder] with several receivers; over a connection that stays open, to [Exchange].
// [ExpectedFor] has the usual codes of a kind of zone.
//
// A person is shown [Policy.Explain]: every byte, what it is, what is wrong with it, and which
// known mistake makes such bytes. What is said is a [Phrase], English that a program can say in
// another language. Frames and events have JSON forms.
//
// What [ParseFrame] accepts, [Frame.Append] writes back byte for byte, so a frame can be kept
// as it was received. Code numbers that are not in the tables are kept and named unknown,
// never dropped. What is unconfirmed in the standards is marked where it stands; where a
// receiver has to choose, Policy holds the choice.
//
// The package reads no clock, network or random source: they are handed in. Nothing here
// authenticates a sender: a CRC finds damage, not forgery, and clear frames can be read and
// made by anybody on the path. A well-formed frame is no statement about the building it
// names. An acknowledgement tells the panel that somebody has its alarm: send one only when
// that is so.
package signal
