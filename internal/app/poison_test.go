package app_test

import (
	"testing"

	"pgregory.net/rapid"

	"proofbell/signal"
)

// Whatever bytes a frame carries, it goes into the book: one that could not would hold up all behind it for ever.
func TestNoFrameHoldsUpThoseBehindIt(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.openRun(job, "4816", true)
	answered := 0
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.OneOf(rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) }), rapid.String(),
			rapid.SampledFrom([]string{"\x00", "a\x00b", "\xff\xfe", "\xed\xa0\x80", "\u2028", "\\u0000", "]", "|", "^"})).Draw(rt, "text")
		data := rapid.SampledFrom([]string{"#4816|Nri1/FA005|A" + text, "#4816|Nri1/FA005^" + text + "^", "#4816|N" + text, text}).Draw(rt, "data")
		f := signal.Frame{ID: signal.IDSIA, Sequence: answered%9999 + 1, Prefix: "L0", Account: "4816", Data: data}
		raw, err := f.Encode()
		if err != nil {
			return // no sender can write it either
		}
		if v, err := h.Deliver(t.Context(), signal.Judge(raw)); err != nil {
			rt.Fatal(err)
		} else if v == signal.Acknowledge {
			answered++
		}
		if err := h.Drain(t.Context()); err != nil {
			rt.Fatalf("%q: %v", raw, err)
		}
	})
	s, err := h.State(job)
	h.must(err)
	if len(s.Runs[0].Signals) < answered || answered == 0 || len(s.Troubles) > 0 {
		t.Errorf("%d signals in the book, %d frames were answered, troubles %+v", len(s.Runs[0].Signals), answered, s.Troubles)
	}
}
