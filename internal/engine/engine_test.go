package engine

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/book/booktest"
	"proofbell/internal/prove"
	"proofbell/signal"
	"proofbell/site"
)

var noon = time.Date(2026, 9, 15, 16, 0, 0, 0, time.UTC)

// job is a job book of the demo as a browser would load it, and the calls that a page makes.
type job struct{ *booktest.Keeper }

func newJob(t testing.TB, yaml []byte) *job {
	t.Helper()
	s, err := site.DecodeYAML("demo", yaml)
	if err != nil {
		t.Fatal(err)
	}
	return &job{booktest.Keep(t, s, noon)}
}

// run opens a run on test and proves two zones, one of them to the station.
func (j *job) run() { j.T.Helper(); j.runBy("aerosol") }

func (j *job) runBy(method string) {
	j.T.Helper()
	run := prove.RunID(j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil).ID)
	families := []string{"fire", "trouble"}
	for _, e := range []prove.WindowEvent{{Act: prove.ActCall, Account: "4816", Families: families}, {Act: prove.ActAccountRead, Account: "4816", Address: true}} {
		j.Add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: e}, nil)
	}
	j.Add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOpen, Families: families, Until: noon.Add(2 * time.Hour)}}, prove.Private{Operator: "Ferrant", Reference: "CR-4101"})
	j.Add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActFirstSignal}}, nil)
	for _, zone := range []int{11, 12} {
		j.trip(run, zone, method)
	}
	j.readBack(run)
}

// trip is a trip of a fire zone that our receiver sees.
func (j *job) trip(run prove.RunID, zone int, method string) {
	j.T.Helper()
	j.Add(evidence.KindTick, prove.TickBody{Step: prove.StepID(fmt.Sprintf("%d.alarm", zone)), What: prove.Tripped, Method: method}, nil)
	for k, q := range []signal.Qualifier{signal.New, signal.Restore} {
		j.Add(evidence.KindSignal, prove.SignalBody{
			Run: run, Receiver: "r", Row: int64(len(j.Entries) + k), Received: j.At.Add(1900 * time.Millisecond), Acknowledged: true,
			Event: signal.Event{Account: "4816", Format: signal.CID, Code: "111", Kind: "alarm", Family: "fire", Qualifier: q, Number: zone, NumberIs: signal.Zone, Area: 1},
		}, nil)
	}
}

// readBack is the station's word for zone 11.
func (j *job) readBack(run prove.RunID) {
	j.T.Helper()
	j.Add(evidence.KindReadback, prove.ReadBackBody{Run: run, Source: prove.FromPhone, Account: "4816", Lines: []prove.ReadBackLine{
		{Zone: "11", Code: "111", Qualifier: signal.New}, {Zone: "11", Code: "111", Qualifier: signal.Restore},
	}}, nil)
}

// call is one call of the engine.
type call struct {
	Method string `json:"method"`
	Arg    any    `json:"arg"`
}

// calls load a job, lay an outbox over it, and look at every view.
func (j *job) calls() []call {
	j.T.Helper()
	random := base64.RawURLEncoding.EncodeToString(bytes.Repeat([]byte{7}, 48))
	note := j.Content(evidence.KindNote, book.NoteBody{About: "zone 09"}, book.NotePrivate{Text: "The ladder is in the paper store."})
	half := len(j.Entries) / 2
	view := map[string]any{"job": j.Job, "now": noon.Add(10 * time.Minute), "limit": 50}
	out := []call{
		{"job.load", map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries[:half]}},
		{"job.append", map[string]any{"job": j.Job, "entries": j.Entries[half:]}},
		{"job.append", map[string]any{"job": j.Job, "entries": j.Entries[:1]}},
		{"job.outbox", map[string]any{"job": j.Job, "contents": []evidence.Content{note}}},
	}
	for _, method := range []string{"job.header", "job.survey", "job.schedule", "job.keying", "job.prove", "job.log"} {
		out = append(out, call{method, view})
	}
	for _, c := range []struct {
		kind    evidence.Kind
		body    any
		private any
	}{
		{evidence.KindTick, prove.TickBody{Step: "13.alarm", What: prove.Tripped}, nil},
		{evidence.KindNote, book.NoteBody{}, book.NotePrivate{Text: "x"}},
		{evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOff}}, nil},
	} {
		arg := map[string]any{"job": j.Job, "kind": c.kind, "body": c.body, "at": noon.Add(10 * time.Minute), "by": "okoro-lind", "random": random}
		if c.private != nil {
			arg["private"] = c.private
		}
		out = append(out, call{"job.seal", arg})
	}
	for _, method := range []string{"job.look", "job.callout", "job.takeover", "job.index"} {
		out = append(out, call{method, view})
	}
	german := map[string]any{"job": j.Job, "now": noon.Add(10 * time.Minute), "limit": 50, "lang": "de"}
	for _, method := range []string{"job.header", "job.survey", "job.schedule", "job.keying", "job.prove", "job.log"} {
		out = append(out, call{method, german})
	}
	out = append(out, call{"rehearse.open", map[string]any{"job": j.Job, "now": noon, "safety": true}}, call{"rehearse.press", map[string]any{"keys": []string{"0", "9", "OK", "2", "OK", "9", "BACK"}, "seconds": 1}}, call{"rehearse.end", map[string]any{}})
	return append(out, call{"job.dance", view}, call{"job.header", map[string]any{"job": "nothing", "now": noon}}, call{"job.forget", map[string]any{"job": j.Job}}, call{"job.header", view})
}

