package prove

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
)

// Sign says how a telephone tells a person without being looked at.
type Sign string

// The signs, gravest first. Append only.
const (
	SignReal    Sign = "real"    // an alarm that nobody is known to have caused
	SignFailed  Sign = "failed"  // a step failed
	SignProved  Sign = "proved"  // a step was proved
	SignArrived Sign = "arrived" // a signal came, or its restore
)

var signs = []Sign{SignReal, SignFailed, SignProved, SignArrived}

// Told is what a person on a ladder has to be told, and what they were told then.
type Told struct {
	Keys []string `json:"keys"` // of all that happened so far: give them as known the next time
	Sign Sign     `json:"sign"` // the gravest of what is new; "" nothing is
	Say  string   `json:"say"`  // for a voice: the numbers of zones digit by digit; "" nothing is to be said
	Show string   `json:"show"` // the same for the eye
}

// event is one thing that happened at a step.
type event struct {
	sign   Sign
	step   int // in the plan; -1 none
	at     time.Time
	status string // "received, restored"
	real   string // the zone of an alarm that may be real
}

// Tell says what happened that a person was not told of: the gravest and newest in full, all else as a number, and then
// what is next. known holds the Keys of the call before; nil stands for a person who just begins to listen: to them only
// the next step is named. Everything is said once, and never more than one short breath.
func Tell(plan []Step, obs Observations, out Outcome, known []string, lang *words.Language) Told {
	news, keys := happened(plan, obs, out, known, lang)
	t := Told{Keys: keys}
	next := -1
	for i := range plan {
		if plan[i].ID == out.Next {
			next = i
		}
	}
	if known == nil {
		t.speak(plan, nil, next, -1, lang)
		return t
	}
	if len(news) == 0 {
		return t
	}
	sorts.Stable(news, func(a, b event) int {
		return cmp.Or(cmp.Compare(slices.Index(signs, a.sign), slices.Index(signs, b.sign)), b.at.Compare(a.at))
	})
	t.Sign = news[0].sign
	over := slices.ContainsFunc(news, func(e event) bool { return e.step >= 0 && settled(plan[e.step], out.Steps[e.step]) })
	if !over {
		next = -1 // its restore comes first
	}
	t.speak(plan, news, next, news[0].step, lang)
	return t
}

// happened lists what is new, one event for each step, and the keys of everything.
func happened(plan []Step, obs Observations, out Outcome, known []string, lang *words.Language) ([]event, []string) {
	received := map[SignalID]time.Time{}
	for _, s := range obs.Signals {
		received[s.ID] = s.Received
	}
	had := make(map[string]bool, len(known))
	for _, k := range known {
		had[k] = true
	}
	keys, news := []string{}, []event{}
	note := func(key string) bool {
		keys = append(keys, key)
		return !had[key]
	}
	for i, r := range out.Steps {
		e := event{step: i}
		var status []string
		mark := fmt.Sprintf("%s#%d/", r.Step, r.Attempt)
		came := func(ends bool) (is, fresh bool) {
			for k, x := range plan[i].Expected {
				s := r.Signals[k]
				if x.Role.Ends() != ends || !s.Here || len(s.Signals) == 0 {
					continue
				}
				if is = true; note(mark + string(x.ID)) {
					fresh = true
				}
				if at := received[s.Signals[0]]; at.After(e.at) {
					e.at = at
				}
			}
			return is, fresh
		}
		if _, fresh := came(false); fresh {
			e.sign, status = SignArrived, append(status, lang.Say("received"))
		}
		if _, fresh := came(true); fresh {
			e.sign, status = SignArrived, append(status, lang.Say("restored"))
		}
		if r.Verdict.Good() && note(mark+"proved") {
			e.sign = SignProved
			if len(status) == 0 {
				status = append(status, lang.Say("proved"))
			}
		}
		if r.Verdict.Bad() && note(mark+string(r.Verdict)) {
			e.sign, status = SignFailed, []string{lang.Say(verdictWords[r.Verdict])}
		}
		if e.sign != "" {
			e.status = strings.Join(status, ", ")
			news = append(news, e)
		}
	}
	for _, u := range out.Unexpected {
		if u.PossiblyReal && note("real/"+string(u.Signal)+string(u.ReadBack)) {
			news = append(news, event{sign: SignReal, step: -1, at: u.At, real: string(u.Zone)})
		}
	}
	return news, keys
}

