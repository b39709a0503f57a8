package signal

import (
	"fmt"
	"strings"
	"time"
)

const (
	stampLayout = "15:04:05,01-02-2006" // for writing
	// Reading goes through a blank: time.Parse takes a comma after seconds for a decimal mark.
	stampRead = "15:04:05 01-02-2006"
	stampForm = "HH:MM:SS,MM-DD-YYYY" // as people are told
)

// FormatTimestamp writes the time stamp of a frame, without its underscore. DC-09 5.5.1.8:
// UTC, month before day.
func FormatTimestamp(at time.Time) string { return at.UTC().Format(stampLayout) }

// ParseTimestamp reads HH:MM:SS,MM-DD-YYYY as UTC. The error matches [ErrTimestamp].
func ParseTimestamp(s string) (time.Time, error) {
	if len(s) != len(stampLayout) || s[8] != ',' {
		return time.Time{}, fmt.Errorf("reading time stamp %q: %w", s, ErrTimestamp)
	}
	at, err := time.Parse(stampRead, strings.Replace(s, ",", " ", 1))
	if err != nil {
		return time.Time{}, fmt.Errorf("reading time stamp %q: %w", s, ErrTimestamp)
	}
	return at, nil
}

// Time reads the time stamp. It says when the message was sent, not when the event happened.
// A clear frame may carry none, or one that can not be read: the event counts all the same.
func (f Frame) Time() (time.Time, bool) {
	at, err := ParseTimestamp(f.Timestamp)
	return at, err == nil
}

// NextSequence returns the number after n: 9999 is followed by 1 (DC-09-2007 C.2.3.7).
// 0 belongs to NULL and NAK and is never returned.
func NextSequence(n int) int {
	if n < 1 || n >= 9999 {
		return 1
	}
	return n + 1
}
