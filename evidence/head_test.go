package evidence

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"testing"
)

func TestHeads(t *testing.T) {
	ours, foreign := signer(t, 1), signer(t, 2)
	entries := book(t, 2)
	h := must[Head](t)(SignHead(ours, testJob, &entries[1], testTime))
	if err := VerifyHead(ours.Public(), h); err != nil || h.Seq != 2 || h.Pin() != (Pin{2, entries[1].Hash}) {
		t.Errorf("%+v, %v", h, err)
	}
	raw := must[[]byte](t)(h.Canonical())
	if back, err := ParseHead(raw); err != nil || back != h {
		t.Errorf("%s came back as %+v, %v", raw, back, err)
	}
	if bytes.Contains(raw, []byte(`"header"`)) {
		t.Errorf("a head outside an export speaks of a header: %s", raw)
	}
	empty := must[Head](t)(SignHead(ours, testJob, nil, testTime))
	if err := VerifyHead(ours.Public(), empty); err != nil || empty.Seq != 0 || empty.Hash != (Hash{}) {
		t.Errorf("%+v, %v", empty, err)
	}
	if _, err := SignHead(ours, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", &entries[1], testTime); !errors.Is(err, ErrJob) {
		t.Errorf("of another job: %v", err)
	}
	if _, err := SignHead(ours, "", nil, testTime); !errors.Is(err, ErrContent) {
		t.Errorf("of no job: %v", err)
	}
	for name, change := range map[string]func(*Head){
		"job":    func(h *Head) { h.Job = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f" },
		"seq":    func(h *Head) { h.Seq++ },
		"hash":   func(h *Head) { h.Hash[31]++ },
		"at":     func(h *Head) { h.At = TimeOf(h.At.AddDate(0, 0, 1)) },
		"key":    func(h *Head) { h.Key = foreign.Public().Fingerprint() },
		"header": func(h *Head) { h.Header[0]++ },
		"sig":    func(h *Head) { h.Sig[0]++ },
		// signed by a foreign key in our name
		"forged": func(h *Head) { copy(h.Sig[:], ed25519.Sign(foreign.private, h.toSign())) },
	} {
		changed := h
		change(&changed)
		for _, key := range []*SigningKey{ours, foreign} {
			if err := VerifyHead(key.Public(), changed); !errors.Is(err, ErrSignature) {
				t.Errorf("%s changed: %v", name, err)
			}
		}
	}
	if err := VerifyHead(foreign.Public(), h); !errors.Is(err, ErrSignature) {
		t.Errorf("by another key: %v", err)
	}
}
