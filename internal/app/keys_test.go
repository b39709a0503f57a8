package app_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/prove"
	"proofbell/signal"
)

const (
	keyHex   = "00112233445566778899aabbccddeeff"
	otherHex = "ffeeddccbbaa99887766554433221100"
)

// received is an encrypted frame as a receiver of this process hands it over.
func (m *mate) encrypted(f signal.Frame, key string, pad byte) signal.Received {
	m.t.Helper()
	k, err := signal.ParseKey(key)
	m.must(err)
	f.Timestamp = signal.FormatTimestamp(m.clock.now())
	f, err = f.Encrypt(k, bytes.Repeat([]byte{pad}, signal.PadSize))
	m.must(err)
	raw, err := f.Encode()
	m.must(err)
	r := signal.JudgeWith(raw, m.Secret, m.clock.now())
	r.Transport, r.Remote, r.At = "tcp", "127.0.0.1:4000", m.clock.now()
	return r
}

func (m *mate) wantEncrypted(when string, f signal.Frame, key string, pad byte, want signal.Verdict) {
	m.t.Helper()
	v, err := m.Deliver(m.t.Context(), m.encrypted(f, key, pad))
	m.must(err)
	if v != want {
		m.t.Errorf("%s: %v, want %v", when, v, want)
	}
}

// An encrypted signal goes the whole way: decrypted by the key of its job, known as a repeat whatever its pad, written down
// as what it says, with the bytes as they came. The key is set at one process and used at another.
func TestEncryptedSignals(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.openRun(job, "4816", true)
		synctest.Wait()
		watcher, stop := b.Watch(job)
		defer stop()
		alarm := func(want string) {
			t.Helper()
			synctest.Wait()
			if len(watcher.Alarms) != 1 {
				t.Fatalf("%d alarms are shown", len(watcher.Alarms))
			}
			if got := <-watcher.Alarms; got.Why != want || got.Job != job {
				t.Errorf("shown is %q", got.Why)
			}
		}
		f := frame(t, "4816", 9)
		b.wantEncrypted("no key", f, keyHex, 'a', signal.CannotProcess)
		alarm("frame for account 4816 is encrypted, and its job has no transmission key here")
		a.must(a.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex}))
		synctest.Wait()
		b.wantEncrypted("the key was set", f, keyHex, 'b', signal.Acknowledge)
		time.Sleep(3 * time.Second)
		b.wantEncrypted("sent again, with other pad and time", f, keyHex, 'c', signal.Acknowledge)
		a.wantEncrypted("and to the other receiver", f, keyHex, 'd', signal.Acknowledge)
		b.wantEncrypted("another key", frame(t, "4816", 10), otherHex, 'a', signal.CannotProcess)
		alarm("frame for account 4816 does not decrypt: key or mode differs")
		if v := b.deliver(frame(t, "4816", 11)); v != signal.Acknowledge {
			t.Errorf("in the clear: %v", v)
		}
		a.must(a.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex, EncryptedOnly: true}))
		synctest.Wait()
		clear := b.received(frame(t, "4816", 12))
		clear = signal.JudgeWith(clear.Raw, b.Secret, b.clock.now())
		if v, err := b.Deliver(t.Context(), clear); v != signal.CannotProcess || err != nil {
			t.Errorf("in the clear, and encrypted only: %v, %v", v, err)
		}
		alarm("frame for account 4816 came in the clear, and its job takes encrypted ones only")

		synctest.Wait()
		s, err := a.State(job)
		a.must(err)
		got := s.Runs[0].Signals
		if len(got) != 4 || got[0].Event.Number != 9 || !got[0].Encrypted || got[1].DuplicateOf != got[0].ID || got[2].DuplicateOf != got[0].ID || got[3].Encrypted || got[0].Stamp.IsZero() {
			t.Fatalf("signals %+v", got)
		}
		for _, one := range m.all {
			rows, err := one.Arrivals(t.Context(), 0, 100)
			one.must(err)
			for _, r := range rows {
				if r.Answered && (len(r.Events) != 1 || r.Events[0].Code != "110") {
					t.Errorf("row %d shows %+v", r.Row, r.Events)
				}
			}
		}

		k, err := b.RevealTransmissionKey(t.Context(), job, "tamsin")
		if err != nil || k.Key != keyHex || !k.EncryptedOnly {
			t.Errorf("shown is a key of %d, %v, %v", len(k.Key), k.EncryptedOnly, err)
		}
		b.must(b.RemoveTransmissionKey(t.Context(), job, "tamsin"))
		b.must(b.RemoveTransmissionKey(t.Context(), job, "tamsin")) // again: nothing is left to do
		synctest.Wait()
		a.wantEncrypted("the key was removed at the other process", frame(t, "4816", 13), keyHex, 'a', signal.CannotProcess)
		var p *app.Problem
		if _, err := a.RevealTransmissionKey(t.Context(), job, "tamsin"); !errors.As(err, &p) || p.Code != app.NotFound {
			t.Errorf("a key that was removed: %v", err)
		}
		synctest.Wait()
		var book bytes.Buffer
		a.must(a.Export(t.Context(), job, &book))
		for _, kind := range []string{`"kind":"reveal"`, `"act":"set"`, `"act":"removed"`} {
			if !strings.Contains(book.String(), kind) {
				t.Errorf("the book does not say %s", kind)
			}
		}
		if low := strings.ToLower(book.String()); strings.Contains(low, keyHex) {
			t.Error("the key stands in the book")
		}
		a.verify(job)
	})
}