// answers makes the calls natively.
func answers(t testing.TB, calls []call) [][]byte {
	t.Helper()
	e := New()
	var out [][]byte
	for _, c := range calls {
		arg, err := json.Marshal(c.Arg)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, bytes.TrimSpace(e.Call(c.Method, arg)))
	}
	return out
}

// What every view must hold of the demo, by hand.
func TestViewsOfTheDemo(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	calls := j.calls()
	got := map[string]string{}
	for i, raw := range answers(t, calls) {
		if !json.Valid(raw) {
			t.Fatalf("%s: %s", calls[i].Method, raw)
		}
		if got[calls[i].Method] == "" {
			got[calls[i].Method] = string(raw)
		}
	}
	for method, holds := range map[string][]string{
		"job.load":     {`{"ok":{"seq":`},
		"job.outbox":   {`{"ok":{"waiting":1}}`},
		"job.header":   {`"name":"Larkwater Mill"`, `"account":"4816"`, `"waiting":1`, `"covers":"fire, trouble`, `On test.`},
		"job.survey":   {`"id":"G1"`, `"id":"M10"`, `"plans":[{`},
		"job.schedule": {`"id":"33"`, `"counts":{"advise":5,"fix":0,"stop":0}`},
		"job.keying":   {`"panel":"ladder"`},
		"job.prove":    {`"proved":1`, `"11.alarm"`},
		"job.log":      {`"Opened the job"`, `The ladder is in the paper store.`},
		"job.seal":     {`"kind":"tick"`},
		"job.look":     {`"title":"Tests of the next visit"`, `"basisSay":"NFPA 72`, `"id":"life.M2"`},
		"job.callout":  {`"symptoms":[{`, `"next":"begin"`},
		"job.takeover": {`"installer-code"`},
		"job.index":    {`"about":"/heads/M4"`, `1 Millrace Lane`},
		"job.dance":    {`"not-found"`},
	} {
		for _, want := range holds {
			if !strings.Contains(got[method], want) {
				t.Errorf("%s holds no %s:\n%.600s", method, want, got[method])
			}
		}
	}
	for i, raw := range answers(t, calls) {
		if i == 12 && (!bytes.Contains(raw, []byte(`"out-of-order"`)) || !bytes.Contains(raw, []byte("read-back"))) {
			t.Errorf("coming off test without a read-back: %s", raw)
		}
	}
	if draft := newJob(t, demo.Draft); !strings.Contains(string(answers(t, draft.calls())[6]), `"stop":1`) {
		t.Error("the draft has no stops")
	}
}

