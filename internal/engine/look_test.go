package engine

import (
	"encoding/base64"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/upkeep"
	"proofbell/signal"
	"proofbell/site"
)

// desk folds the book so far.
func (j *job) desk() *Desk {
	s := book.New(j.Job)
	s.Apply(book.WithKey(j.Key), j.Entries...)
	return NewDesk(s, 0)
}

func (j *job) edit(patch string) {
	j.T.Helper()
	j.Add(evidence.KindEdit, book.EditBody{Patch: json.RawMessage(patch), From: "phone"}, nil)
}

func (j *job) closeRun() {
	j.T.Helper()
	run := prove.RunID("")
	for _, e := range j.Entries {
		if e.Kind == evidence.KindRun && strings.Contains(string(e.Body), `"opened"`) {
			run = prove.RunID(e.ID)
		}
	}
	j.Add(evidence.KindReadback, prove.ReadBackBody{Run: run, Source: prove.FromPhone, Lines: []prove.ReadBackLine{}}, nil)
	for _, e := range []prove.WindowEvent{{Act: prove.ActReadBack}, {Act: prove.ActOff, Nothing: true}} {
		j.Add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: e}, nil)
	}
	j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Run: run, Reason: "the rest next week"}, nil)
}

// What was proved stays proved when its zone is changed afterwards, and the change obliges it anew. Zone 11 was proved at
// the station on 15 September; its label is changed after the run: 11, and 10 % of the other 31 devices, 3.1, up to 4.
func TestChangeAfterTheRun(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	j.closeRun()
	later := noon.AddDate(0, 1, 0)
	v, err := j.desk().Look(later, 0)
	j.Must(err)
	if v.Reproof == nil || len(v.Reproof.Must)+len(v.Reproof.Sample) != 0 || !strings.Contains(v.Since, "2026-09-15") {
		t.Fatalf("before the change: %+v, %s", v.Reproof, v.Since)
	}
	if got := j.desk().proofs(later)["11.alarm"]; got.IsZero() {
		t.Fatal("zone 11 was not proved")
	}
	j.edit(`{"zones":{"11":{"label":"Upper landing smoke","code":"110"}}}`)
	d := j.desk()
	if v, err = d.Look(later, 0); err != nil {
		t.Fatal(err)
	}
	if got := d.proofs(later)["11.alarm"]; got.IsZero() {
		t.Error("a change after the run took its proof away")
	}
	devices := map[site.DeviceID]bool{}
	for _, o := range v.Reproof.Sample {
		devices[o.Device] = true
	}
	if len(v.Reproof.Must) != 1 || v.Reproof.Must[0].Step != "11.alarm" || v.Reproof.Must[0].Last != "2026-09-15" || len(devices) != 4 {
		t.Errorf("obliged %+v and %d devices", v.Reproof.Must, len(devices))
	}
	if !slices.Contains(v.Steps, prove.StepID("11.alarm")) || len(v.Steps) < 5 {
		t.Errorf("scope %v", v.Steps)
	}
}

// obliged are the steps that the changes oblige by name.
func (j *job) obliged() (steps []string) {
	j.T.Helper()
	r, _, err := j.desk().Reproof(noon.AddDate(0, 1, 0))
	j.Must(err)
	for _, o := range r.Must {
		steps = append(steps, string(o.Step))
	}
	return steps
}

// A run of everything that proved nothing takes no obligation away; one that proved the step does.
func TestRunThatProvedNothingDischargesNothing(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	j.closeRun()
	j.edit(`{"zones":{"11":{"label":"Upper landing smoke"}}}`)
	run := j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil)
	j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Run: prove.RunID(run.ID), Reason: "nobody at home"}, nil)
	if got := j.obliged(); !slices.Equal(got, []string{"11.alarm"}) {
		t.Errorf("after a run without a proof: %v", got)
	}
	j.run()
	j.closeRun()
	if got := j.obliged(); len(got) != 0 {
		t.Errorf("after its proof: %v", got)
	}
}

