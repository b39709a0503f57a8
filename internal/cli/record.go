package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/drawing"
	"proofbell/internal/engine"
	"proofbell/internal/records"
	"proofbell/rules"
)

type recordCmd struct {
	Job   string `arg:"" name:"JOB" help:"Id of the job, or the beginning of its name."`
	Out   string `required:"" type:"path" help:"Folder to write to." placeholder:"DIR"`
	Data  string `type:"path" help:"Data folder." placeholder:"DIR"`
	Paper string `default:"A4" enum:"A4,Letter" help:"${enum}."`
}

// Run writes the record of a job as it stands.
func (c *recordCmd) Run(ctx context.Context, io *streams) error {
	return withBooks(ctx, c.Data, io, func(a *app.App) error {
		job, err := findJob(a, c.Job)
		if err != nil {
			return err
		}
		facts, err := recordFacts(ctx, a, job, time.Now())
		if err != nil {
			return err
		}
		facts.Paper = c.Paper
		pdf, err := records.PDF(facts)
		if err != nil {
			return err
		}
		if err := os.MkdirAll(c.Out, 0o755); err != nil {
			return err
		}
		path := filepath.Join(c.Out, fmt.Sprintf("record-%d.pdf", facts.Chain.Seq))
		if err := writeFile(path, pdf); err != nil {
			return err
		}
		fmt.Fprintln(io.out, path)
		return nil
	})
}

// recordMaker makes the record of a job for the server.
func recordMaker(a *app.App) func(context.Context, evidence.JobID) ([]byte, error) {
	return func(ctx context.Context, job evidence.JobID) ([]byte, error) {
		facts, err := recordFacts(ctx, a, job, time.Now())
		if err != nil {
			return nil, err
		}
		return records.PDF(facts)
	}
}

var recordCautions = []string{
	"This is a record of what was seen and when, not a certificate. Local code, the authority having jurisdiction and the instructions of the equipment come first.",
	"\"Line\" means that the panel's signal reached the receiver of this program. Only the station's own evidence (read-back or history) proves the station.",
	"A test button proves sounder and link. It does not prove that smoke gets in.",
	"A listening bridge is an extra: it can miss an alarm and sees neither mains failure, low battery nor a missing head. The alarms themselves must stay.",
	"Work on mains alarms is for a licensed electrician.",
	"What is not proved stands here by name. A finding is judged against one rule set of one date, which may be out of date.",
}

// recordFacts puts the record of a job into words.
func recordFacts(ctx context.Context, a *app.App, job evidence.JobID, now time.Time) (records.Facts, error) {
	state, err := a.State(job)
	if err != nil {
		return records.Facts{}, err
	}
	head, err := a.Sign(ctx, job)
	if err != nil {
		return records.Facts{}, err
	}
	d := engine.NewDesk(state, 0)
	s := state.Site
	header := d.Header(now)
	loc, err := time.LoadLocation(s.Premises.TimeZone)
	if err != nil {
		loc = time.UTC
	}
	f := records.Facts{
		Title: "Record of the job", Name: state.Name(), Practice: s.Practice, Date: now.In(loc).Format("2006-01-02 15:04 MST"), Unix: now.Unix(),
		Cautions: recordCautions, Storeys: drawing.Storeys(s),
	}
	ruleSet := strings.TrimSpace(s.RuleSet.ID + " " + s.RuleSet.Edition)
	f.Sheet = []records.Pair{
		{Name: "Premises", Value: join(", ", s.Premises.Address, s.Premises.Locality, s.Premises.Country)},
		{Name: "Use", Value: s.Premises.Use},
		{Name: "Account", Value: join(", ", s.Account.Number, s.Station.Name)},
		{Name: "Panel", Value: join(", ", s.Panel.Profile, s.Rooms[s.Panel.Room].Name)},
		{Name: "Rule set", Value: ruleSet},
	}
	schedule, err := d.Schedule(now)
	if err != nil {
		return f, err
	}
	f.Zones = records.Table{
		Title: "Zone schedule", Head: []string{"Zone", "Label", "Kind", "Room", "Device", "Identity", "Code", "Paths", "Loss window"},
		Widths: []float64{8, 26, 20, 24, 24, 17, 9, 22, 12}, Empty: "No zone yet.",
	}
	for _, z := range schedule.Zones {
		identity := z.Identity
		if z.Terminal != "" {
			identity += " " + z.Terminal
		}
		f.Zones.Rows = append(f.Zones.Rows, []string{z.ID, z.Label, z.KindSay, z.Room, z.DeviceSay, identity, z.Code, strings.Join(z.Paths, ", "), z.LossWindow})
	}
	survey := d.Survey(now)
	f.Heads = records.Table{Title: "Self-contained alarms", Head: []string{"Alarm", "What", "Group", "Made", "Age"}, Widths: []float64{14, 58, 14, 16, 78}, Empty: "None recorded."}
	for _, h := range survey.Heads {
		f.Heads.Rows = append(f.Heads.Rows, []string{h.ID, join(", ", headWords(h.Kind), h.Room), h.Group, h.Made, h.Due})
	}
	f.Findings = findingFacts(schedule)
	proveFacts(&f, d.Prove(now, ""), header, loc)
	f.Chain = records.Chain{Job: string(job), Seq: head.Seq, Hash: head.Hash.String(), Fingerprint: head.Key.String(), Signature: signatureText(head)}
	return f, nil
}

