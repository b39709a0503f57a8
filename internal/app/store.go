package app

import (
	"context"
	"errors"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
)

// Errors that a Store returns, to match with errors.Is.
var (
	ErrNotFound = errors.New("not found")
	ErrStale    = errors.New("the book has grown in the meantime") // read the newest entry and try again
	ErrFull     = errors.New("no room left to store it")           // disk full or the database's own limit
	ErrExists   = errors.New("exists already")
	ErrInUse    = errors.New("the data folder is in use by another process")
	ErrAway     = errors.New("the database can not be reached") // worth trying again later
)

// Job is what the store knows of a job without opening its book.
type Job struct {
	ID      evidence.JobID
	Created time.Time
	Erased  bool
	Seq     int64 // number of the newest entry
}

// Taken says up to which row of a receiver's inbox the books hold what they should. It moves in the same transaction as
// the entries made from those rows.
type Taken struct {
	Receiver string
	Row      int64
}

// Store keeps job books and their keys. It knows nothing of what the entries mean. Safe for concurrent use.
type Store interface {
	Jobs(ctx context.Context) ([]Job, error) // newest first
	Job(ctx context.Context, id evidence.JobID) (Job, error)
	// Create keeps a new job with its key (nil: erased) and first entries. ErrExists when the id is taken.
	Create(ctx context.Context, id evidence.JobID, created time.Time, key *evidence.JobKey, entries []evidence.Entry) error
	Newest(ctx context.Context, id evidence.JobID) (*evidence.Entry, error)
	Entries(ctx context.Context, id evidence.JobID, after int64, limit int) ([]evidence.Entry, error)
	// Entry finds an entry by its own id: nil when the book has none.
	Entry(ctx context.Context, job evidence.JobID, id evidence.EntryID) (*evidence.Entry, error)
	// Append adds entries of one job behind its newest; durable when it returns nil. ErrStale when they do not follow it.
	// taken, when given, moves in the same transaction. entries may be empty then.
	Append(ctx context.Context, entries []evidence.Entry, taken *Taken) error
	Taken(ctx context.Context, receiver string) (int64, error)
	Key(ctx context.Context, id evidence.JobID) (*evidence.JobKey, error) // nil once erased
	// SetSecret keeps a job's secret under a name; nil removes it. ErrNotFound when there is no such job or it is erased.
	// It is sealed under the installation's key, bound to job and name, and gone with Erase.
	SetSecret(ctx context.Context, job evidence.JobID, name string, value []byte) error
	Secrets(ctx context.Context, job evidence.JobID) (map[string][]byte, error) // empty when there are none
	// Erase destroys the job's key and secrets for good, together with the entry that says so.
	Erase(ctx context.Context, entry evidence.Entry) error
	PutBlob(ctx context.Context, job evidence.JobID, address evidence.Hash, sealed []byte) error
	Blob(ctx context.Context, job evidence.JobID, address evidence.Hash) ([]byte, error)
	SigningKey(ctx context.Context) (*evidence.SigningKey, error)
	// Setting returns what SetSetting kept last under a name: nil when there is none. Durable when it returns nil.
	Setting(ctx context.Context, name string) ([]byte, error)
	SetSetting(ctx context.Context, name string, value []byte) error
	// Follow tells what other processes do to the same store, one News after the other, until ctx ends; then it returns
	// nil. It tells at once where the store can push, within a second where it has to ask. What this process did itself
	// may be told too. A store of one process only waits.
	Follow(ctx context.Context, tell func(News)) error
	// Tell gives a notice, JSON, to the other processes that follow at this moment. Nobody keeps it. A store of one
	// process has nobody to tell.
	Tell(ctx context.Context, notice []byte) error
}

// News is one thing that Follow tells: one of its fields is set.
type News struct {
	Job    evidence.JobID // whose book has grown, or that is new or erased
	Notice []byte         // what another process gave to Tell
	Again  bool           // following begins, or the line was cut: anything may have happened, look at everything
}

// InboxRow is one signal as a receiver stored it, before anything else happened to it.
type InboxRow struct {
	Row       int64
	At        time.Time // our clock
	Remote    string
	Transport string
	Account   string
	Repeat    string         // shared by a signal and its repeats; empty: never a repeat
	Duplicate int64          // row of which this is a repeat; 0: none. Put finds it
	Answered  bool           // whether it was to be acknowledged when it came; silent all the same if the window ended while it was stored
	Why       string         // why it was not
	Job       evidence.JobID // the job whose account it was, when one was known
	Run       prove.RunID    // the run that was open then; empty: this row belongs into no book
	Raw       []byte
	Clear     []byte // the frame decrypted, written as one in the clear; nil when Raw is in the clear or could not be read
}

// Inbox is a receiver's own store: what an acknowledgement rests on. Of rows that belong into no book it may drop the
// oldest, so that strangers can not fill the disk.
type Inbox interface {
	Receiver() string // this receiver's id, made once per data folder
	// Put returns the row's number once it is on disk. ErrFull when there is no room.
	Put(ctx context.Context, row InboxRow) (InboxRow, error)
	After(ctx context.Context, row int64, limit int) ([]InboxRow, error)
	Last(ctx context.Context) (int64, error)
	// Backlog counts the answered rows behind number after that belong into a book, and says when the first of them was stored;
	// the zero time when there are none.
	Backlog(ctx context.Context, after int64) (rows int64, oldest time.Time, err error)
}