// verdictWords are the failures as they are spoken.
var verdictWords = map[Verdict]string{
	WrongZone: words.Mark("wrong zone"), WrongCode: words.Mark("wrong code"), NotReceived: words.Mark("not received"),
	RestoreMissing: words.Mark("restore missing"),
}

// settled reports whether nothing more is awaited at a step before one walks on.
func settled(st Step, r StepResult) bool {
	if r.Verdict.Good() || r.Verdict.Bad() {
		return true
	}
	return len(st.Expected) > 0 && !r.Open && !slices.ContainsFunc(r.Signals, func(s SignalResult) bool { return !s.Here && s.Verdict == Waiting })
}

// speak makes the sentences: the first of the news, how many more of each sort, then what is next.
func (t *Told) speak(plan []Step, news []event, next, after int, lang *words.Language) {
	tell := func(voice bool) string {
		var out []string
		if len(news) > 0 {
			out = append(out, sentence(plan, news[0], voice, lang))
			out = append(out, others(news, lang)...)
		}
		if next >= 0 {
			out = append(out, nextSentence(plan, next, after, voice, lang))
		}
		return strings.Join(out, " ")
	}
	t.Say, t.Show = tell(true), tell(false)
}

func sentence(plan []Step, e event, voice bool, lang *words.Language) string {
	switch {
	case e.sign == SignReal && e.real != "":
		return lang.Say("Possibly real: zone %s.", digits(e.real, voice))
	case e.sign == SignReal:
		return lang.Say("Possibly real: an alarm that nobody tripped.")
	case e.sign == SignFailed:
		return lang.Say("%s failed: %s.", called(plan[e.step], voice, lang), e.status)
	}
	return lang.Say("%s %s.", called(plan[e.step], voice, lang), e.status)
}

// others says how much more there is, by its sort.
func others(news []event, lang *words.Language) []string {
	count := map[Sign]int{}
	for _, e := range news[1:] {
		count[e.sign]++
	}
	var out []string
	if n := count[SignReal]; n > 0 {
		out = append(out, lang.Say("%d more may be real.", n))
	}
	if n := count[SignFailed]; n > 0 {
		out = append(out, lang.Say("%d more failed.", n))
	}
	if n := count[SignProved] + count[SignArrived]; n > 0 {
		out = append(out, lang.Say("%d more received.", n))
	}
	return out
}

// nextSentence names the next step: how far it is, where that is known from the step just done, else its room.
func nextSentence(plan []Step, next, after int, voice bool, lang *words.Language) string {
	st := plan[next]
	say := called(st, voice, lang)
	if st.Kind == StepZone {
		say += ", " + st.Title
	}
	w := st.Way
	switch {
	case after < 0 || next != after+1 || !w.Known:
		if st.Where != "" && st.Kind != StepSystem {
			return lang.Say("Next: %s, %s.", say, st.Where)
		}
		return lang.Say("Next: %s.", say)
	case w.Floors > 0:
		return lang.Say("Next: %s, %.0f m, up.", say, w.Metres)
	case w.Floors < 0:
		return lang.Say("Next: %s, %.0f m, down.", say, w.Metres)
	}
	return lang.Say("Next: %s, %.0f m.", say, w.Metres)
}

// called is a step by the name one calls it by.
func called(st Step, voice bool, lang *words.Language) string {
	switch st.Kind {
	case StepZone:
		return lang.Say("Zone %s", digits(string(st.Zone), voice))
	case StepHead:
		return lang.Say("Alarm %s", digits(string(st.Head), voice))
	}
	return st.Title
}

// digits parts the signs of a number for a voice: fourteen and forty sound alike, 1 4 and 4 0 do not.
func digits(number string, voice bool) string {
	if !voice {
		return number
	}
	var parts []string
	for _, r := range number {
		if unicode.IsDigit(r) || unicode.IsLetter(r) {
			parts = append(parts, string(r))
		}
	}
	return strings.Join(parts, " ")
}
