package engine

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/words"
)

// Problem is what a person is shown when a call can not be answered.
type Problem struct {
	Code string `json:"code"`
	Say  string `json:"say"`
	Try  string `json:"try"`
	Err  error  `json:"-"`

	args []any      // of Try
	text words.Text // instead of Say
}

func (p *Problem) Error() string { return p.Say }

// In says in a language what was only marked yet.
func (p *Problem) In(lang *words.Language) *Problem {
	said := *p
	said.Say, said.Try = lang.Word(p.Say), lang.Word(p.Try)
	if len(p.args) > 0 {
		said.Try = lang.Say(p.Try, p.args...)
	}
	if text := p.text.In(lang); text != "" {
		said.Say = text
	}
	return &said
}

func (p *Problem) Unwrap() error { return p.Err }

// Engine holds the books that were loaded into it. It has no clock, network or files. Not safe for concurrent use: the
// browser's worker is its only caller there.
type Engine struct {
	books     map[evidence.JobID]*held
	rehearsal *rehearsing // the newest one; nil: none
}

// held is a loaded book with the outbox laid over it.
type held struct {
	open   book.Open
	key    *evidence.JobKey
	state  *book.State // what the server has ordered
	outbox []evidence.Content
	desk   *Desk // over state and outbox; nil until asked for
	kept   *kept // of the desk before
}

// New returns an engine without books.
func New() *Engine { return &Engine{books: map[evidence.JobID]*held{}} }

