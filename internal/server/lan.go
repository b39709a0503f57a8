package server

import (
	"context"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"strings"
	"time"

	"rsc.io/qr"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/words"
)

// Lan is what serving a local network adds.
type Lan struct {
	Devices     *app.Devices
	Address     string // "https://192.168.1.5:8443"
	Trust       string // "http://192.168.1.5:8444", the page that hands out the certificate
	Fingerprint string // of the authority's certificate
}

// session is the cookie of a paired device. The prefix makes the browser see to it that it came from this very address,
// over TLS (RFC 6265bis, 4.1.3.2).
const session = "__Host-proofbell"

// who is at the other end of a request: the lead on this machine, or a paired device.
type visitor struct {
	role   book.Role
	device *app.Device // nil on this machine
}

// as is the name that a helper's entries bear; empty for the lead, who may write for others.
func (v visitor) as() evidence.PersonID {
	if v.device == nil || v.role == book.Lead {
		return ""
	}
	return v.device.By()
}

type visiting struct{}

func visitorOf(r *http.Request) visitor {
	v, _ := r.Context().Value(visiting{}).(visitor)
	return v
}

// here lets the requests of this machine in: whoever sits at it is the lead.
func here(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), visiting{}, visitor{role: book.Lead})))
	})
}

// paired lets the requests of paired devices in. The application itself holds nothing of any job and is given to all;
// pairing and the greeting come before there is a session. A request ends when its device is removed.
func (s *server) paired(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !strings.HasPrefix(r.URL.Path, "/api/") || r.URL.Path == "/api/pair" && r.Method == http.MethodPost {
			next.ServeHTTP(w, r)
			return
		}
		token := ""
		if cookie, err := r.Cookie(session); err == nil {
			token = cookie.Value
		}
		device, err := s.Lan.Devices.Find(token)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		ctx, cancel := context.WithCancel(context.WithValue(r.Context(), visiting{}, visitor{device.Role, &device}))
		defer cancel()
		defer context.AfterFunc(device.Gone(), cancel)()
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

// lead keeps what only the lead may do from everyone else.
func (s *server) lead(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if visitorOf(r).role != book.Lead {
			s.fail(w, r, &app.Problem{Code: app.NotAllowed, Say: words.Mark("A helper does not do this: the lead does."), Try: words.Mark("Ask the lead, who can also pair this device anew as a lead.")})
			return
		}
		next(w, r)
	}
}

// me says who the server takes this page for.
func (s *server) me(r *http.Request) map[string]any {
	v := visitorOf(r)
	me := map[string]any{"role": v.role, "lan": s.Lan != nil}
	if v.device != nil {
		me["name"], me["device"], me["by"] = v.device.Name, v.device.ID, v.device.By()
	}
	return me
}

func (s *server) pair(w http.ResponseWriter, r *http.Request) {
	var sent struct {
		Code string `json:"code"`
		Name string `json:"name"`
	}
	raw, err := readBody(w, r, 4096)
	if err == nil && json.Unmarshal(raw, &sent) != nil {
		err = &app.Problem{Code: app.BadRequest, Say: words.Mark("The request to pair can not be read."), Try: words.Mark("Send {\"code\", \"name\"}.")}
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	before := ""
	if cookie, err := r.Cookie(session); err == nil {
		before = cookie.Value
	}
	device, token, err := s.Lan.Devices.Pair(r.Context(), sent.Code, sent.Name, before)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: session, Value: token, Path: "/", Secure: true, HttpOnly: true, SameSite: http.SameSiteStrictMode,
		MaxAge: int((400 * 24 * time.Hour).Seconds()), // browsers keep no cookie longer
	})
	s.answer(w, r, http.StatusOK, map[string]any{"name": device.Name, "role": device.Role})
}

