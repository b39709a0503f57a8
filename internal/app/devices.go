package app

import (
	"cmp"
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math/big"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/words"
)

// Limits of pairing.
const (
	codeLife     = 10 * time.Minute
	mostCodes    = 8  // open at once
	mostDevices  = 64 // paired at once
	wrongBefore  = 10 // typed codes that may be wrong before the digits of every open one are gone
	tokenBytes   = 32
	secretBytes  = 16
	mostNameSize = 40 // characters
)

// Device is a phone, tablet or computer that was paired.
type Device struct {
	ID     string    `json:"id"`
	Name   string    `json:"name"`
	Role   book.Role `json:"role"`
	Paired time.Time `json:"paired"`
	Seen   time.Time `json:"seen,omitzero"`   // last request, as far as this program has run since
	Token  string    `json:"token,omitempty"` // SHA-256 of the session's token, in hex; kept, never shown

	// As is the name it had in the entries when it was paired before; empty: a name of its own.
	As evidence.PersonID `json:"as,omitempty"`

	gone context.Context // ends when the device is removed
	end  context.CancelFunc
}

// By is the opaque name that what is done on this device bears, when it may not write for others.
func (d Device) By() evidence.PersonID { return cmp.Or(d.As, evidence.PersonID("device-"+d.ID)) }

// Gone ends when the device is removed: what it listens to is cut off then.
func (d Device) Gone() context.Context { return d.gone }

// PairingCode lets one device in, once, within ten minutes. Secret travels in the QR code, Digits are typed.
type PairingCode struct {
	Secret string    `json:"secret"`
	Digits string    `json:"digits"`
	Role   book.Role `json:"role"`
	Until  time.Time `json:"until"`
}

// Devices knows who may come in over the network. Safe for concurrent use.
type Devices struct {
	store  Store
	now    func() time.Time
	random io.Reader

	mu     sync.Mutex
	all    []*Device
	former []former // newest last
	codes  []PairingCode
	wrong  int // typed codes that were wrong since the last good one
}

// former is a device that was removed. Paired anew it goes on under its name, so that what it still holds can be sent.
type former struct {
	Token string            `json:"token"` // as of Device
	As    evidence.PersonID `json:"as"`
}

const (
	devicesSetting = "devices"
	formerSetting  = "devices.former"
)

// OpenDevices reads the paired devices.
func OpenDevices(ctx context.Context, store Store, now func() time.Time, random io.Reader) (*Devices, error) {
	d := &Devices{store: store, now: now, random: random}
	for name, into := range map[string]any{devicesSetting: &d.all, formerSetting: &d.former} {
		raw, err := store.Setting(ctx, name)
		if err == nil && raw != nil {
			err = json.Unmarshal(raw, into)
		}
		if err != nil {
			return nil, fmt.Errorf("reading the paired devices: %w", err)
		}
	}
	for _, device := range d.all {
		device.gone, device.end = context.WithCancel(context.Background())
	}
	return d, nil
}

// List returns the paired devices, oldest first, without their tokens.
func (d *Devices) List() []Device {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := make([]Device, len(d.all))
	for i, device := range d.all {
		out[i] = *device
		out[i].Token = ""
	}
	return out
}

