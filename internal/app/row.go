package app

import (
	"time"

	"proofbell/signal"
)

// RowOf is a received signal as the inbox keeps it; whether it is answered, and whose it is, is not in it yet. Clear is
// missing from a decrypted frame that no frame in the clear can hold: its event can not be kept, so it must not be
// acknowledged.
func RowOf(r signal.Received, at time.Time) InboxRow {
	row := InboxRow{At: at, Remote: r.Remote, Transport: r.Transport, Account: r.Frame.Account, Raw: r.Raw}
	if r.Err == nil {
		row.Repeat = signal.DuplicateKey(r.Frame)
	}
	if r.Encrypted {
		row.Clear = clearOf(r.Frame)
	}
	return row
}
