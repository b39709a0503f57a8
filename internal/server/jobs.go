package server

import (
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"strconv"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/words"
	"proofbell/site"
)

// anyone is who opens a job before a person has been chosen.
const anyone evidence.PersonID = "someone"

func (s *server) hello(w http.ResponseWriter, r *http.Request) {
	receiver, err := s.receiver(r, "")
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{
		"product": "proofbell", "version": s.Version, "demo": s.Demo != nil, "signals": append([]string{}, s.Signals...),
		"receiver": receiver, "me": s.me(r), "signer": s.App.SigningFingerprint(), "now": evidence.TimeOf(time.Now()),
	})
}

func (s *server) jobs(w http.ResponseWriter, r *http.Request) {
	s.answer(w, r, http.StatusOK, map[string]any{"jobs": s.App.Jobs()})
}

func (s *server) sticker(w http.ResponseWriter, r *http.Request) {
	token, ok := site.ParseToken(r.PathValue("token"))
	if !ok {
		s.fail(w, r, &app.Problem{Code: app.BadRequest, Say: words.Mark("That is not what a sticker says."), Try: words.Mark("Type the eight signs that stand on it."), Field: "token"})
		return
	}
	job, about, err := s.App.Stuck(token)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"job": job, "about": about})
}

func (s *server) open(w http.ResponseWriter, r *http.Request) {
	raw, err := readBody(w, r, maxBody)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		media = ""
	}
	var described *site.Site
	switch media {
	case "application/json":
		described, err = site.DecodeJSON("site.json", raw)
	case "application/yaml", "text/yaml":
		described, err = site.DecodeYAML("site.yaml", raw)
	default:
		err = &app.Problem{Code: app.BadRequest, Say: words.Mark("A job is opened from a site file."), Try: words.Mark("Send application/json or application/yaml.")}
	}
	var faults site.Faults
	if errors.As(err, &faults) {
		p := &app.Problem{Code: app.BadRequest, Say: words.Mark("The site file has faults."), Try: words.Mark("Mend them and send it again; nothing was opened.")}
		s.answer(w, r, http.StatusBadRequest, map[string]any{"problem": p.In(spoken(r)), "faults": faults.In(spoken(r).Tag())})
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	job, err := s.App.Open(r.Context(), described, who(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Location", "/api/jobs/"+string(job))
	s.answer(w, r, http.StatusCreated, map[string]any{"job": job})
}

// who reads who is at work, as chosen on the device.
func who(r *http.Request) evidence.PersonID {
	if by := evidence.PersonID(r.Header.Get("Proofbell-By")); by.Valid() {
		return by
	}
	return anyone
}

func jobID(r *http.Request) evidence.JobID { return evidence.JobID(r.PathValue("job")) }

func (s *server) job(w http.ResponseWriter, r *http.Request) {
	key, seq, err := s.App.Key(jobID(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"job": jobID(r), "seq": seq, "key": base64.RawURLEncoding.EncodeToString(key.Secret())})
}

// begin takes over a job that was begun on a device.
func (s *server) begin(w http.ResponseWriter, r *http.Request) {
	raw, err := readBody(w, r, maxBody)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var sent struct {
		Key      string            `json:"key"`
		Contents []json.RawMessage `json:"contents"`
	}
	contents := []evidence.Content{}
	err = json.Unmarshal(raw, &sent)
	for _, one := range sent.Contents {
		c, fault := evidence.ParseContent(one)
		if fault == nil && c.Job != jobID(r) {
			fault = evidence.ErrJob
		}
		contents, err = append(contents, c), errors.Join(err, fault)
	}
	secret, fault := base64.RawURLEncoding.DecodeString(sent.Key)
	key, fault2 := evidence.JobKeyFrom(secret)
	if err = errors.Join(err, fault, fault2); err != nil || !jobID(r).Valid() || len(contents) == 0 || len(contents) > mostEntries {
		s.fail(w, r, &app.Problem{Code: app.BadRequest, Say: words.Mark("The new job can not be read."), Try: words.Mark("Reload the page so that it matches the server."), Err: err})
		return
	}
	results, err := s.App.Begin(r.Context(), jobID(r), key, contents)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"results": results})
}

// number reads a whole number from the query.
func number(r *http.Request, name string, otherwise, most int64) (int64, error) {
	text := r.URL.Query().Get(name)
	if text == "" {
		return otherwise, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0, (&app.Problem{Code: app.BadRequest, Try: words.Mark("Give a whole number from 0."), Field: name}).With(words.Later("%s=%q is not a number.", name, text), words.Text{})
	}
	return min(n, most), nil
}

const mostEntries = 2000

