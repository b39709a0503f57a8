package cli

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"os"
	"strings"
	"syscall"
	"testing"
)

func TestChoosePlace(t *testing.T) {
	two := []place{{netip.MustParseAddr("192.168.1.5"), "wlan0"}, {netip.MustParseAddr("10.0.0.3"), "eth0"}}
	for _, one := range []struct {
		places     []place
		ask        bool
		typed      string
		want, says string
	}{
		{nil, true, "", "", "join the network of the phone"},
		{two[:1], false, "", "192.168.1.5", ""},
		{two, false, "", "", "--lan-address\n  1  192.168.1.5  (wlan0)\n  2  10.0.0.3  (eth0)"},
		{two, true, "2\n", "10.0.0.3", ""},
		{two, true, "seven\n3\n1\n", "192.168.1.5", ""},
		{two, true, "", "", "no network was chosen"},
	} {
		var asked bytes.Buffer
		got, err := choosePlace(one.places, one.ask, strings.NewReader(one.typed), &asked)
		if one.says != "" {
			if err == nil || !strings.Contains(err.Error(), one.says) {
				t.Errorf("%v: error %v, want %q", one.places, err, one.says)
			}
			continue
		}
		if err != nil || got.String() != one.want {
			t.Errorf("%v, typed %q: %v %v, want %s", one.places, one.typed, got, err, one.want)
		}
		if one.typed != "" && !strings.Contains(asked.String(), "In which network is the phone?") {
			t.Errorf("nothing was asked: %q", asked.String())
		}
	}
}

// An address for everyone beside one for paired devices would make pairing worth nothing.
func TestLanIsNotOpenedBesideAnOpenAddress(t *testing.T) {
	dir := t.TempDir()
	err := (&serveCmd{Lan: true, Listen: "192.0.2.1:0", dataFlags: dataFlags{Data: dir}}).Run(t.Context(), &streams{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	if err == nil || !strings.Contains(err.Error(), "not paired") || !strings.Contains(err.Error(), "--listen 127.0.0.1:8080") {
		t.Errorf("%v, want what is wrong and what to do", err)
	}
	if made, err := os.ReadDir(dir); err != nil || len(made) > 0 {
		t.Errorf("the data folder was opened: %v %v", made, err)
	}
}

// A phone trusts the certificate that the helper page hands out, pairs with a code from this machine's pages, sees the
// jobs, and is still paired after a restart on the same folder.
func TestServeLan(t *testing.T) {
	dir := t.TempDir()
	args := []string{"--demo", "--lan", "--lan-address", "127.0.0.1", "--lan-port", "0", "--trust-port", "0"}
	s := runServer(t, dir, args...)
	lan, trust := s.wait(`^Local network +(\S+)`)[1], s.wait(`^Certificate +(\S+)`)[1]

	resp, err := http.Get(trust + "/proofbell-authority.crt")
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(resp.Body)
	if err = errors.Join(err, resp.Body.Close()); err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(raw)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(cert)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	phone := &http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
	if _, err := http.Get(lan); err == nil {
		t.Error("who does not trust the certificate got in")
	}

	resp, err = http.Post(s.base+"/api/pairing", "application/json", strings.NewReader(`{"role":"helper"}`))
	if err != nil {
		t.Fatal(err)
	}
	var code struct{ Digits, Trust string }
	err = errors.Join(json.NewDecoder(resp.Body).Decode(&code), resp.Body.Close())
	if err != nil || code.Trust != trust {
		t.Fatalf("code %+v, %v", code, err)
	}
	resp, err = phone.Post(lan+"/api/pair", "application/json", strings.NewReader(`{"code":"`+code.Digits+`","name":"Phone"}`))
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Fatalf("pairing: %v %v", resp, err)
	}
	cookies := resp.Cookies()
	if err := resp.Body.Close(); err != nil || len(cookies) != 1 {
		t.Fatal(cookies, err)
	}
	if code := s.end(syscall.SIGTERM); code != Good {
		t.Errorf("it ended with %d", code)
	}

	s = runServer(t, dir, args...)
	lan = s.wait(`^Local network +(\S+)`)[1]
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, lan+"/api/jobs", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.AddCookie(cookies[0])
	resp, err = phone.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	raw, err = io.ReadAll(resp.Body)
	if err = errors.Join(err, resp.Body.Close()); err != nil || !strings.Contains(string(raw), "Larkwater Mill") {
		t.Errorf("after a restart: %d %s %v", resp.StatusCode, raw, err)
	}
}