func (s *server) newCode(w http.ResponseWriter, r *http.Request) {
	var sent struct {
		Role book.Role `json:"role"`
	}
	raw, err := readBody(w, r, 4096)
	if err == nil && json.Unmarshal(raw, &sent) != nil {
		err = &app.Problem{Code: app.BadRequest, Say: words.Mark("The request for a code can not be read."), Try: words.Mark("Send {\"role\"}.")}
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	code, err := s.Lan.Devices.NewCode(sent.Role)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	address := PairingAddress(s.Lan.Address, code)
	s.answer(w, r, http.StatusOK, map[string]any{
		"digits": code.Digits, "role": code.Role, "until": code.Until.UTC().Format(time.RFC3339), "address": address, "qr": square(address),
		"enter": s.Lan.Address + "/pair", "trust": s.Lan.Trust, "trustQR": square(s.Lan.Trust), "fingerprint": s.Lan.Fingerprint,
	})
}

// PairingAddress is what the QR code of a pairing holds. The secret stands behind the # and so reaches no server's log.
func PairingAddress(address string, code app.PairingCode) string {
	return address + "/pair#" + code.Secret
}

// square is the QR code of a text as rows of "1" for dark and "0" for light modules, with no edge around it; empty when
// the text is too long for one.
func square(text string) []string {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return []string{}
	}
	rows := make([]string, code.Size)
	for y := range rows {
		row := make([]byte, code.Size)
		for x := range row {
			row[x] = '0'
			if code.Black(x, y) {
				row[x] = '1'
			}
		}
		rows[y] = string(row)
	}
	return rows
}

// Square draws a text as a QR code for a terminal: dark on light, two rows of modules to a line, with the edge of four
// modules that the symbol needs (ISO/IEC 18004, 9.1).
func Square(text string) string {
	rows := square(text)
	const edge = 4
	dark := func(x, y int) bool {
		x, y = x-edge, y-edge
		return y >= 0 && y < len(rows) && x >= 0 && x < len(rows[y]) && rows[y][x] == '1'
	}
	side := len(rows) + 2*edge
	var b strings.Builder
	for y := 0; y < side; y += 2 {
		b.WriteString("\x1b[30;107m") // black on white, whatever the colours of the terminal
		for x := range side {
			switch up, down := dark(x, y), dark(x, y+1); {
			case up && down:
				b.WriteRune('█')
			case up:
				b.WriteRune('▀')
			case down:
				b.WriteRune('▄')
			default:
				b.WriteByte(' ')
			}
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String()
}

func (s *server) devices(w http.ResponseWriter, r *http.Request) {
	s.answer(w, r, http.StatusOK, map[string]any{
		"devices": s.Lan.Devices.List(), "address": s.Lan.Address, "trust": s.Lan.Trust, "fingerprint": s.Lan.Fingerprint,
	})
}

func (s *server) removeDevice(w http.ResponseWriter, r *http.Request) {
	if err := s.Lan.Devices.Remove(r.Context(), r.PathValue("device")); err != nil {
		s.fail(w, r, err)
		return
	}
	s.devices(w, r)
}

// Trust is the small page over plain HTTP that hands out the authority's certificate, and nothing else. What it says can
// be changed on the way by whoever sits in the network: therefore the fingerprint, which the lead's page shows as well.
func Trust(a *Authority, lan Lan, hosts []string) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /proofbell-authority.crt", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/x-x509-ca-cert")
		w.Header().Set("Content-Disposition", `attachment; filename="proofbell-authority.crt"`)
		_, _ = w.Write(a.Certificate()) // a phone that went away asks again
	})
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		page := trustPage["en"]
		if strings.HasPrefix(strings.ToLower(r.Header.Get("Accept-Language")), "de") {
			page = trustPage["de"]
		}
		_, _ = fmt.Fprintf(w, page, html.EscapeString(a.Fingerprint()), html.EscapeString(lan.Address), html.EscapeString(a.cert.Subject.CommonName))
	})
	s := &server{Config: Config{Hosts: hosts}}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-store")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Referrer-Policy", "no-referrer")
		if !s.hostAllowed(r.Host) {
			http.Error(w, "this server does not answer to that name", http.StatusForbidden)
			return
		}
		mux.ServeHTTP(w, r)
	})
}
