package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"proofbell/evidence"
	"proofbell/internal/words"
)

// Code is the class of a problem; clients and exit codes map these, nobody parses texts. Append only.
type Code string

// The codes.
const (
	BadRequest  Code = "bad-request"
	NotFound    Code = "not-found"
	Clash       Code = "conflict"
	TooLarge    Code = "too-large"
	NotAllowed  Code = "not-allowed"
	StorageFull Code = "storage-full"
	Busy        Code = "busy"
	ErasedJob   Code = "erased"
	Internal    Code = "internal"
	NotPaired   Code = "not-paired" // this device has to be paired first, or was removed
)

// Problem is what a person is shown: a sentence and a next step.
type Problem struct {
	Code  Code   `json:"code"`
	Say   string `json:"say"`
	Try   string `json:"try"`
	Field string `json:"field,omitempty"`
	Err   error  `json:"-"` // for the log, never for the screen

	say, try words.Text // where they have arguments
}

// In says the problem in a language.
func (p *Problem) In(lang *words.Language) *Problem {
	said := *p
	said.Say, said.Try = lang.Word(p.Say), lang.Word(p.Try)
	said.Say = cmp.Or(p.say.In(lang), said.Say)
	said.Try = cmp.Or(p.try.In(lang), said.Try)
	return &said
}

// With gives the problem sentences with arguments. The zero Text leaves what is there.
func (p *Problem) With(say, try words.Text) *Problem {
	p.say, p.try = say, try
	p.Say, p.Try = cmp.Or(say.String(), p.Say), cmp.Or(try.String(), p.Try)
	return p
}

func (p *Problem) Error() string {
	if p.Err != nil {
		return fmt.Sprintf("%s: %v", p.Say, p.Err)
	}
	return p.Say
}

func (p *Problem) Unwrap() error { return p.Err }

// AsProblem returns err as a problem that can be shown; what is not known becomes "internal" without its text.
func AsProblem(err error) *Problem {
	var p *Problem
	var body *evidence.JSONError
	switch {
	case errors.As(err, &p):
		return p
	case errors.Is(err, ErrNotFound):
		return &Problem{Code: NotFound, Say: words.Mark("There is no such job or file here."), Try: words.Mark("Go back to the list of jobs."), Err: err}
	case errors.Is(err, ErrFull):
		return &Problem{Code: StorageFull, Say: words.Mark("The disk of this computer is full: nothing more can be stored."), Try: words.Mark("Free some room. What was stored is unharmed, and signals are not answered meanwhile."), Err: err}
	case errors.Is(err, ErrAway):
		return &Problem{Code: Busy, Say: words.Mark("The database can not be reached."), Try: words.Mark("Try again in a moment. What is entered on this device stays on it until then."), Err: err}
	case errors.Is(err, context.DeadlineExceeded):
		return &Problem{Code: Busy, Say: words.Mark("This took too long: something else is being written."), Try: words.Mark("Try again in a moment."), Err: err}
	case errors.Is(err, ErrStale):
		return &Problem{Code: Busy, Say: words.Mark("Others write into this job at this moment, faster than this could be added."), Try: words.Mark("Try again."), Err: err}
	case errors.Is(err, ErrInUse):
		return &Problem{Code: Busy, Say: words.Mark("Another Proofbell is using this data folder."), Try: words.Mark("Stop that one, or choose another folder with --data."), Err: err}
	case errors.Is(err, evidence.ErrConflict):
		return &Problem{Code: Clash, Say: words.Mark("This entry was sent before with another content."), Try: words.Mark("Make a new entry; the first one stands."), Err: err}
	case errors.Is(err, evidence.ErrBase):
		return &Problem{Code: Clash, Say: words.Mark("This device knows entries that the server does not have."), Try: words.Mark("Was the server's data put back from a copy? Export from this device what is waiting."), Err: err}
	case errors.Is(err, evidence.ErrNewerFormat):
		return &Problem{Code: BadRequest, Say: words.Mark("This was written by a newer version."), Try: words.Mark("Bring this program up to date."), Err: err}
	case errors.Is(err, evidence.ErrErased):
		return &Problem{Code: ErasedJob, Say: words.Mark("The personal data of this job was erased for good."), Try: words.Mark("Open a new job."), Err: err}
	case errors.Is(err, evidence.ErrContent), errors.As(err, &body):
		return (&Problem{Code: BadRequest, Try: words.Mark("Reload the page so that it matches the server."), Err: err}).With(words.Later("The entry does not have the form of an entry: %s", words.Said(err)), words.Text{})
	}
	return &Problem{Code: Internal, Say: words.Mark("Something went wrong inside Proofbell."), Try: words.Mark("Try again. If it happens again, the log says more."), Err: err}
}