// Call answers one call: {"ok": result} or {"problem": {...}}. It never panics on what it is given.
func (e *Engine) Call(method string, argument []byte) []byte {
	result, err := e.call(method, argument)
	var out any = struct {
		OK any `json:"ok"`
	}{result}
	if err != nil {
		p := &Problem{}
		if !errors.As(err, &p) {
			p = &Problem{Code: "bad-request", text: words.Said(err), Try: words.Mark("Reload the page.")}
		}
		var arg struct{ Lang string }
		_ = json.Unmarshal(argument, &arg) // what can not be read has no language
		p = p.In(words.In(arg.Lang))
		out = struct {
			Problem *Problem `json:"problem"`
		}{p}
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(out); err != nil {
		return []byte(`{"problem":{"code":"internal","say":"The answer could not be written.","try":"Reload the page."}}`)
	}
	return b.Bytes()
}

func (e *Engine) call(method string, argument []byte) (any, error) {
	switch method {
	case "job.load":
		return e.load(argument)
	case "job.append":
		return e.append(argument)
	case "job.outbox":
		return e.layOutbox(argument)
	case "job.begin":
		return e.begin(argument)
	case "job.seal":
		return e.seal(argument)
	case "blob.seal":
		return e.sealBlob(argument)
	case "blob.open":
		return e.openBlob(argument)
	case "history.diagnose":
		return e.diagnose(argument)
	case "signal.say":
		return sayRow(argument)
	case "table.write":
		return e.writeTable(argument)
	case "table.read":
		return e.readTable(argument)
	case "practice.make":
		return makePractice(argument)
	case "practice.key":
		return e.practiceKey(argument)
	case "job.forget":
		arg, err := read[struct{ Job evidence.JobID }](argument)
		delete(e.books, arg.Job)
		return struct{}{}, err
	}
	if strings.HasPrefix(method, "rehearse.") {
		return e.rehearse(method, argument)
	}
	if strings.HasPrefix(method, "plan.") {
		return e.plan(method, argument)
	}
	view, ok := views[method]
	if !ok {
		return nil, noCall(method)
	}
	arg, err := read[ViewArg](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	if arg.Now.IsZero() {
		return nil, &Problem{Code: "bad-request", Say: words.Mark("The call does not say what time it is."), Try: words.Mark("Reload the page.")}
	}
	return view(h.current().In(words.In(arg.Lang)), arg)
}

func noCall(method string) error {
	return &Problem{Code: "not-found", Say: words.Mark("The engine has no such call."), Try: words.Mark("Reload the page so that it matches the engine."), Err: fmt.Errorf("call %q", method)}
}

func read[T any](raw []byte) (v T, err error) {
	if err := json.Unmarshal(raw, &v); err != nil {
		return v, &Problem{Code: "bad-request", Say: words.Mark("The call can not be read."), Try: words.Mark("Reload the page."), Err: err}
	}
	return v, nil
}

func (e *Engine) book(job evidence.JobID) (*held, error) {
	if h := e.books[job]; h != nil {
		return h, nil
	}
	return nil, &Problem{Code: "not-found", Say: words.Mark("This job is not open in the engine."), Try: words.Mark("Open it again.")}
}

// current returns the desk over book and outbox, made anew after a change.
func (h *held) current() *Desk {
	if h.desk == nil {
		h.lay(h.state, h.outbox)
	}
	return h.desk
}

// lay makes the desk from a state and the contents that are not in it yet.
func (h *held) lay(state *book.State, contents []evidence.Content) {
	state = state.Clone()
	state.Lay(h.open, contents...)
	waiting := 0
	for _, c := range h.outbox {
		if !h.state.Has(c.ID) {
			waiting++
		}
	}
	h.desk = layOut(state, waiting, h.kept)
	h.kept = h.desk.kept
}

type seqResult struct {
	Seq int64 `json:"seq"`
}

func (e *Engine) load(argument []byte) (any, error) {
	arg, err := read[struct {
		Job     evidence.JobID
		Key     string
		Entries []evidence.Entry
	}](argument)
	if err != nil {
		return nil, err
	}
	h := &held{state: book.New(arg.Job)}
	if arg.Key != "" {
		secret, err := base64.RawURLEncoding.DecodeString(arg.Key)
		if err == nil {
			h.key, err = evidence.JobKeyFrom(secret)
		}
		if err != nil {
			return nil, &Problem{Code: "bad-request", Say: words.Mark("The key of this job can not be read."), Try: words.Mark("Open the job again while the server can be reached."), Err: err}
		}
	}
	h.open = book.WithKey(h.key)
	if err := h.take(arg.Entries); err != nil {
		return nil, err
	}
	e.books[arg.Job] = h
	return seqResult{h.state.Seq}, nil
}

func (e *Engine) append(argument []byte) (any, error) {
	arg, err := read[struct {
		Job     evidence.JobID
		Entries []evidence.Entry
	}](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	err = h.take(arg.Entries)
	return seqResult{h.state.Seq}, err
}

// take adds ordered entries. Known ones are passed over; a gap stops it.
func (h *held) take(entries []evidence.Entry) error {
	h.desk = nil
	next := h.state.Seq + 1
	for i, entry := range entries {
		if entry.Seq > next {
			h.state.Apply(h.open, entries[:i]...)
			return &Problem{Code: "gap", Say: words.Mark("Entries are missing in between."), Try: words.Mark("Fetch them from %d on."), args: []any{next}}
		}
		next = max(next, entry.Seq+1)
	}
	h.state.Apply(h.open, entries...)
	return nil
}

func (e *Engine) layOutbox(argument []byte) (any, error) {
	arg, err := read[struct {
		Job      evidence.JobID
		Contents []evidence.Content
	}](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	before := h.outbox
	h.outbox = arg.Contents
	if n := len(before); h.desk != nil && n <= len(h.outbox) && slices.EqualFunc(before, h.outbox[:n], func(a, b evidence.Content) bool { return a.ID == b.ID }) {
		h.lay(h.desk.State, h.outbox[n:]) // one more act: only that is laid over what stands
	} else {
		h.desk = nil
	}
	return struct {
		Waiting int `json:"waiting"`
	}{h.current().Waiting}, nil
}

// seal makes a content for the outbox. An act that the job would refuse as it stands (a step out of order on the way to
// a test window, say) is refused here, before anything is written; what is written is never refused later.
func (e *Engine) seal(argument []byte) (any, error) {
	arg, err := read[struct {
		Job     evidence.JobID
		Kind    evidence.Kind
		Body    json.RawMessage
		Private json.RawMessage
		At      time.Time
		By      evidence.PersonID
		Random  string
		Role    book.Role // empty: the lead
		Lang    string
	}](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	if arg.Role == "" {
		arg.Role = book.Lead
	}
	if why := arg.Role.May(h.current().State, arg.By, arg.Kind, arg.Body, arg.Private); why != "" {
		lang := words.In(arg.Lang)
		return nil, &Problem{Code: "not-allowed", Say: lang.Say(why), Try: lang.Say("Ask the lead, who can also pair this device anew as a lead.")}
	}
	source, err := randomBytes(arg.Random, 32)
	if err != nil {
		return nil, err
	}
	id, err := evidence.NewEntryID(arg.At, source)
	if err != nil {
		return nil, err
	}
	c, err := evidence.NewContent(arg.Job, id, arg.At, arg.By, arg.Kind, h.state.Seq, arg.Body)
	if err != nil {
		return nil, err
	}
	if len(arg.Private) > 0 && string(arg.Private) != "null" {
		if c, err = evidence.SealPrivate(h.key, source, c, arg.Private); err != nil {
			return nil, sealProblem(err)
		}
	}
	if err := book.Check(c); err != nil {
		return nil, notTaken(arg.Kind, err, words.In(arg.Lang))
	}
	if err := h.current().In(words.In(arg.Lang)).Refuses(c, h.key); err != nil {
		return nil, err
	}
	return c, nil
}

// randomBytes reads the randomness that a call brings: at least so many bytes.
func randomBytes(text string, least int) (*bytes.Reader, error) {
	random, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(random) < least {
		return nil, &Problem{Code: "bad-request", Say: words.Mark("The call brings too few random bytes."), Try: words.Mark("Reload the page."), Err: fmt.Errorf("want %d", least)}
	}
	return bytes.NewReader(random), nil
}

// holdsOpen keeps a run open while a temporary change is not undone. It is asked before the entry is written only: books in
// which a run was closed over one stay as they are.
func (d *Desk) holdsOpen(c evidence.Content) error {
	var body prove.RunBody
	if run := d.State.OpenRun(); c.Kind != evidence.KindRun || run == nil || json.Unmarshal(c.Body, &body) != nil || body.Act != prove.RunClosed {
		return nil
	}
	var left []string
	for _, p := range d.openPutBacks() {
		left = append(left, p.Say)
	}
	if len(left) == 0 {
		return nil
	}
	return &Problem{Code: "out-of-order", Say: d.lang.Say("To be put back before the run is closed: %s.", strings.Join(left, ", ")), Try: d.lang.Say("Undo each at the panel, then say so on the put-back list."), Err: prove.ErrOrder}
}

// notTaken says why an entry has not the form of its kind: what was typed wrong, or else what the page made wrong.
func notTaken(kind evidence.Kind, err error, lang *words.Language) error {
	var typed *words.Error
	if errors.As(err, &typed) {
		return &Problem{Code: "bad-request", Say: words.Upper(typed.Say.In(lang)) + ".", Try: words.Upper(typed.Try.In(lang)) + ".", Err: err}
	}
	return &Problem{Code: "bad-request", Say: lang.Say("The %s entry can not be read: %s.", lang.Word(string(kind)), words.Said(err).In(lang)), Try: words.Mark("Reload the page."), Err: err}
}

func sealProblem(err error) error {
	if errors.Is(err, evidence.ErrErased) {
		return &Problem{Code: "erased", Say: words.Mark("The personal data of this job was erased for good: nothing can be added to it."), Try: words.Mark("Open a new job."), Err: err}
	}
	return err
}

// Refuses says why the job, as it stands, would not take an act: a *Problem in the words of the guard that refused it,
// or nil. It is asked before anything is written.
func (d *Desk) Refuses(c evidence.Content, key *evidence.JobKey) error {
	if err := d.holdsOpen(c); err != nil {
		return err
	}
	if c.Kind == evidence.KindProfile && d.State.OpenRun() != nil {
		return &Problem{Code: "out-of-order", Say: d.lang.Say("A proving run is open, and its plan goes by the panel profile as it is."), Try: d.lang.Say("Close the run first."), Err: prove.ErrOrder}
	}
	trial := d.State.Clone()
	before := len(trial.Troubles)
	trial.Lay(book.WithKey(key), c)
	if len(trial.Troubles) == before {
		return nil
	}
	say := trial.Troubles[before].Say
	if err := trial.Troubles[before].Err; err != nil {
		say = words.Said(err)
	}
	return &Problem{Code: "out-of-order", Say: words.Upper(say.In(d.lang)) + ".", Err: prove.ErrOrder}
}