// NewCode makes a code for one device. The oldest open one goes when there are too many.
func (d *Devices) NewCode(role book.Role) (PairingCode, error) {
	if !role.Valid() {
		return PairingCode{}, &Problem{Code: BadRequest, Say: words.Mark("A device is paired as lead or as helper."), Try: words.Mark("Choose one of the two."), Field: "role"}
	}
	secret := make([]byte, secretBytes)
	if _, err := io.ReadFull(d.random, secret); err != nil {
		return PairingCode{}, fmt.Errorf("making a pairing code: %w", err)
	}
	digits, err := eightDigits(d.random)
	if err != nil {
		return PairingCode{}, fmt.Errorf("making a pairing code: %w", err)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	code := PairingCode{Secret: base64.RawURLEncoding.EncodeToString(secret), Digits: digits, Role: role, Until: d.now().Add(codeLife)}
	d.drop()
	if len(d.codes) >= mostCodes {
		d.codes = d.codes[1:]
	}
	d.codes = append(d.codes, code)
	d.wrong = 0
	return code, nil
}

// eightDigits draws a number below 10^8 without favouring any.
func eightDigits(random io.Reader) (string, error) {
	const all = 100_000_000
	for {
		var raw [4]byte
		if _, err := io.ReadFull(random, raw[:]); err != nil {
			return "", err
		}
		n := new(big.Int).SetBytes(raw[:]).Int64()
		if n < 42*all { // the largest multiple of 10^8 below 2^32
			return fmt.Sprintf("%08d", n%all), nil
		}
	}
}

// drop takes codes away whose time is over. d.mu is held.
func (d *Devices) drop() {
	now := d.now()
	d.codes = slices.DeleteFunc(d.codes, func(c PairingCode) bool { return !now.Before(c.Until) })
}

// Pair lets a device in by the secret of a QR code or by typed digits, and returns the token of its session. A code is
// used up by it. Ten wrong digits take the digits of all open codes away for good; a secret, which nobody guesses, still counts.
// before is the token of its last session, empty for none: it goes on under the name that it had then.
func (d *Devices) Pair(ctx context.Context, given, name, before string) (Device, string, error) {
	name = strings.TrimSpace(name)
	if name == "" || !utf8.ValidString(name) || utf8.RuneCountInString(name) > mostNameSize || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return Device{}, "", &Problem{Code: BadRequest, Say: words.Mark("The device needs a name of 1 to 40 characters."), Try: words.Mark("Say whose phone it is."), Field: "name"}
	}
	given = strings.TrimSpace(given)
	digits := strings.NewReplacer(" ", "", "-", "").Replace(given) // as people group them
	typed := len(digits) == 8 && strings.Trim(digits, "0123456789") == ""
	if typed {
		given = digits
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.drop()
	at := -1
	for i, c := range d.codes {
		want := c.Secret
		if typed {
			want = c.Digits
		}
		if subtle.ConstantTimeCompare([]byte(want), []byte(given)) == 1 {
			at = i
		}
	}
	if at < 0 && typed {
		if d.wrong++; d.wrong >= wrongBefore {
			for i := range d.codes {
				d.codes[i].Digits = ""
			}
			return Device{}, "", &Problem{Code: NotAllowed, Say: words.Mark("Too many wrong codes were typed: the open ones are void."), Try: words.Mark("Ask the lead for a new code, or scan the QR code."), Field: "code"}
		}
	}
	if at < 0 {
		return Device{}, "", &Problem{Code: NotAllowed, Say: words.Mark("This code is not known, was used, or its ten minutes are over."), Try: words.Mark("Ask the lead for a new code."), Field: "code"}
	}
	if len(d.all) >= mostDevices {
		return Device{}, "", &Problem{Code: NotAllowed, Say: words.Mark("Too many devices are paired here."), Try: words.Mark("Remove one that is not used any more.")}
	}
	token, id := make([]byte, tokenBytes), make([]byte, 6)
	for _, into := range [][]byte{token, id} {
		if _, err := io.ReadFull(d.random, into); err != nil {
			return Device{}, "", fmt.Errorf("pairing: %w", err)
		}
	}
	secret := base64.RawURLEncoding.EncodeToString(token)
	device := &Device{ID: hex.EncodeToString(id), Name: name, Role: d.codes[at].Role, Paired: d.now().UTC().Truncate(time.Second), Token: digest(secret)}
	device.As = d.knownAs(before)
	device.gone, device.end = context.WithCancel(context.Background())
	if err := d.keep(ctx, append(slices.Clone(d.all), device)); err != nil {
		return Device{}, "", err
	}
	d.codes = slices.Delete(d.codes, at, at+1)
	d.wrong = 0
	return *device, secret, nil
}

// knownAs is the name that the device of a session bears or bore; empty when there is none. d.mu is held.
func (d *Devices) knownAs(token string) evidence.PersonID {
	want := digest(token)
	for _, device := range d.all {
		if subtle.ConstantTimeCompare([]byte(device.Token), []byte(want)) == 1 {
			return device.By()
		}
	}
	for _, f := range d.former {
		if subtle.ConstantTimeCompare([]byte(f.Token), []byte(want)) == 1 {
			return f.As
		}
	}
	return ""
}

func digest(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// keep stores a list and takes it as the present one. d.mu is held.
func (d *Devices) keep(ctx context.Context, all []*Device) error {
	raw, err := json.Marshal(all)
	if err == nil {
		err = d.store.SetSetting(ctx, devicesSetting, raw)
	}
	if err != nil {
		return fmt.Errorf("keeping the paired devices: %w", err)
	}
	d.all = all
	return nil
}

// remember keeps the name of a device that is removed. d.mu is held.
func (d *Devices) remember(ctx context.Context, f former) error {
	all := append(slices.Clone(d.former), f)
	all = all[max(0, len(all)-mostDevices):]
	raw, err := json.Marshal(all)
	if err == nil {
		err = d.store.SetSetting(ctx, formerSetting, raw)
	}
	if err != nil {
		return fmt.Errorf("keeping the name of a removed device: %w", err)
	}
	d.former = all
	return nil
}

// Find returns the device of a session. The problem NotPaired when there is none.
func (d *Devices) Find(token string) (Device, error) {
	if token != "" {
		want := digest(token)
		d.mu.Lock()
		defer d.mu.Unlock()
		for _, device := range d.all {
			if subtle.ConstantTimeCompare([]byte(device.Token), []byte(want)) == 1 {
				device.Seen = d.now().UTC().Truncate(time.Second)
				return *device, nil
			}
		}
	}
	return Device{}, &Problem{Code: NotPaired, Say: words.Mark("This device is not paired with this computer."), Try: words.Mark("Ask the lead for a code. What is entered here meanwhile stays on this device.")}
}

// Remove shuts a device out: its next request is refused and what it listens to ends now.
func (d *Devices) Remove(ctx context.Context, id string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	at := slices.IndexFunc(d.all, func(device *Device) bool { return device.ID == id })
	if at < 0 {
		return &Problem{Code: NotFound, Say: words.Mark("This device is not paired any more."), Try: words.Mark("Nothing is left to do.")}
	}
	gone := d.all[at]
	if err := d.remember(ctx, former{gone.Token, gone.By()}); err != nil {
		return err
	}
	if err := d.keep(ctx, slices.Delete(slices.Clone(d.all), at, at+1)); err != nil {
		return err
	}
	gone.end()
	return nil
}