// The button of a detector of the system does not prove the sensor that was put in.
func TestButtonDoesNotDischargeAReplacedDetector(t *testing.T) {
	j := newJob(t, demo.Corrected)
	device := string(j.desk().State.Site.Zones["11"].Device)
	j.run()
	j.closeRun()
	j.edit(`{"devices":{"` + device + `":{"identity":"SD009999"}}}`)
	for _, c := range []struct {
		method string
		want   []string
	}{{"", []string{"11.alarm"}}, {"button", []string{"11.alarm"}}, {"aerosol", nil}} {
		j.runBy(c.method)
		j.closeRun()
		if got := j.obliged(); !slices.Equal(got, c.want) {
			t.Errorf("by %q: %v, want %v", c.method, got, c.want)
		}
	}
}

// What was tripped before a detector was replaced proves nothing about the new one, though the run takes the new plan in.
func TestTripBeforeAReplacementCountsNoMore(t *testing.T) {
	j := newJob(t, demo.Corrected)
	device := string(j.desk().State.Site.Zones["11"].Device)
	j.run()
	run := j.desk().State.OpenRun().ID
	good := func(step prove.StepID) bool {
		d := j.desk()
		out := d.outcome(d.State.Run(string(run)), j.At.Add(time.Second))
		return out.Steps[slices.IndexFunc(out.Steps, func(r prove.StepResult) bool { return r.Step == step })].Verdict.Good()
	}
	before := good("12.alarm")
	if !good("11.alarm") {
		t.Fatal("zone 11 was not proved")
	}
	j.edit(`{"devices":{"` + device + `":{"identity":"SD009999"}}}`)
	if !good("11.alarm") {
		t.Error("the run keeps its plan until the new one is taken in")
	}
	j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunReplanned, Fingerprint: "x"}, nil)
	if good("11.alarm") || good("12.alarm") != before {
		t.Error("the trip of the detector that is gone still counts, or that of another counts no more")
	}
	entries := j.Entries
	j.closeRun()
	if got := j.obliged(); !slices.Equal(got, []string{"11.alarm"}) {
		t.Errorf("closed without another trip: %v", got)
	}
	j.Entries = slices.Clip(entries)
	j.trip(run, 11, "aerosol")
	j.readBack(run)
	if !good("11.alarm") {
		t.Error("tripped anew, and not proved")
	}
	j.closeRun()
	if got := j.obliged(); len(got) != 0 {
		t.Errorf("after its proof: %v", got)
	}
}

// A call-out from its beginning to its end: the screen says what comes next.
func TestCallOutStepByStep(t *testing.T) {
	j := newJob(t, demo.Corrected)
	about := "/devices/" + string(j.desk().State.Site.Zones["12"].Device)
	now := func() time.Time { return j.At.Add(time.Second) }
	next := func(want string) CallOut {
		t.Helper()
		c := j.desk().CallOut(now(), about)
		if c.Next != want {
			t.Fatalf("next is %q, want %q", c.Next, want)
		}
		return c
	}
	c := next(CallBegin)
	if c.Zone != "12" || c.Title != "Hall smoke" || !c.contains("12.alarm") || len(c.Prove) != 1 || c.Battery == "" || !strings.Contains(c.Reach, "ladder") {
		t.Errorf("the screen: %+v", c)
	}
	if !slices.ContainsFunc(c.Symptoms, func(s upkeep.Symptom) bool { return s.ID == "smoke-false" }) {
		t.Error("no symptom of a smoke detector")
	}
	j.Add(evidence.KindVisit, book.VisitBody{Act: book.VisitOpened, Reason: "call-out", Symptom: "smoke-false", About: about}, nil)
	next(CallTest)
	run := prove.RunID(j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816", Scope: c.Scope}, nil).ID)
	next(CallTest)
	families := []string{"fire", "trouble"}
	for _, e := range []prove.WindowEvent{
		{Act: prove.ActCall, Account: "4816", Families: families}, {Act: prove.ActAccountRead, Account: "4816", Address: true},
	} {
		j.Add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: e}, nil)
		next(CallTest)
	}
	j.Add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOpen, Families: families, Until: j.At.Add(2 * time.Hour)}}, prove.Private{Operator: "Ferrant", Reference: "CR-4101"})
	if c = next(CallProve); !slices.Equal(c.OnTest, families) || c.OpenRun != string(run) {
		t.Errorf("on test: %v, run %s", c.OnTest, c.OpenRun)
	}
	j.closeRun()
	if c = next(CallEnd); len(c.Visit.Runs) != 1 {
		t.Errorf("runs of the visit: %+v", c.Visit.Runs)
	}
	j.Add(evidence.KindVisit, book.VisitBody{Act: book.VisitClosed}, book.VisitPrivate{Text: "Steam from the shower: bath door closer mended."})
	if c = next(CallBegin); c.Last == nil || !strings.Contains(c.Last.Text, "Steam") {
		t.Errorf("the last visit: %+v", c.Last)
	}
}

