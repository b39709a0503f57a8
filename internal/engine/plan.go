package engine

import (
	"encoding/base64"
	"encoding/json"
	"time"

	"proofbell/evidence"
	"proofbell/internal/draught"
	"proofbell/internal/drawing"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

// PlanAct is the argument of plan.act: one operation on the drawing of a job.
type PlanAct struct {
	Job  evidence.JobID `json:"job"`
	Lang string         `json:"lang"`
	draught.Operation
}

// PlanTry is the argument of plan.try: what the plan would be after a patch that is not kept yet, or after an act.
type PlanTry struct {
	Job    evidence.JobID     `json:"job"`
	Lang   string             `json:"lang"`
	Now    time.Time          `json:"now"`
	Patch  json.RawMessage    `json:"patch,omitempty"`
	Act    *draught.Operation `json:"act,omitempty"` // instead of a patch
	Storey site.StoreyID      `json:"storey"`
	About  string             `json:"about,omitempty"` // JSON pointer of what is in the hand, for live distances: "/devices/hall-smoke"
	Bare   bool               `json:"bare,omitempty"`  // without findings: while a hand moves fast
}

// PlanTried is the answer of plan.try.
type PlanTried struct {
	Acted     draught.Acted      `json:"acted"`     // of an act; else only its patch
	Plan      drawing.Plan       `json:"plan"`      // the storey as it would be
	Findings  []rules.Finding    `json:"findings"`  // that would come, or would change, with it; worst first
	Cured     int                `json:"cured"`     // findings that would go with it
	Distances []draught.Distance `json:"distances"` // of what is in the hand
	Sizes     []drawing.Size     `json:"sizes"`     // lengths of the sides of rooms that would change
}

// PlanImport is the argument of plan.import.
type PlanImport struct {
	Lang  string `json:"lang"`
	Name  string `json:"name"`           // of the file; its ending tells the format: .svg, .dxf
	Bytes string `json:"bytes"`          // base64, standard alphabet
	Unit  string `json:"unit,omitempty"` // what a unit of the drawing is, where the file does not say: m, cm, mm, ft, in
}

func (e *Engine) plan(method string, argument []byte) (any, error) {
	switch method {
	case "plan.act":
		arg, err := read[PlanAct](argument)
		if err != nil {
			return nil, err
		}
		h, err := e.book(arg.Job)
		if err != nil {
			return nil, err
		}
		return h.current().In(words.In(arg.Lang)).PlanAct(arg.Operation)
	case "plan.try":
		arg, err := read[PlanTry](argument)
		if err != nil {
			return nil, err
		}
		h, err := e.book(arg.Job)
		if err != nil {
			return nil, err
		}
		return h.current().In(words.In(arg.Lang)).PlanTry(arg)
	case "plan.import":
		arg, err := read[PlanImport](argument)
		if err != nil {
			return nil, err
		}
		raw, err := base64.StdEncoding.DecodeString(arg.Bytes)
		if err != nil {
			return nil, &Problem{Code: "bad-request", Say: words.Mark("The call can not be read."), Try: words.Mark("Reload the page."), Err: err}
		}
		return draught.Import(words.In(arg.Lang), arg.Name, raw, arg.Unit), nil
	}
	return nil, noCall(method)
}

// PlanAct works out an operation on the drawing. What it makes of the site is a site: that is looked at before it is handed out.
func (d *Desk) PlanAct(a draught.Operation) (draught.Acted, error) {
	acted := draught.Do(d.lang, d.State.Site, a)
	if acted.Refused != nil {
		return acted, nil
	}
	_, err := patched(d.State.Site, acted.Patch)
	return acted, err
}

// patched is the site with a patch laid over it.
func patched(s *site.Site, p site.Patch) (*site.Site, error) {
	raw, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	if raw, err = site.Apply(raw, p); err != nil {
		return nil, err
	}
	return site.DecodeJSON("", raw)
}

// PlanTry draws a storey as it would be.
func (d *Desk) PlanTry(a PlanTry) (PlanTried, error) {
	s := d.State.Site
	v := PlanTried{Findings: []rules.Finding{}, Distances: []draught.Distance{}, Acted: draught.Acted{Patch: a.Patch, Made: []string{}, Goes: []string{}}}
	if a.Act != nil {
		if a.Act.Storey == "" {
			a.Act.Storey = a.Storey
		}
		v.Acted, s = draught.Try(d.lang, s, *a.Act)
	} else if len(a.Patch) > 0 {
		var err error
		if s, err = patched(s, a.Patch); err != nil {
			return v, &Problem{Code: "bad-request", text: words.Said(err), Try: words.Mark("Take the last change back."), Err: err}
		}
	}
	v.Plan = drawing.StoreyIn(d.lang, s, a.Storey)
	about := a.About
	if about == "" && len(v.Acted.Made) > 0 {
		about = v.Acted.Made[0]
	}
	v.Distances = draught.Distances(d.lang, s, a.Storey, about)
	v.Sizes = drawing.Sizes(d.lang, s, a.Storey, changedRooms(v.Acted.Patch))
	if !a.Bare && !d.Hides() && !a.Now.IsZero() {
		if err := d.tryFindings(&v, s, a.Now); err != nil {
			return v, err
		}
	}
	return v, nil
}

// changedRooms are those of which a patch says anything.
func changedRooms(p site.Patch) []site.RoomID {
	var of struct {
		Rooms map[site.RoomID]json.RawMessage `json:"rooms"`
	}
	_ = json.Unmarshal(p, &of) // what is no patch was refused before
	return append([]site.RoomID{}, site.SortedIDs(of.Rooms)...)
}

// tryFindings compares what the rules would find with what they find.
func (d *Desk) tryFindings(v *PlanTried, s *site.Site, now time.Time) error {
	was, err := d.Findings(now)
	if err != nil {
		return nil // the schedule says it
	}
	local := now.In(d.zone())
	found, err := rules.CheckMeasured(d.lang.Tag(), s, d.profileOf(s), time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC), d.measured())
	if err != nil {
		return err
	}
	before, after := map[string]string{}, map[string]bool{}
	for _, f := range was {
		before[f.Key] = f.Say
	}
	for _, f := range found {
		after[f.Key] = true
		if say, there := before[f.Key]; !f.NotJudged && (!there || say != f.Say) {
			v.Findings = append(v.Findings, f)
		}
	}
	for _, f := range was {
		if !f.NotJudged && !after[f.Key] {
			v.Cured++
		}
	}
	return nil
}
