package server

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/store"
	"proofbell/site"
)

// network is a server on a local network, over real TLS, with the pages of this machine beside it.
type network struct {
	t       *testing.T
	lead    *client // over plain HTTP on loopback
	devices *app.Devices
	ca      *Authority
	tls     string
	trust   string
}

func startLan(t *testing.T) *network {
	t.Helper()
	c := serve(t)
	dir := t.TempDir()
	ca, err := OpenAuthority(dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	devices, err := app.OpenDevices(t.Context(), kept, time.Now, rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	pages, trust := listen(t), listen(t)
	lan := Lan{Devices: devices, Address: "https://" + pages.Addr().String(), Trust: "http://" + trust.Addr().String(), Fingerprint: ca.Fingerprint()}
	config := Config{App: c.app, Files: fstest.MapFS{"index.html": {Data: []byte("<p>page")}}, Version: "test", Lan: &lan, Hosts: []string{"127.0.0.1"}, Log: c.log()}
	local := listen(t)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 3)
	go func() {
		ended <- ServeTLS(ctx, pages, ca.TLS(netip.MustParseAddr("127.0.0.1")), NewLan(config), c.log())
	}()
	go func() { ended <- Serve(ctx, trust, Trust(ca, lan, config.Hosts), c.log()) }()
	go func() { ended <- Serve(ctx, local, New(config), c.log()) }()
	t.Cleanup(func() {
		stop()
		for range 3 {
			if err := <-ended; err != nil {
				t.Error(err)
			}
		}
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	return &network{t, &client{t: t, app: c.app, base: "http://" + local.Addr().String()}, devices, ca, lan.Address, lan.Trust}
}

func (c *client) log() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func listen(t *testing.T) net.Listener {
	t.Helper()
	var lc net.ListenConfig
	l, err := lc.Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// phone is a browser that trusts our authority and nothing else.
func (n *network) phone() *http.Client {
	n.t.Helper()
	roots := x509.NewCertPool()
	cert, err := x509.ParseCertificate(n.ca.Certificate())
	if err != nil {
		n.t.Fatal(err)
	}
	roots.AddCert(cert)
	jar, err := cookiejar.New(nil)
	if err != nil {
		n.t.Fatal(err)
	}
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}
	n.t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport, Jar: jar}
}

func (n *network) ask(c *http.Client, method, path, body string, header ...string) answer {
	n.t.Helper()
	req, err := http.NewRequestWithContext(n.t.Context(), method, n.tls+path, strings.NewReader(body))
	if err != nil {
		n.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/json")
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := c.Do(req)
	if err != nil {
		n.t.Fatal(err)
	}
	defer resp.Body.Close()
	raw, err := io.ReadAll(resp.Body)
	if err != nil {
		n.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Header, string(raw)}
}

// code asks for a pairing code on this machine's own pages.
func (n *network) code(role book.Role) (code struct{ Digits, Address, Trust, Fingerprint string }) {
	n.t.Helper()
	a := n.lead.do("POST", "/api/pairing", `{"role":"`+string(role)+`"}`)
	if a.status != http.StatusOK {
		n.t.Fatalf("no code: %d %s", a.status, a.body)
	}
	if err := json.Unmarshal([]byte(a.body), &code); err != nil {
		n.t.Fatal(err)
	}
	return code
}

func (n *network) paired(role book.Role, name string) *http.Client {
	n.t.Helper()
	phone := n.phone()
	_, secret, _ := strings.Cut(n.code(role).Address, "#")
	if a := n.ask(phone, "POST", "/api/pair", `{"code":"`+secret+`","name":"`+name+`"}`); a.status != http.StatusOK {
		n.t.Fatalf("pairing: %d %s", a.status, a.body)
	}
	return phone
}

func TestNobodyComesInUnpaired(t *testing.T) {
	n := startLan(t)
	phone := n.phone()
	for _, path := range []string{"/api/hello", "/api/jobs", "/api/inbox", "/api/devices", "/api/nowhere"} {
		n.lead.want(n.ask(phone, "GET", path, ""), http.StatusUnauthorized, app.NotPaired)
	}
	n.lead.want(n.ask(phone, "POST", "/api/pairing", `{"role":"lead"}`), http.StatusUnauthorized, app.NotPaired)
	n.lead.want(n.ask(phone, "GET", "/api/jobs", "", "Cookie", session+"=guess"), http.StatusUnauthorized, app.NotPaired)
	if a := n.ask(phone, "GET", "/pair", "", "Accept", "text/html"); a.status != http.StatusOK || !strings.Contains(a.body, "page") {
		t.Errorf("the application itself is for everybody: %d %s", a.status, a.body)
	}
}

func TestPairing(t *testing.T) {
	n := startLan(t)
	code := n.code(book.Helper)
	phone := n.phone()
	typed := code.Digits[:4] + " " + code.Digits[4:]
	n.lead.want(n.ask(phone, "POST", "/api/pair", `{"code":"`+typed+`","name":" "}`), http.StatusBadRequest, app.BadRequest)
	a := n.ask(phone, "POST", "/api/pair", `{"code":"`+typed+`","name":"Tablet of Ferrol"}`)
	if a.status != http.StatusOK || !strings.Contains(a.body, `"role":"helper"`) {
		t.Fatalf("pairing: %d %s", a.status, a.body)
	}
	for _, part := range []string{"__Host-proofbell=", "Path=/", "Secure", "HttpOnly", "SameSite=Strict"} {
		if !strings.Contains(a.header.Get("Set-Cookie"), part) {
			t.Errorf("the cookie lacks %s: %s", part, a.header.Get("Set-Cookie"))
		}
	}
	if a := n.ask(phone, "GET", "/api/hello", ""); a.status != http.StatusOK || !strings.Contains(a.body, `"name":"Tablet of Ferrol"`) {
		t.Errorf("hello: %d %s", a.status, a.body)
	}
	// A code is for one device, once, also in its other form.
	_, secret, _ := strings.Cut(code.Address, "#")
	for _, again := range []string{code.Digits, secret} {
		n.lead.want(n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+again+`","name":"Other"}`), http.StatusForbidden, app.NotAllowed)
	}
	if a := n.lead.do("GET", "/api/devices", ""); !strings.Contains(a.body, "Tablet of Ferrol") || strings.Contains(a.body, `"token"`) {
		t.Errorf("devices: %s", a.body)
	}
}

// Ten wrong guesses of 10^8 end the typing of all open codes; the QR code, which nobody guesses, still pairs.
func TestTypedCodesAreNotGuessed(t *testing.T) {
	n := startLan(t)
	code := n.code(book.Lead)
	wrong := "00000000"
	if code.Digits == wrong {
		wrong = "00000001"
	}
	for range 10 {
		n.lead.want(n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+wrong+`","name":"x"}`), http.StatusForbidden, app.NotAllowed)
	}
	n.lead.want(n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+code.Digits+`","name":"x"}`), http.StatusForbidden, app.NotAllowed)
	_, secret, _ := strings.Cut(code.Address, "#")
	if a := n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+secret+`","name":"x"}`); a.status != http.StatusOK {
		t.Errorf("the QR code: %d %s", a.status, a.body)
	}
	if a := n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+n.code(book.Lead).Digits+`","name":"y"}`); a.status != http.StatusOK {
		t.Errorf("a new code: %d %s", a.status, a.body)
	}
}