func TestTransmissionKeysThatCanNotBe(t *testing.T) {
	together(t, 1, func(t *testing.T, m *mates) {
		one := m.all[0]
		job := one.job("4816")
		secret := "correct horse battery"
		var p *app.Problem
		if err := one.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: secret}); !errors.As(err, &p) || p.Code != app.BadRequest || p.Field != "key" || strings.Contains(err.Error(), secret) {
			t.Errorf("a key of 21 characters: %v", err)
		}
		for _, kind := range []evidence.Kind{evidence.KindReveal, evidence.KindSecret} {
			if r := one.try(job, kind, map[string]string{"what": "transmission-key", "act": "set"}, nil); r.Problem == nil {
				t.Errorf("a client wrote a %s entry", kind)
			}
		}
		one.must(one.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: "sixteen letters!"}))
		one.must(one.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{EncryptedOnly: true})) // the same key
		if k, err := one.RevealTransmissionKey(t.Context(), job, "tamsin"); err != nil || k.Key != "sixteen letters!" || !k.EncryptedOnly {
			t.Errorf("changed without typing the key again: %v", err)
		}
		one.must(one.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{}))
		if has, only, err := one.HasTransmissionKey(job); !has || only || err != nil {
			t.Errorf("%v, %v, %v", has, only, err)
		}
		one.seat.set(true, false)
		if err := one.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex}); !errors.Is(err, app.ErrAway) {
			t.Errorf("while the store is away: %v", err)
		}
		one.seat.set(false, false)
		one.must(one.Erase(t.Context(), job, "tamsin"))
		if has, _, _ := one.HasTransmissionKey(job); has || one.Secret("", "4816") != (signal.Secret{}) {
			t.Error("the key outlived the erasing of the job")
		}
		if err := one.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex}); app.AsProblem(err).Code != app.ErasedJob {
			t.Errorf("a key for an erased job: %v", err)
		}
	})
}

// An account that is one slip of the finger away from a job's is named beside it.
func TestAnAccountNearToAJobs(t *testing.T) {
	together(t, 1, func(t *testing.T, m *mates) {
		one := m.all[0]
		job := one.job("4816")
		watcher, stop := one.Watch(job)
		defer stop()
		for account, want := range map[string]string{
			"4861": "no job here has account 4861; one has 4816: was a digit mistaken, or were two swapped?",
			"4818": "no job here has account 4818; one has 4816: was a digit mistaken, or were two swapped?",
			"1648": "no job here has account 1648",
		} {
			one.verdict(account)
			if got := <-watcher.Alarms; got.Why != want {
				t.Errorf("account %s: %q", account, got.Why)
			}
			if got, german := prove.In(nil).SayWhy(want), want; got != german {
				t.Errorf("said is %q", got)
			}
		}
	})
}