func (c CallOut) contains(step prove.StepID) bool { return slices.Contains(c.Scope.Steps, step) }

// Tokens are new for what has none, each its own, and the patch makes a site that reads well and keeps them.
func TestStickers(t *testing.T) {
	j := newJob(t, demo.Corrected)
	random := base64.RawURLEncoding.EncodeToString([]byte("forty-eight bytes that came from a good dice....."))
	none, err := j.desk().Stickers("", "https://192.0.2.7:8443/")
	j.Must(err)
	if none.New != 0 || none.Patch != nil || none.List[0].Token != "" {
		t.Errorf("without random bytes: %d new", none.New)
	}
	v, err := j.desk().Stickers(random, "https://192.0.2.7:8443/")
	j.Must(err)
	s := j.desk().State.Site
	if want := 1 + len(s.Devices) + len(s.Heads); v.New != want || len(v.List) != want {
		t.Errorf("%d new of %d, want %d: the lid, each device, each alarm", v.New, len(v.List), want)
	}
	seen := map[string]bool{}
	for _, one := range v.List {
		if seen[one.Token] || one.URL != "https://192.0.2.7:8443/s/"+one.Token || one.Path == "" || strings.Contains(one.URL, "4816") {
			t.Errorf("%+v", one)
		}
		seen[one.Token] = true
	}
	j.edit(string(v.Patch))
	again, err := j.desk().Stickers(random, "https://192.0.2.7:8443/")
	j.Must(err)
	if again.New != 0 || len(again.List) != len(v.List) || again.List[5].Token != v.List[5].Token {
		t.Errorf("a second sheet: %d new", again.New)
	}
	raw, err := j.desk().State.SiteJSON()
	j.Must(err)
	if _, err := site.DecodeJSON("site.json", raw); err != nil {
		t.Error(err)
	}
	if _, err := j.desk().Stickers("AAAA", ""); err == nil {
		t.Error("three random bytes are enough for it")
	}
}

// Contact ID 351 and 352 speak of the first and the second line: the person at the door is told which path that is.
func TestTroubleOfALineNamesItsPath(t *testing.T) {
	d := newJob(t, demo.Corrected).desk()
	for code, want := range map[string]string{"351": "house internet (line 1)", "352": "mobile (line 2)", "350": "", "301": ""} {
		if got := d.line(signal.Event{Format: signal.CID, Code: code}); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
}

// The day of a proof is one of the site: 16:00 UTC on 15 September is 06:00 on the 16th at UTC+14.
func TestTheDayOfAProofIsOneOfTheSite(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	j.closeRun()
	j.edit(`{"premises":{"timeZone":"Pacific/Kiritimati"}}`)
	if got := j.desk().proofs(noon.AddDate(0, 1, 0))["11.alarm"].Format(time.DateOnly); got != "2026-09-16" {
		t.Errorf("zone 11 was proved on %s", got)
	}
}