// A new code opens typing again for itself alone.
func TestANewCodeDoesNotReviveVoidOnes(t *testing.T) {
	n := startLan(t)
	void := n.code(book.Lead)
	wrong := "00000000"
	if void.Digits == wrong {
		wrong = "00000001"
	}
	for range 10 {
		n.lead.want(n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+wrong+`","name":"x"}`), http.StatusForbidden, app.NotAllowed)
	}
	n.code(book.Helper)
	n.lead.want(n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+void.Digits+`","name":"x"}`), http.StatusForbidden, app.NotAllowed)
}

// What is no typed code is no wrong try: an old QR code, or eight characters that are no digits, void nothing.
func TestOnlyTypedCodesCountAsTries(t *testing.T) {
	n := startLan(t)
	code := n.code(book.Lead)
	for _, other := range []string{"an-old-secret-of-twenty-two", "abcdefgh"} {
		for range 10 {
			n.lead.want(n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+other+`","name":"x"}`), http.StatusForbidden, app.NotAllowed)
		}
	}
	if a := n.ask(n.phone(), "POST", "/api/pair", `{"code":"`+code.Digits+`","name":"y"}`); a.status != http.StatusOK {
		t.Errorf("the open code: %d %s", a.status, a.body)
	}
}

func TestHelperMayNot(t *testing.T) {
	n := startLan(t)
	job := n.lead.open()
	helper, lead := n.paired(book.Helper, "Helper"), n.paired(book.Lead, "Lead")

	at := "/api/jobs/" + string(job)
	for _, one := range [][3]string{
		{"POST", "/api/jobs", `{}`},
		{"PUT", at, `{}`},
		{"POST", at + "/erase", `{"name":"any"}`},
		{"GET", at + "/export", ""},
		{"GET", at + "/papers/zone-list.pdf", ""},
		{"POST", "/api/import", ""},
		{"POST", "/api/pairing", `{"role":"lead"}`},
		{"GET", "/api/devices", ""},
		{"POST", "/api/devices/x/remove", ""},
		{"GET", at + "/transmission-key", ""},
		{"PUT", at + "/transmission-key", `{"key":"00112233445566778899aabbccddeeff"}`},
		{"DELETE", at + "/transmission-key", ""},
		{"POST", at + "/transmission-key/shown", ""},
		{"GET", "/api/receiver", ""},
		{"GET", "/api/receiver/frames", ""},
		{"GET", "/api/receiver/frames/1", ""},
		{"GET", "/api/receiver/events", ""},
	} {
		n.lead.want(n.ask(helper, one[0], one[1], one[2]), http.StatusForbidden, app.NotAllowed)
	}
	for _, one := range []string{at, at + "/entries", "/api/jobs", "/api/inbox"} {
		if a := n.ask(helper, "GET", one, ""); a.status != http.StatusOK {
			t.Errorf("a helper sees %s: %d %s", one, a.status, a.body)
		}
	}

	write := func(who *http.Client, by evidence.PersonID, kind evidence.Kind, body any) string {
		t.Helper()
		id, err := evidence.NewEntryID(time.Now(), rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		c, err := evidence.NewContent(job, id, time.Now(), by, kind, 1, body)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := json.Marshal(map[string]any{"contents": []evidence.Content{c}})
		if err != nil {
			t.Fatal(err)
		}
		return n.ask(who, "POST", at+"/entries", string(raw)).body
	}
	zone := book.EditBody{Patch: json.RawMessage(`{"zones":{"09":{"label":"Kitchen"}}}`)}
	if got := write(helper, n.by("Helper"), evidence.KindEdit, zone); !strings.Contains(got, `"not-allowed"`) {
		t.Errorf("a helper edited the schedule: %s", got)
	}
	if got := write(lead, "p-1", evidence.KindEdit, zone); !strings.Contains(got, `"seq":2`) {
		t.Errorf("a paired lead could not edit: %s", got)
	}
	reading := book.ReadingBody{About: "/zones/09", What: "level", Value: 71, Unit: "dB"}
	if got := write(helper, n.by("Helper"), evidence.KindReading, reading); !strings.Contains(got, `"seq":3`) {
		t.Errorf("a helper could not add a reading: %s", got)
	}
	for _, other := range []evidence.PersonID{"p-1", n.by("Lead"), "device-000000000000"} {
		if got := write(helper, other, evidence.KindReading, reading); !strings.Contains(got, `"not-allowed"`) || !strings.Contains(got, "in its own name") {
			t.Errorf("a helper wrote as %s: %s", other, got)
		}
	}
	if got := write(lead, n.by("Helper"), evidence.KindReading, reading); !strings.Contains(got, `"seq":4`) {
		t.Errorf("a lead could not write for somebody: %s", got)
	}
}

func sending(t *testing.T, contents ...evidence.Content) string {
	t.Helper()
	raw, err := json.Marshal(map[string]any{"contents": contents})
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// by is the name that the entries of a paired device bear.
func (n *network) by(name string) evidence.PersonID {
	n.t.Helper()
	for _, d := range n.devices.List() {
		if d.Name == name {
			return d.By()
		}
	}
	n.t.Fatalf("no device is called %s", name)
	return ""
}

// A device that was removed and let in again goes on under its name: what it still holds can be sent. Another one does not.
func TestPairedAgainUnderItsOldName(t *testing.T) {
	n := startLan(t)
	phone := n.paired(book.Helper, "First")
	as := n.by("First")
	if a := n.ask(phone, "GET", "/api/hello", ""); !strings.Contains(a.body, `"by":"`+string(as)+`"`) {
		t.Errorf("the device is not told its name %s: %s", as, a.body)
	}
	n.lead.do("POST", "/api/devices/"+n.devices.List()[0].ID+"/remove", "")
	_, secret, _ := strings.Cut(n.code(book.Helper).Address, "#")
	if a := n.ask(phone, "POST", "/api/pair", `{"code":"`+secret+`","name":"Second"}`); a.status != http.StatusOK {
		t.Fatalf("pairing again: %d %s", a.status, a.body)
	}
	if got := n.by("Second"); got != as {
		t.Errorf("paired again as %s, before %s", got, as)
	}
	n.paired(book.Helper, "Third")
	if got := n.by("Third"); got == as {
		t.Errorf("another device goes by %s too", got)
	}
}

// A tick and its taking back may come in one sending; what another ticked stays.
func TestHelperTakesBackOnlyTheirOwn(t *testing.T) {
	n := startLan(t)
	job := n.lead.open()
	helper := n.paired(book.Helper, "Helper")
	tick := func(by evidence.PersonID, body prove.TickBody) evidence.Content {
		t.Helper()
		id, err := evidence.NewEntryID(time.Now(), rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		c, err := evidence.NewContent(job, id, time.Now(), by, evidence.KindTick, 1, body)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	send := func(who *http.Client, contents ...evidence.Content) string {
		t.Helper()
		return n.ask(who, "POST", "/api/jobs/"+string(job)+"/entries", sending(t, contents...)).body
	}
	took := func(c evidence.Content, by evidence.PersonID) evidence.Content {
		return tick(by, prove.TickBody{What: prove.Withdrawn, Of: prove.TickID(c.ID)})
	}
	sounded := prove.TickBody{Step: "smoke:M1", What: prove.Sounded}
	me := n.by("Helper")
	own, other := tick(me, sounded), tick("p-2", sounded)
	if got := n.ask(n.paired(book.Lead, "Lead"), "POST", "/api/jobs/"+string(job)+"/entries", sending(t, other)).body; strings.Contains(got, "problem") {
		t.Errorf("the lead's: %s", got)
	}
	if got := send(helper, own, took(own, me)); strings.Contains(got, "problem") {
		t.Errorf("one's own: %s", got)
	}
	if got := send(helper, took(other, me)); !strings.Contains(got, `"not-allowed"`) || !strings.Contains(got, "Ask the lead") {
		t.Errorf("another's: %s", got)
	}
}

// A removed device hears nothing more: its stream ends at once and its next request is refused.
func TestRemovedDevice(t *testing.T) {
	n := startLan(t)
	job := n.lead.open()
	phone := n.paired(book.Helper, "Lost phone")
	req, err := http.NewRequestWithContext(t.Context(), "GET", n.tls+"/api/jobs/"+string(job)+"/events?after=0", nil)
	if err != nil {
		t.Fatal(err)
	}
	stream, err := phone.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	if _, err := stream.Body.Read(make([]byte, 16)); err != nil {
		t.Fatalf("the stream said nothing: %v", err)
	}
	id := n.devices.List()[0].ID
	if a := n.lead.do("POST", "/api/devices/"+id+"/remove", ""); a.status != http.StatusOK || strings.Contains(a.body, "Lost phone") {
		t.Fatalf("removing: %d %s", a.status, a.body)
	}
	_, _ = io.Copy(io.Discard, stream.Body) // returns only because the stream was ended
	n.lead.want(n.ask(phone, "GET", "/api/jobs", ""), http.StatusUnauthorized, app.NotPaired)
	n.lead.want(n.lead.do("POST", "/api/devices/"+id+"/remove", ""), http.StatusNotFound, app.NotFound)
}

// A job that a device began without a server is taken over once, whatever was sent twice; nobody else's under its id.
func TestBegunElsewhere(t *testing.T) {
	n := startLan(t)
	job, key, contents := begun(t, "Gate house")
	send := func(key *evidence.JobKey, contents ...evidence.Content) answer {
		t.Helper()
		raw, err := json.Marshal(map[string]any{"key": base64.RawURLEncoding.EncodeToString(key.Secret()), "contents": contents})
		if err != nil {
			t.Fatal(err)
		}
		return n.lead.do("PUT", "/api/jobs/"+string(job), string(raw), "Content-Type", "application/json")
	}
	first := send(key, contents...)
	if first.status != http.StatusOK || !strings.Contains(first.body, `"seq":2`) {
		t.Fatalf("taking over: %d %s", first.status, first.body)
	}
	if again := send(key, contents...); again.body != first.body {
		t.Errorf("sent twice: %s, first %s", again.body, first.body)
	}
	if a := n.lead.do("GET", "/api/jobs", ""); strings.Count(a.body, "Gate house") != 1 {
		t.Errorf("jobs: %s", a.body)
	}
	_, other, _ := begun(t, "Gate house")
	n.lead.want(send(other, contents...), http.StatusConflict, app.Clash)
	n.lead.want(send(key), http.StatusBadRequest, app.BadRequest)
	_, _, strange := begun(t, "Elsewhere")
	n.lead.want(send(key, strange...), http.StatusBadRequest, app.BadRequest)
}

// begun is what a device makes when it begins a job: id, key, the description and one note.
func begun(t *testing.T, name string) (evidence.JobID, *evidence.JobKey, []evidence.Content) {
	t.Helper()
	job, err := evidence.NewJobID(time.Now(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	key, err := evidence.NewJobKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	var out []evidence.Content
	add := func(kind evidence.Kind, body, private any) {
		id, err := evidence.NewEntryID(time.Now(), rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		c, err := evidence.NewContent(job, id, time.Now(), "p-1", kind, 0, body)
		if err == nil && private != nil {
			c, err = evidence.SealPrivate(key, rand.Reader, c, private)
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	add(evidence.KindEdit, map[string]any{"patch": map[string]any{"format": site.Format, "name": name}}, nil)
	add(evidence.KindNote, book.NoteBody{About: "the gate"}, book.NotePrivate{Text: "key at the miller's"})
	return job, key, out
}

func TestOtherPagesChangeNothingOverTheNetwork(t *testing.T) {
	n := startLan(t)
	lead := n.paired(book.Lead, "Lead")
	n.lead.want(n.ask(lead, "POST", "/api/jobs", `{}`, "Origin", "https://elsewhere.example"), http.StatusForbidden, app.NotAllowed)
	n.lead.want(n.ask(lead, "POST", "/api/jobs", `{}`, "Sec-Fetch-Site", "cross-site"), http.StatusForbidden, app.NotAllowed)
}

func TestCertificates(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	ca, err := OpenAuthority(dir, clock)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"authority.key", "authority.pem"} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v, want 0600", name, info.Mode(), err)
		}
	}
	again, err := OpenAuthority(dir, clock)
	if err != nil || again.Fingerprint() != ca.Fingerprint() {
		t.Fatalf("the authority did not stay: %v", err)
	}
	if got := len(strings.Fields(ca.Fingerprint())); got != 16 {
		t.Errorf("the fingerprint has %d groups, want 16: %s", got, ca.Fingerprint())
	}
	root, err := x509.ParseCertificate(ca.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	if got := root.NotAfter.Format(time.DateOnly); got != "2036-09-15" {
		t.Errorf("the authority ends %s", got)
	}
	pool := x509.NewCertPool()
	pool.AddCert(root)
	leaf := func(ip string) *x509.Certificate {
		t.Helper()
		cert, err := ca.leaf(netip.MustParseAddr(ip), []string{"localhost", "mill-laptop.local"})
		if err != nil {
			t.Fatal(err)
		}
		return cert.Leaf
	}
	home := leaf("192.168.1.5")
	if life := home.NotAfter.Sub(home.NotBefore); life > 398*24*time.Hour || life < 390*24*time.Hour {
		t.Errorf("a leaf lives %v", life)
	}
	for _, name := range []string{"192.168.1.5", "mill-laptop.local", "localhost"} {
		if _, err := home.Verify(x509.VerifyOptions{Roots: pool, DNSName: name, CurrentTime: now}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := home.Verify(x509.VerifyOptions{Roots: pool, DNSName: "192.168.1.6", CurrentTime: now}); err == nil {
		t.Error("it vouches for an address that is not its own")
	}
	// Even with its key, the authority can not stand in for a place on the internet.
	if _, err := leaf("203.0.113.7").Verify(x509.VerifyOptions{Roots: pool, CurrentTime: now}); err == nil {
		t.Error("it vouches for a public address")
	}
	public, err := ca.leaf(netip.MustParseAddr("192.168.1.5"), []string{"bank.example"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := public.Leaf.Verify(x509.VerifyOptions{Roots: pool, CurrentTime: now}); err == nil {
		t.Error("it vouches for a public name")
	}
	if same := leaf("192.168.1.5"); !same.Equal(home) {
		t.Error("a leaf is made anew for nothing")
	}
	now = now.AddDate(0, 0, 370)
	if renewed := leaf("192.168.1.5"); renewed.Equal(home) {
		t.Error("a leaf with 27 days left is not made anew")
	}
	now = time.Date(2036, 1, 1, 0, 0, 0, 0, time.UTC)
	if _, err := OpenAuthority(dir, clock); err == nil || !strings.Contains(err.Error(), "remove authority.key") {
		t.Errorf("an authority that can not outlive its leaf: %v", err)
	}
}

func TestTrustPage(t *testing.T) {
	n := startLan(t)
	trust := &client{t: t, base: n.trust}
	for _, lang := range []string{"en", "de-AT"} {
		a := trust.do("GET", "/", "", "Accept-Language", lang)
		for _, part := range []string{n.ca.Fingerprint(), n.tls + "/pair", `lang="` + lang[:2]} {
			if !strings.Contains(a.body, part) {
				t.Errorf("%s: %q is missing", lang, part)
			}
		}
		if strings.Contains(a.body, "%!") {
			t.Errorf("%s: a value is missing", lang)
		}
	}
	a := trust.do("GET", "/proofbell-authority.crt", "")
	if a.body != string(n.ca.Certificate()) || a.header.Get("Content-Type") != "application/x-x509-ca-cert" {
		t.Errorf("the certificate is not what is handed out: %v", a.header)
	}
	if a := trust.do("GET", "/api/jobs", ""); a.status != http.StatusNotFound {
		t.Errorf("the page hands out more than the certificate: %d", a.status)
	}
	if a := trust.do("GET", "/", "", "Host", "elsewhere.example"); a.status != http.StatusForbidden {
		t.Errorf("it answers to another name: %d", a.status)
	}
}
