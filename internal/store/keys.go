package store

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"proofbell/evidence"
)

// installationKey reads or makes the key under which job keys are kept. It lives beside the database, not in it: a copy
// of the database alone opens nothing.
func installationKey(path string) (cipher.AEAD, error) {
	secret, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		secret = make([]byte, 32)
		rand.Read(secret)
		err = writeDurably(path, secret)
	}
	if err != nil {
		return nil, fmt.Errorf("installation key: %w", err)
	}
	if len(secret) != 32 {
		return nil, fmt.Errorf("installation key %s: want 32 bytes, it has %d: put back the file that belongs to this data folder", path, len(secret))
	}
	block, err := aes.NewCipher(secret)
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

func writeDurably(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

// SigningKey returns the installation's key for chain heads, made at its first use.
func (b *Books) SigningKey(ctx context.Context) (*evidence.SigningKey, error) {
	sealed, err := b.installed(ctx, "signing-key")
	if err == nil && sealed == nil {
		key, err := evidence.NewSigningKey(rand.Reader)
		if err != nil {
			return nil, err
		}
		if sealed, err = b.install(ctx, "signing-key", b.seal(key.Seed(), "signing-key")); err != nil {
			return nil, fmt.Errorf("keeping the signing key: %w", err)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("reading the signing key: %w", err)
	}
	seed, err := b.unseal(sealed, "signing-key")
	if err != nil {
		return nil, fmt.Errorf("signing key: %w", err)
	}
	return evidence.SigningKeyFrom(seed)
}

// installed returns a value of the installation; nil when there is none.
func (b *Books) installed(ctx context.Context, name string) (value []byte, err error) {
	err = b.row(ctx, func(r *sql.Row) error { return r.Scan(&value) }, `SELECT value FROM installation WHERE name = ?`, name)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return value, err
}

// install keeps a value of the installation for good: the one that was first, by whatever process, comes back.
func (b *Books) install(ctx context.Context, name string, value []byte) ([]byte, error) {
	if err := b.exec(ctx, `INSERT INTO installation (name, value) VALUES (?, ?) ON CONFLICT DO NOTHING`, name, value); err != nil {
		return nil, err
	}
	return b.installed(ctx, name)
}

// Setting returns what was kept under a name, or nil.
func (b *Books) Setting(ctx context.Context, name string) ([]byte, error) {
	return b.installed(ctx, "setting:"+name)
}

// SetSetting keeps a value under a name.
func (b *Books) SetSetting(ctx context.Context, name string, value []byte) error {
	return b.exec(ctx, `INSERT INTO installation (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value`, "setting:"+name, value)
}

func (b *Books) seal(secret []byte, bound string) []byte {
	nonce := make([]byte, b.wrap.NonceSize())
	rand.Read(nonce)
	return b.wrap.Seal(nonce, nonce, secret, []byte(bound))
}

func (b *Books) unseal(sealed []byte, bound string) ([]byte, error) {
	n := b.wrap.NonceSize()
	if len(sealed) < n {
		return nil, errors.New("the sealed key is too short")
	}
	secret, err := b.wrap.Open(nil, sealed[:n], sealed[n:], []byte(bound))
	if err != nil {
		return nil, errors.New("the installation key does not open it: put back the installation.key that belongs to this data folder")
	}
	return secret, nil
}