// The browser's engine gives the same bytes as the native one.
func TestWebAssemblyGivesTheSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the engine for the browser")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("node is not installed: the browser's engine was not compared")
	}
	gotool, err := exec.LookPath("go")
	if err != nil {
		t.Skip("go is not in the path")
	}
	dir := t.TempDir()
	linked, wasm := filepath.Join(dir, "linked.wasm"), filepath.Join(dir, "engine.wasm")
	build := exec.Command(gotool, "build", "-o", linked, "proofbell/cmd/engine")
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	// As it is sent: a word from lighten.js means that this Go lays out its table of functions in another way.
	if out, err := exec.Command(node, filepath.Join("..", "..", "web", "build", "lighten.js"), linked, wasm).CombinedOutput(); err != nil || len(out) > 0 {
		t.Fatalf("%v\n%s", err, out)
	}
	var calls []call
	for _, yaml := range [][]byte{demo.Corrected, demo.Draft} {
		j := newJob(t, yaml)
		j.run()
		calls = append(calls, j.calls()...)
	}
	raw, err := json.Marshal(calls)
	if err != nil {
		t.Fatal(err)
	}
	german, err := filepath.Abs(filepath.Join("..", "words", "de"))
	if err != nil {
		t.Fatal(err)
	}
	root, err := exec.Command(gotool, "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{"calls.json": raw, "run.mjs": []byte(`
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
const [wasm, glue, german, calls, answers] = process.argv.slice(2);
globalThis.require = (await import("node:module")).createRequire(import.meta.url);
(0, eval)(readFileSync(glue, "utf8"));
const go = new Go();
const { instance } = await WebAssembly.instantiate(readFileSync(wasm), go.importObject);
go.run(instance);
for (const name of readdirSync(german)) {
  const wrong = globalThis.proofbellWords("de", readFileSync(german + "/" + name, "utf8"));
  if (wrong) throw new Error(name + ": " + wrong);
}
const lines = JSON.parse(readFileSync(calls, "utf8")).map((c) => globalThis.proofbellEngine(c.method, JSON.stringify(c.arg)).trim());
writeFileSync(answers, lines.join("\n"));
process.exit(0);
`)} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	glue := filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js")
	cmd := exec.Command(node, filepath.Join(dir, "run.mjs"), wasm, glue, german, filepath.Join(dir, "calls.json"), filepath.Join(dir, "answers"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := os.ReadFile(filepath.Join(dir, "answers"))
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.Split(out, []byte("\n"))
	native := answers(t, calls)
	if len(lines) != len(native) {
		t.Fatalf("%d answers, want %d", len(lines), len(native))
	}
	for i := range native {
		if !bytes.Equal(lines[i], native[i]) {
			at := 0
			for at < min(len(lines[i]), len(native[i])) && lines[i][at] == native[i][at] {
				at++
			}
			t.Errorf("%s differs at byte %d on %s:\nwasm   ...%s\nnative ...%s", calls[i].Method, at, runtime.GOARCH, around(lines[i], at), around(native[i], at))
		}
	}
}

func around(raw []byte, at int) []byte { return raw[max(at-60, 0):min(at+60, len(raw))] }

// Loading in pieces, again, and in any grouping gives what loading at once gives.
func TestAGapIsSaidAndWhatIsKnownIsPassedOver(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	e := New()
	ask := func(method string, arg any) string {
		raw, err := json.Marshal(arg)
		j.Must(err)
		return string(e.Call(method, raw))
	}
	key := base64.RawURLEncoding.EncodeToString(j.Key.Secret())
	if got := ask("job.load", map[string]any{"job": j.Job, "key": key, "entries": j.Entries[:3]}); got != `{"ok":{"seq":3}}`+"\n" {
		t.Error(got)
	}
	if got := ask("job.append", map[string]any{"job": j.Job, "entries": append(j.Entries[3:5:5], j.Entries[6:]...)}); !strings.Contains(got, `"gap"`) || !strings.Contains(got, "from 6 on") {
		t.Error(got)
	}
	if got := ask("job.append", map[string]any{"job": j.Job, "entries": j.Entries}); got != fmt.Sprintf(`{"ok":{"seq":%d}}`+"\n", len(j.Entries)) {
		t.Error(got)
	}
	view := map[string]any{"job": j.Job, "now": noon}
	whole := New()
	raw, err := json.Marshal(map[string]any{"job": j.Job, "key": key, "entries": j.Entries})
	j.Must(err)
	whole.Call("job.load", raw)
	raw, err = json.Marshal(view)
	j.Must(err)
	if a, b := ask("job.prove", view), string(whole.Call("job.prove", raw)); a != b {
		t.Errorf("in pieces:\n%.300s\nat once:\n%.300s", a, b)
	}
}

// Whatever is called with whatever: an answer, in JSON, and no panic.
func FuzzCall(f *testing.F) {
	j := newJob(f, demo.Corrected)
	j.run()
	load, err := json.Marshal(map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries})
	if err != nil {
		f.Fatal(err)
	}
	for _, c := range j.calls()[1:] {
		arg, err := json.Marshal(c.Arg)
		if err != nil {
			f.Fatal(err)
		}
		if len(arg) < 4000 {
			f.Add(c.Method, arg)
		}
	}
	f.Add("job.load", []byte(`{"job":"x","key":"AAAA","entries":[{"seq":1,"kind":"edit","body":{"patch":{"zones":{"1":null}}}}]}`))
	f.Add("job.prove", []byte(`{"job":"`+string(j.Job)+`","now":"0001-01-01T00:00:01Z","run":"x","scope":{"sample":-5,"longest":["99"]},"families":["x"]}`))
	f.Add("job.keying", []byte(`{"job":"`+string(j.Job)+`","now":"9999-12-31T23:59:59Z","asFound":{"09":{"x":"y"},"zz":null}}`))
	f.Add("job.seal", []byte(`null`))
	e := New()
	e.Call("job.load", load)
	f.Fuzz(func(t *testing.T, method string, arg []byte) {
		if method == "job.load" || method == "job.forget" { // on an engine of its own
			if out := New().Call(method, arg); !json.Valid(out) {
				t.Errorf("%s", out)
			}
			return
		}
		if out := e.Call(method, arg); !json.Valid(out) {
			t.Errorf("%s", out)
		}
	})
}
