// Package signal reads and writes what a security panel tells a monitoring station:
// ANSI/SIA DC-09 frames, the Contact ID (SIA DC-05) and SIA event code (SIA DC-03)
// payloads inside them, and the replies.
//
// The way in is [Splitter] (bytes of a stream to frames), [ParseFrame] (bytes of a frame to
// a [Frame]) and [Frame.Events] (a frame to [Event] values that no longer depend on the
// payload format). The way out is [Frame.Encode], [ContactID.String], [SIA.String] and the
// reply builders [Frame.Ack], [Frame.Duh] and [Nak].
//
// What ParseFrame accepts, Frame.Append writes back byte for byte, so a frame can be kept
// as it was received. Code numbers that are not in the tables are kept and named unknown,
// never dropped.
//
// The package reads no clock, network or random source. Nothing here authenticates a
// sender: a CRC finds damage, not forgery, and clear frames can be read and made by anybody
// on the path. A well-formed frame is no statement about the building it names.
package signal
