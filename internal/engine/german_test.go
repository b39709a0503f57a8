package engine

import (
	"encoding/base64"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/words"
)

// english lists what the German catalogues translate: of each sentence its longest stretch between two arguments, where
// that is long enough to be known again.
func english(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	names, err := filepath.Glob("../words/de/*.json")
	if err != nil || len(names) == 0 {
		t.Fatal(err, names)
	}
	argument := regexp.MustCompile(`%(\[\d+\])?[0-9.]*[a-zA-Z]`)
	for _, name := range names {
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		catalogue := map[string]string{}
		if err := json.Unmarshal(raw, &catalogue); err != nil {
			t.Fatal(err)
		}
		for sentence, own := range catalogue {
			longest := ""
			for _, part := range argument.Split(sentence, -1) {
				if len(part) > len(longest) {
					longest = part
				}
			}
			if longest = strings.TrimSpace(longest); strings.Count(longest, " ") >= 2 && !strings.Contains(own, longest) {
				out[longest] = sentence
			}
		}
	}
	return out
}

// texts walks the strings of an answer.
func texts(path string, v any, each func(path, text string)) {
	switch v := v.(type) {
	case string:
		each(path, v)
	case []any:
		for _, one := range v {
			texts(path, one, each)
		}
	case map[string]any:
		for k, one := range v {
			if kept := path == "" && k == "site" || path == "" && k == "standing"; !kept { // what is typed, and what the book keeps in English
				texts(path+"/"+k, one, each)
			}
		}
	}
}

// Nothing that the program says stays English when it speaks German: of the demo as drafted and as corrected, every view.
func TestGermanSpeaksGerman(t *testing.T) {
	sentences := english(t)
	for name, raw := range map[string][]byte{"draft": demo.Draft, "corrected": demo.Corrected} {
		j := newJob(t, raw)
		j.run()
		for _, closed := range []bool{false, true} {
			if closed {
				j.closeRun()
			}
			e := New()
			calls := j.calls()
			for _, c := range calls {
				arg := c.Arg.(map[string]any)
				arg["lang"] = "de"
				in, err := json.Marshal(arg)
				if err != nil {
					t.Fatal(err)
				}
				var answer struct {
					OK      any `json:"ok"`
					Problem any `json:"problem"`
				}
				if err := json.Unmarshal(e.Call(c.Method, in), &answer); err != nil {
					t.Fatal(err)
				}
				for _, v := range []any{answer.OK, answer.Problem} {
					texts("", v, func(path, text string) {
						if strings.HasSuffix(path, "/value") { // what a choice is kept as, not what it shows
							return
						}
						for part, sentence := range sentences {
							if strings.Contains(text, part) && !strings.Contains(string(raw), part) { // a model may be called so
								t.Errorf("%s, %s%s says %q of %q", name, c.Method, path, text, sentence)
							}
						}
					})
				}
			}
		}
	}
}

// A run is opened on the same plan, whoever's language it is opened in.
func TestThePlanKnowsNoLanguage(t *testing.T) {
	for _, raw := range [][]byte{demo.Draft, demo.Corrected} {
		j := newJob(t, raw)
		view := map[string]string{}
		for _, lang := range []string{"en", "de"} {
			v := j.desk().In(words.In(lang)).Prove(noon, "")
			if view[lang] = v.Fingerprint; len(v.Fingerprint) != 64 {
				t.Fatalf("fingerprint %q", v.Fingerprint)
			}
		}
		if view["en"] != view["de"] {
			t.Errorf("the plan is %s in English and %s in German", view["en"], view["de"])
		}
	}
}

func TestAStoredSignalIsSaid(t *testing.T) {
	got := string(New().Call("signal.say", []byte(`{"lang":"de","row":{"account":"4816","why":"no job here has account 4816","events":[{"code":"111","words":"smoke"}]}}`)))
	for _, want := range []string{`"words":"Rauch"`, `"why":"kein Auftrag hier hat Teilnehmer 4816"`} {
		if !strings.Contains(got, want) {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// What was typed wrong is said in the language of who typed it: in a file, in an edit, in the columns of a history.
func TestRefusalsInGerman(t *testing.T) {
	j := newJob(t, demo.Corrected)
	e := New()
	if _, problem := ask(t, e, "job.load", map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries}); problem != nil {
		t.Fatal(problem)
	}
	raw, _ := ask(t, e, "job.begin", map[string]any{"file": "mill.yaml", "text": "zonez: 3", "at": noon, "by": "p-1", "random": bytesOf(96), "lang": "de"})
	if !strings.Contains(string(raw), `"say":"„zonez“ gibt es nicht in: das Objekt","try":"war „zones“ gemeint?"`) {
		t.Errorf("a site file: %s", raw)
	}
	heads := map[string]any{"heads": map[string]any{"M1": map[string]any{"made": "gestern"}}}
	_, problem := ask(t, e, "job.seal", map[string]any{"job": j.Job, "kind": "edit", "body": map[string]any{"patch": heads}, "at": noon, "by": "p-1", "random": bytesOf(48), "lang": "de"})
	if problem == nil || problem.Say != "„gestern“ ist kein Datum." || problem.Try != "2019-04-23, 2019-04 oder 2019 schreiben." {
		t.Errorf("an edit: %+v", problem)
	}
	columns := map[string]any{"between": "comma", "holds": []string{"date-time", "zone"}}
	_, problem = ask(t, e, "history.diagnose", map[string]any{"now": noon, "text": "2026-09-15 14:31,09", "columns": columns, "lang": "de"})
	if problem == nil || problem.Say != "Keine Spalte sagt, was geschah: eine als code oder event benennen." {
		t.Errorf("the columns of a history: %+v", problem)
	}
}
