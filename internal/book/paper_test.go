package book

import (
	"testing"

	"proofbell/evidence"
)

func (w *writer) sign(as string, strokes [][][2]int) {
	w.t.Helper()
	w.order(w.content(evidence.KindSign, "tamsin", w.seq(), SignBody{What: "commissioning", As: as}, SignPrivate{Name: "Imelda Thrane", Strokes: strokes}))
}

func TestSignaturesHoldForTheJobAsItWasSigned(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", twoZones)
	w.sign("owner", [][][2]int{{{0, 0}, {1000, 300}}})
	w.order(w.content(evidence.KindNote, "tamsin", w.seq(), NoteBody{}, NotePrivate{Text: "a note changes no document"}))
	sig, ok, older := w.fold().Signature("commissioning", "owner")
	if !ok || older || sig.Name != "Imelda Thrane" || sig.Seq != 2 || len(sig.Strokes) != 1 {
		t.Errorf("signature: %+v, %v, %v", sig, ok, older)
	}
	if _, ok, older := w.fold().Signature("commissioning", "technician"); ok || older {
		t.Error("the owner's signature stands for the technician's")
	}
	w.edit("phone", `{"name":"Another name"}`)
	if _, ok, older := w.fold().Signature("commissioning", "owner"); ok || !older {
		t.Errorf("a signature outlives what was signed: %v, %v", ok, older)
	}
	w.sign("owner", [][][2]int{{{0, -1}}})
	if s := w.fold(); len(s.Signed) != 1 || len(s.Troubles) != 1 {
		t.Errorf("a stroke off the pad: %+v", s.Troubles)
	}
}

func TestAnIssueKeepsTheJobAsItWas(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", twoZones)
	w.order(w.content(evidence.KindIssued, "tamsin", w.seq(), IssuedBody{What: "zone-list", Seq: 1}, nil))
	w.edit("phone", `{"name":"Another name","zones":{"09":null}}`)
	w.order(w.content(evidence.KindAccept, "tamsin", w.seq(), AcceptBody{Key: "k", Reason: "r"}, nil))
	s := w.fold()
	last, ok := s.LastIssued("zone-list")
	if !ok || last.As.Seq != 1 || len(last.As.Accepted) != 0 || len(last.As.Log) != 1 {
		t.Fatalf("issued: %+v", last)
	}
	if before, after := len(last.As.Site.Zones), len(s.Site.Zones); before != after+1 || last.As.Site.Name == s.Site.Name {
		t.Errorf("the issue tells of %d zones, the job has %d", before, after)
	}
	if _, ok := s.LastIssued("commissioning"); ok {
		t.Error("it was never issued")
	}
}
