package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/words"
	"proofbell/signal"
)

// TransmissionKey is what decrypts the frames of a job's account.
type TransmissionKey struct {
	Key           string `json:"key"` // as it was typed: hex, or characters whose bytes are the key
	EncryptedOnly bool   `json:"encryptedOnly"`
}

// signal is the key as the receiver takes it; nothing for one that can not be read.
func (k *TransmissionKey) signal() signal.Secret {
	if k == nil {
		return signal.Secret{}
	}
	key, err := signal.ParseKey(k.Key)
	if err != nil {
		return signal.Secret{}
	}
	return signal.Secret{Key: key, EncryptedOnly: k.EncryptedOnly}
}

// Secret tells the receiver how the frames of an account are to be read: with the key of the job whose run would take
// them. It looks into a table in memory and is quick.
func (a *App) Secret(_, account string) signal.Secret {
	g, _, _ := a.judge(account, a.now())
	return g.secret
}

// secretOf reads a job's transmission key from the store; nil when it has none.
func (a *App) secretOf(ctx context.Context, job evidence.JobID) (*TransmissionKey, error) {
	all, err := a.store.Secrets(ctx, job)
	if err != nil {
		return nil, fmt.Errorf("reading the transmission key of job %s: %w", job, err)
	}
	raw := all[book.TransmissionKey]
	if raw == nil {
		return nil, nil
	}
	var k TransmissionKey
	if json.Unmarshal(raw, &k) != nil { // its text must not stand in an error
		return nil, fmt.Errorf("reading the transmission key of job %s: it is not in the form in which it was kept", job)
	}
	return &k, nil
}

// HasTransmissionKey tells whether a job has a transmission key, and whether frames in the clear are refused.
func (a *App) HasTransmissionKey(job evidence.JobID) (has, encryptedOnly bool, err error) {
	o, err := a.look(job)
	if err != nil {
		return false, false, err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.secret != nil, o.secret != nil && o.secret.EncryptedOnly, nil
}

// SetTransmissionKey keeps the key that the account's frames are encrypted with; encryptedOnly refuses those in the clear.
// An empty key is the one that is kept already. That it was set becomes an entry; the key itself is in no entry, log or
// error. For leads only.
func (a *App) SetTransmissionKey(ctx context.Context, job evidence.JobID, by evidence.PersonID, k TransmissionKey) error {
	if k.Key == "" {
		before, err := a.secretOf(ctx, job)
		if err != nil {
			return err
		}
		if before != nil {
			k.Key = before.Key
		}
	}
	if _, err := signal.ParseKey(k.Key); err != nil {
		return &Problem{Code: BadRequest, Say: words.Mark("This is not a transmission key."), Try: words.Mark("Type 32, 48 or 64 hex digits, or 16, 24 or 32 characters, as they stand in the panel."), Field: "key"}
	}
	raw, err := json.Marshal(k)
	if err != nil {
		return err
	}
	return a.changeSecret(ctx, job, by, raw)
}

// RemoveTransmissionKey forgets a job's transmission key; that becomes an entry. For leads only.
func (a *App) RemoveTransmissionKey(ctx context.Context, job evidence.JobID, by evidence.PersonID) error {
	return a.changeSecret(ctx, job, by, nil)
}

// changeSecret keeps or removes (nil) the sealed form of a job's transmission key, and writes down that it did.
func (a *App) changeSecret(ctx context.Context, job evidence.JobID, by evidence.PersonID, raw []byte) error {
	o, err := a.job(ctx, job)
	if err != nil {
		return err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := o.carriedOn(); err != nil {
		return err
	}
	before, err := a.store.Secrets(ctx, job)
	if err != nil {
		return fmt.Errorf("reading the transmission key of job %s: %w", job, err)
	}
	act := book.SecretSet
	if raw == nil {
		act = book.SecretRemoved
		if before[book.TransmissionKey] == nil {
			return nil
		}
	}
	if err := a.store.SetSecret(ctx, job, book.TransmissionKey, raw); err != nil {
		return fmt.Errorf("keeping the transmission key of job %s: %w", job, err)
	}
	// Other processes read the key anew when they meet this entry, so the key comes first.
	id, err := a.write(ctx, o, by, evidence.KindSecret, book.SecretBody{What: book.TransmissionKey, Act: act})
	if err == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), patience)
	defer cancel()
	written, fault := a.store.Entry(ctx, job, id)
	switch {
	case fault != nil: // nobody knows whether it is in the book: the same act again puts it right
		return errors.Join(err, fault)
	case written != nil:
		return nil
	}
	return errors.Join(err, a.store.SetSecret(ctx, job, book.TransmissionKey, before[book.TransmissionKey])) // no change without a trace
}

// RevealTransmissionKey returns a job's transmission key to be shown; that it was shown becomes an entry first. ErrNotFound
// when there is none. For leads only.
func (a *App) RevealTransmissionKey(ctx context.Context, job evidence.JobID, by evidence.PersonID) (TransmissionKey, error) {
	o, err := a.job(ctx, job)
	if err != nil {
		return TransmissionKey{}, err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := o.carriedOn(); err != nil {
		return TransmissionKey{}, err
	}
	k, err := a.secretOf(ctx, job)
	if err != nil {
		return TransmissionKey{}, err
	}
	if k == nil {
		return TransmissionKey{}, &Problem{Code: NotFound, Say: words.Mark("This job has no transmission key."), Try: words.Mark("Nothing is left to do.")}
	}
	if _, err := a.write(ctx, o, by, evidence.KindReveal, book.RevealBody{What: book.TransmissionKey}); err != nil {
		return TransmissionKey{}, err
	}
	return *k, nil
}

// carriedOn is nil when entries can be added to a job. o.mu is held.
func (o *openJob) carriedOn() error {
	switch {
	case o.key != nil:
		return nil
	case o.state.Erased:
		return evidence.ErrErased
	}
	return &Problem{Code: ErasedJob, Say: words.Mark("This job came from a file, without its key: it can be read, not carried on."), Try: words.Mark("Carry it on where it was made.")}
}

// write adds one entry of the server's own; its id is returned with an error too, because it may be in the book all the
// same. o.mu is held.
func (a *App) write(ctx context.Context, o *openJob, by evidence.PersonID, kind evidence.Kind, body any) (id evidence.EntryID, err error) {
	err = a.onNewest(ctx, o, func() error {
		if err := o.carriedOn(); err != nil {
			return err
		}
		now := a.now()
		c, err := a.content(o.state.Job, nil, kind, by, o.state.Seq, now, body, nil)
		if err != nil {
			return err
		}
		e, err := evidence.Append(o.newest, c, now)
		if err != nil {
			return err
		}
		id = e.ID
		return a.commit(ctx, o, []evidence.Entry{e}, nil)
	})
	return id, err
}
