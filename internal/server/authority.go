package server

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// How long certificates are good for. Browsers take a leaf of at most 398 days.
const (
	authorityYears = 10
	leafDays       = 397
	renewBefore    = 30 * 24 * time.Hour
)

// Where the authority's own limits end: private networks (RFC 1918, RFC 4193), link-local addresses, this machine, and
// names that exist on a local network only (RFC 6762, RFC 8375). A stolen key is of no use for any place on the internet.
var (
	localRanges = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"}
	localNames  = []string{"localhost", "local", "home.arpa", "internal"}
)

// IsLocal reports whether an address lies in a private network, so that the authority may vouch for it.
func IsLocal(ip netip.Addr) bool {
	for _, text := range localRanges {
		if netip.MustParsePrefix(text).Contains(ip.Unmap()) {
			return true
		}
	}
	return false
}

// Authority is the small certificate authority of one data folder. It vouches for this program's own address on the
// local network, and its certificate is what a phone is asked to trust. Safe for concurrent use.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	now  func() time.Time

	mu    sync.Mutex
	leafs map[string]*tls.Certificate // by the places that it names
}

// OpenAuthority reads the authority of a data folder, or makes one: authority.key and authority.pem, for the owner alone.
// One whose ten years are nearly over is an error that says what to do.
func OpenAuthority(dir string, now func() time.Time) (*Authority, error) {
	a := &Authority{now: now, leafs: map[string]*tls.Certificate{}}
	keyFile, certFile := filepath.Join(dir, "authority.key"), filepath.Join(dir, "authority.pem")
	keyText, keyErr := os.ReadFile(keyFile)
	certText, certErr := os.ReadFile(certFile)
	if errors.Is(keyErr, fs.ErrNotExist) && errors.Is(certErr, fs.ErrNotExist) {
		return a, a.make(keyFile, certFile)
	}
	if err := errors.Join(keyErr, certErr); err != nil {
		return nil, fmt.Errorf("certificate authority: %w; put both files back, or remove both: a new authority is made then, and every phone has to trust it anew", err)
	}
	pair, err := tls.X509KeyPair(certText, keyText)
	if err != nil {
		return nil, fmt.Errorf("certificate authority %s: %w; remove authority.key and authority.pem: a new one is made then, and every phone has to trust it anew", dir, err)
	}
	key, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
	if !ok || !pair.Leaf.IsCA {
		return nil, fmt.Errorf("certificate authority %s: these are not the files that this program made; remove authority.key and authority.pem", dir)
	}
	a.cert, a.key = pair.Leaf, key
	if now().Add(leafDays * 24 * time.Hour).After(a.cert.NotAfter) {
		return nil, fmt.Errorf("certificate authority %s ends on %s: remove authority.key and authority.pem; a new one is made then, and every phone has to trust it anew", dir, a.cert.NotAfter.Format(time.DateOnly))
	}
	return a, nil
}

func (a *Authority) make(keyFile, certFile string) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return fmt.Errorf("making a certificate authority: %w", err)
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this computer"
	}
	now := a.now()
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: fmt.Sprintf("Proofbell on %s, %s", host, now.Format(time.DateOnly)), Organization: []string{"Proofbell, local network only"}},
		NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(authorityYears, 0, 0),
		KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: localNames,
	}
	for _, text := range localRanges {
		_, network, err := net.ParseCIDR(text)
		if err != nil {
			return err
		}
		template.PermittedIPRanges = append(template.PermittedIPRanges, network)
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return fmt.Errorf("making a certificate authority: %w", err)
	}
	if a.cert, err = x509.ParseCertificate(der); err != nil {
		return err
	}
	a.key = key
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	if err := keepFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})); err != nil {
		return fmt.Errorf("keeping the certificate authority: %w", err)
	}
	if err := keepFile(certFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})); err != nil {
		return fmt.Errorf("keeping the certificate authority: %w", errors.Join(err, os.Remove(keyFile)))
	}
	return nil
}

func keepFile(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

func serial() *big.Int {
	raw := make([]byte, 16)
	rand.Read(raw)
	raw[0] &= 0x7f // positive, at most 20 octets (RFC 5280, 4.1.2.2)
	return new(big.Int).SetBytes(raw)
}

// Certificate is the authority's own certificate, DER: what a phone is asked to trust.
func (a *Authority) Certificate() []byte { return a.cert.Raw }

// Fingerprint is the SHA-256 of the certificate in groups that can be read aloud.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	var b strings.Builder
	for i, octet := range sum {
		switch {
		case i > 0 && i%2 == 0:
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%02X", octet)
	}
	return b.String()
}

// TLS is a configuration that presents a certificate for an address, made anew before it runs out.
func (a *Authority) TLS(ip netip.Addr, names ...string) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return a.leaf(ip, names) },
	}
}

func (a *Authority) leaf(ip netip.Addr, names []string) (*tls.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	places := fmt.Sprint(ip, names)
	now := a.now()
	if leaf := a.leafs[places]; leaf != nil && now.Add(renewBefore).Before(leaf.Leaf.NotAfter) {
		return leaf, nil
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: ip.String()}, NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(0, 0, leafDays),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
		IPAddresses: []net.IP{ip.AsSlice()}, DNSNames: names,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, fmt.Errorf("making a certificate for %s: %w", ip, err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	a.leafs[places] = &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: parsed}
	return a.leafs[places], nil
}
