package signal

import "bytes"

// Splitter cuts a stream of bytes into frames: LF to CR, however the bytes arrive. The zero
// value is ready. It holds at most one frame and what was last written, and
// nothing between frames. Not safe for concurrent use.
//
// A LF inside a frame begins a new one (the sender died and began anew), so that one damaged
// frame never swallows the next.
type Splitter struct {
	buf     []byte
	off     int // start of what is not yet handed out
	scanned int // bytes from off already searched

	lost    int    // bytes passed over since the last frame
	head    []byte // the first of them
	lostErr error  // why
}

// Piece is what a Splitter found: a frame, or bytes that belong to none.
type Piece struct {
	Raw  []byte      // the frame with LF and CR; or the first bytes passed over, at most 64
	Lost int         // number of bytes passed over; 0 for a frame
	Err  *FrameError // nil for a frame; else ErrStart, ErrTruncated or ErrTooLong
}

const lostHead = 64

// Write takes more bytes from the stream. It never fails. Call Next until it has no more
// before the next Write: that bounds the memory.
func (s *Splitter) Write(p []byte) (int, error) {
	if s.off > 0 {
		s.buf = append(s.buf[:0], s.buf[s.off:]...)
		s.off = 0
	}
	s.buf = append(s.buf, p...)
	return len(p), nil
}

// Next returns the next frame or run of lost bytes; ok is false when more must be written
// first. Raw is valid until the next Write. Line ends, blanks and NULs between frames are
// not reported.
func (s *Splitter) Next() (piece Piece, ok bool) {
	for {
		rest := s.buf[s.off:]
		if len(rest) == 0 {
			s.buf, s.off = nil, 0 // an idle stream holds no memory
			return Piece{}, false
		}
		if s.lostErr != nil || rest[0] != '\n' {
			n := bytes.IndexByte(rest, '\n')
			if n < 0 {
				s.lose(len(rest), ErrStart)
				return Piece{}, false
			}
			s.lose(n, ErrStart)
			if piece, ok = s.reportLost(); ok {
				return piece, true
			}
			continue
		}
		// rest begins with LF: look for what ends the frame.
		from := max(s.scanned, 1)
		n := bytes.IndexAny(rest[from:min(len(rest), MaxFrame)], "\r\n")
		switch {
		case n >= 0 && rest[from+n] == '\r':
			end := from + n + 1
			piece = Piece{Raw: rest[:end:end]}
			s.off, s.scanned = s.off+end, 0
			return piece, true
		case n >= 0:
			s.lose(from+n, ErrTruncated)
			if piece, ok = s.reportLost(); ok {
				return piece, true
			}
		case len(rest) >= MaxFrame:
			s.lose(MaxFrame, ErrTooLong)
		default:
			s.scanned = len(rest)
			return Piece{}, false
		}
	}
}

// Inside reports whether a frame has begun and not ended.
func (s *Splitter) Inside() bool { return s.off < len(s.buf) && s.lostErr == nil }

// Flush ends the stream and returns what was left in it: a frame cut off, or lost bytes.
func (s *Splitter) Flush() (piece Piece, ok bool) {
	if s.Inside() {
		s.lose(len(s.buf)-s.off, ErrTruncated)
	}
	return s.reportLost()
}

func (s *Splitter) lose(n int, why error) {
	if n == 0 {
		return
	}
	gone := s.buf[s.off : s.off+n]
	if s.lostErr == nil {
		s.lostErr = why
	}
	s.head = append(s.head, gone[:min(n, lostHead-len(s.head))]...)
	s.lost += n
	s.off, s.scanned = s.off+n, 0
}

func (s *Splitter) reportLost() (Piece, bool) {
	head, n, why := s.head, s.lost, s.lostErr
	s.head, s.lost, s.lostErr = nil, 0, nil
	if n == 0 || n == len(head) && len(bytes.Trim(head, "\r\n \t\x00")) == 0 {
		return Piece{}, false
	}
	element, at := "start", 0
	if why != ErrStart {
		element, at = "end", min(n, MaxFrame)
	}
	return Piece{Raw: head, Lost: n, Err: &FrameError{Offset: at, Element: element, Err: why}}, true
}
