package cli

import (
	"bufio"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// A request is handed on only when all of it is in: one that breaks off half way reaches nobody, one that comes whole is
// answered whole.
func TestPassOnReadsTheRequestFirst(t *testing.T) {
	asked := make(chan string, 2)
	behind := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		asked <- string(body)
		_, _ = io.WriteString(w, strings.Repeat("x", 64<<10))
	}))
	defer behind.Close()
	target, err := url.Parse(behind.URL)
	if err != nil {
		t.Fatal(err)
	}
	front := httptest.NewServer(passOn(target, slog.New(slog.DiscardHandler)))
	defer front.Close()

	conn, err := net.Dial("tcp", front.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := io.WriteString(conn, "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 10\r\n\r\nhalf"); err != nil {
		t.Fatal(err)
	}
	if err := conn.(*net.TCPConn).CloseWrite(); err != nil {
		t.Fatal(err)
	}
	half, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatal(err)
	}
	if half.StatusCode != http.StatusBadRequest {
		t.Errorf("half a request got %s", half.Status)
	}

	whole, err := http.Post(front.URL, "application/json", strings.NewReader(`{"do":"x"}`))
	if err != nil {
		t.Fatal(err)
	}
	defer whole.Body.Close()
	if answer, err := io.ReadAll(whole.Body); err != nil || len(answer) != 64<<10 {
		t.Errorf("a whole request got %d bytes, %v", len(answer), err)
	}
	if got := <-asked; got != `{"do":"x"}` || len(asked) != 0 {
		t.Errorf("behind came %q and %d more: want the whole request alone", got, len(asked))
	}
}
