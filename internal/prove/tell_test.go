package prove

import (
	"strings"
	"testing"

	"proofbell/internal/words"
	"proofbell/signal"
)

func tell(obs Observations, now float64, known []string, lang string) Told {
	plan := Plan(house(), nil, Options{})
	return Tell(plan, obs, Match(plan, obs, Clocks{}, at(now)), known, words.In(lang))
}

func TestToldOncePerEvent(t *testing.T) {
	alarm, restore := sig("s1", 8, "1111 01 013"), sig("s2", 75, "3111 01 013")

	begin := tell(observed(), 0, nil, "en")
	if begin.Sign != "" || !strings.HasPrefix(begin.Say, "Next: ") || begin.Keys == nil {
		t.Errorf("who begins to listen hears what is next and nothing of before: %+v", begin)
	}
	came := tell(observed(trip13(0), alarm), 10, begin.Keys, "en")
	if came.Say != "Zone 1 3 received." || came.Show != "Zone 13 received." || came.Sign != SignArrived {
		t.Errorf("the alarm came: %+v", came)
	}
	if again := tell(observed(trip13(0), alarm), 11, came.Keys, "en"); again.Say != "" || again.Sign != "" {
		t.Errorf("said twice: %+v", again)
	}
	back := tell(observed(trip13(0), alarm, restore), 80, came.Keys, "en")
	if !strings.HasPrefix(back.Show, "Zone 13 restored. Next: ") {
		t.Errorf("restored, and then the next: %q", back.Show)
	}
	both := tell(observed(trip13(0), alarm, restore), 80, begin.Keys, "en")
	if !strings.HasPrefix(both.Show, "Zone 13 received, restored. Next: ") {
		t.Errorf("alarm and restore between two looks are one sentence: %q", both.Show)
	}
	if german := tell(observed(trip13(0), alarm, restore), 80, begin.Keys, "de"); !strings.HasPrefix(german.Say, "Zone 1 3 empfangen, zurückgestellt. Weiter: ") {
		t.Errorf("German: %q", german.Say)
	}
	proved := tell(observed(trip13(0), alarm, restore, line("r1", "13", "111", signal.New, 12), line("r2", "13", "111", signal.Restore, 80)), 200, back.Keys, "en")
	if proved.Sign != SignProved || !strings.HasPrefix(proved.Show, "Zone 13 proved.") {
		t.Errorf("proved: %+v", proved)
	}
}

func TestToldGravestFirstAndMerged(t *testing.T) {
	button := tick("m1", "14.alarm", Tripped, 100)
	obs := observed(trip13(0), sig("s1", 8, "1111 01 013"), button, sig("s3", 109, "1111 01 014"))
	two := tell(obs, 110, []string{}, "en")
	if two.Show != "Zone 14 received. 1 more received." {
		t.Errorf("newest first, the rest counted: %q", two.Show)
	}
	obs = observed(trip13(0), button, sig("s3", 109, "1111 01 014"))
	failed := tell(obs, 120, []string{}, "en")
	if failed.Sign != SignFailed || !strings.HasPrefix(failed.Show, "Zone 13 failed: not received. 1 more received.") {
		t.Errorf("what failed comes first: %+v", failed)
	}
	real := tell(observed(sig("s9", 5, "1111 01 013"), tick("k", "01.alarm", Tripped, -300)), 10, []string{}, "en")
	if real.Sign != SignReal || !strings.HasPrefix(real.Say, "Possibly real: zone 1 3.") {
		t.Errorf("what may be real comes before all: %+v", real)
	}
}

// A voice is never longer than one breath, whatever came together.
func TestToldIsShort(t *testing.T) {
	parts := []any{}
	for i, zone := range []string{"001", "005", "007", "008", "009", "013", "014"} {
		parts = append(parts, sig("s"+zone, float64(i), "1111 01 "+zone))
	}
	for _, lang := range words.Tags() {
		if got := tell(observed(parts...), 30, []string{}, lang); len(got.Show) > 140 || got.Show == "" {
			t.Errorf("%d letters: %q", len(got.Show), got.Show)
		}
	}
}