func signatureText(head evidence.Head) string {
	text, err := head.Sig.MarshalText()
	if err != nil {
		return ""
	}
	return string(text)
}

func findingFacts(schedule engine.Schedule) []records.Finding {
	words := map[rules.Severity]string{rules.Stop: "STOP", rules.Fix: "FIX", rules.Advise: "ADVICE"}
	var out []records.Finding
	for _, x := range schedule.Findings {
		out = append(out, records.Finding{Severity: words[x.Severity], Where: x.Where, Say: x.Say, Who: join(" ", x.Do, "("+string(x.Who)+")")})
	}
	for _, x := range schedule.Accepted {
		out = append(out, records.Finding{Severity: "ACCEPTED", Where: x.Finding.Where, Say: x.Finding.Say, Who: fmt.Sprintf("Accepted by %s: %s", x.By, x.Reason)})
	}
	return out
}

func proveFacts(f *records.Facts, v engine.Prove, header engine.Header, loc *time.Location) {
	c := v.Outcome.Counters
	f.Summary = "No proving run was made. Nothing is proved."
	if v.Run == nil {
		return
	}
	f.Summary = fmt.Sprintf("%d of %d proved, %d failed, %d waiting, %d not testable.", c.Proved, c.Total, c.Failed, c.Waiting, c.NotTestable)
	if c.Half > 0 {
		f.Summary += fmt.Sprintf(" Of the proved, %d by test button only.", c.Half)
	}
	w := v.Window
	f.OnTest = []records.Pair{{Name: "Run opened", Value: v.Run.Opened.In(loc).Format("2006-01-02 15:04")}, {Name: "Station", Value: header.Station}}
	if !w.Opened.IsZero() {
		f.OnTest = append(f.OnTest, records.Pair{Name: "On test", Value: fmt.Sprintf("%s to %s", w.Opened.In(loc).Format("2006-01-02 15:04"), w.Until.In(loc).Format("15:04"))},
			records.Pair{Name: "Operator", Value: join(", ", w.Operator, w.Reference)})
	}
	if !v.Run.Closed.IsZero() {
		f.OnTest = append(f.OnTest, records.Pair{Name: "Run closed", Value: v.Run.Closed.In(loc).Format("2006-01-02 15:04")})
	}
	for i, r := range v.Outcome.Steps {
		step := v.Steps[i]
		result := records.Result{
			Zone: string(step.Zone), Title: step.Title, Say: r.Say,
			Stops: [4]string{string(r.Strip.Detector.State), string(r.Strip.Panel.State), string(r.Strip.Line.State), string(r.Strip.Station.State)},
		}
		for n, hop := range r.Strip.Hops {
			result.Hops[n] = strings.TrimSuffix(hop.Say, " from the trip")
		}
		f.Results = append(f.Results, result)
		if r.Verdict.Good() {
			continue
		}
		verdict, name := upperFirst(r.Verdict.Say()), join(" ", string(step.Zone), step.Title)
		at := slices.IndexFunc(f.NotProved, func(p records.Pair) bool { return p.Name == verdict })
		if at < 0 {
			f.NotProved = append(f.NotProved, records.Pair{Name: verdict, Value: name})
			continue
		}
		f.NotProved[at].Value += "; " + name
	}
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// headWords says what a self-contained alarm senses.
func headWords(kind string) string {
	switch kind {
	case "co":
		return "carbon monoxide"
	case "smoke-co":
		return "smoke and carbon monoxide"
	}
	return kind
}

func join(by string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, by)
}