func (s *server) entries(w http.ResponseWriter, r *http.Request) {
	after, err := number(r, "after", 0, 1<<53)
	limit, err2 := number(r, "limit", mostEntries, mostEntries)
	if err = errors.Join(err, err2); err != nil {
		s.fail(w, r, err)
		return
	}
	_, seq, err := s.App.Key(jobID(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	entries, err := s.App.Entries(r.Context(), jobID(r), after, int(limit))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"entries": entries, "seq": seq})
}

func (s *server) append(w http.ResponseWriter, r *http.Request) {
	raw, err := readBody(w, r, maxBody)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var sent struct {
		Contents []json.RawMessage `json:"contents"`
	}
	if err := json.Unmarshal(raw, &sent); err != nil || len(sent.Contents) == 0 || len(sent.Contents) > mostEntries {
		s.fail(w, r, (&app.Problem{Code: app.BadRequest, Say: words.Mark("No entries were sent, or too many at once."), Err: err}).With(words.Text{}, words.Later("Send {\"contents\": [...]} with 1 to %d entries.", mostEntries)))
		return
	}
	results := make([]app.Result, len(sent.Contents))
	var contents []evidence.Content
	var places []int
	judge := s.App.Judge(visitorOf(r).role, visitorOf(r).as(), jobID(r))
	for i, raw := range sent.Contents {
		c, err := evidence.ParseContent(raw)
		if err == nil && c.Job != jobID(r) {
			err = &app.Problem{Code: app.BadRequest, Say: words.Mark("This entry belongs to another job."), Try: words.Mark("Send it to that job."), Err: evidence.ErrJob}
		}
		if err == nil {
			if p := judge(c); p != nil {
				err = p
			}
		}
		if err != nil {
			var id struct{ ID evidence.EntryID }
			_ = json.Unmarshal(raw, &id) // only to name it in the answer
			results[i] = app.Result{ID: id.ID, Problem: app.AsProblem(err)}
			continue
		}
		contents, places = append(contents, c), append(places, i)
	}
	placed, err := s.App.Append(r.Context(), jobID(r), contents)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	for i, p := range placed {
		results[places[i]] = p
	}
	for i, one := range results {
		if one.Problem != nil {
			results[i].Problem = one.Problem.In(spoken(r))
		}
	}
	s.answer(w, r, http.StatusOK, map[string]any{"results": results})
}

func (s *server) export(w http.ResponseWriter, r *http.Request) {
	if _, _, err := s.App.Key(jobID(r)); err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/jsonl")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", string(jobID(r))+".pbook"))
	if err := s.App.Export(r.Context(), jobID(r), w); err != nil {
		s.Log.Error("exporting", "job", jobID(r), "err", err)
		panic(http.ErrAbortHandler) // the answer has begun: a broken connection says that it is not whole
	}
}

func (s *server) imports(w http.ResponseWriter, r *http.Request) {
	job, err := s.App.Import(r.Context(), limited(w, r, maxBook))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusCreated, map[string]any{"job": job})
}

func (s *server) erase(w http.ResponseWriter, r *http.Request) {
	raw, err := readBody(w, r, 4096)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var sent struct {
		Name string `json:"name"`
	}
	state, err := s.App.State(jobID(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if json.Unmarshal(raw, &sent) != nil || sent.Name != state.Name() {
		s.fail(w, r, &app.Problem{Code: app.NotAllowed, Say: words.Mark("Erasing can not be undone: people, contacts, notes and files of the job are gone for good."), Try: words.Mark("Give the job's name to confirm."), Field: "name"})
		return
	}
	if err := s.App.Erase(r.Context(), jobID(r), who(r)); err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"job": jobID(r), "erased": true})
}

func (s *server) putBlob(w http.ResponseWriter, r *http.Request) {
	address, err := evidence.ParseHash(r.PathValue("address"))
	if err != nil {
		s.fail(w, r, &app.Problem{Code: app.BadRequest, Say: words.Mark("That is not the address of a file."), Try: words.Mark("Use the SHA-256 of its sealed bytes."), Err: err})
		return
	}
	sealed, err := readBody(w, r, maxBlob)
	if err == nil {
		err = s.App.TakeBlob(r.Context(), jobID(r), address, sealed)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func (s *server) blob(w http.ResponseWriter, r *http.Request) {
	address, err := evidence.ParseHash(r.PathValue("address"))
	if err != nil {
		s.fail(w, r, app.ErrNotFound)
		return
	}
	sealed, err := s.App.Blob(r.Context(), jobID(r), address)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Cache-Control", "private, immutable, max-age=31536000")
	if _, err := w.Write(sealed); err != nil {
		s.Log.Debug("writing a file", "err", err)
	}
}

func (s *server) inbox(w http.ResponseWriter, r *http.Request) {
	after, err := number(r, "after", 0, 1<<62)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	rows, err := s.App.Arrivals(r.Context(), after, 500)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	last := after
	if len(rows) > 0 {
		last = rows[len(rows)-1].Row
	}
	s.answer(w, r, http.StatusOK, map[string]any{"rows": rows, "row": last})
}
