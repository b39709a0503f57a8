package server

import (
	"net/http"
	"strings"
	"testing"

	"proofbell/internal/app"
)

// A transmission key is set, told of, shown and removed; it is in the answer that shows it and in no other.
func TestTransmissionKey(t *testing.T) {
	c := serve(t)
	job := c.open()
	at := "/api/jobs/" + string(job) + "/transmission-key"
	const key = "00112233445566778899AABBCCDDEEFF"
	want := func(what string, a answer, status int, body string) {
		t.Helper()
		if a.status != status || !strings.Contains(string(a.body), body) || status != http.StatusOK && strings.Contains(string(a.body), key[:8]) {
			t.Errorf("%s: %d %s", what, a.status, a.body)
		}
	}
	want("none yet", c.do("GET", at, ""), http.StatusOK, `{"encryptedOnly":false,"has":false}`)
	want("none to show", c.do("POST", at+"/shown", ""), http.StatusNotFound, "no transmission key")
	want("too short", c.do("PUT", at, `{"key":"`+key[:30]+`"}`), http.StatusBadRequest, `"field":"key"`)
	want("no JSON", c.do("PUT", at, key), http.StatusBadRequest, "did not come whole")
	want("set", c.do("PUT", at, `{"key":"`+key+`","encryptedOnly":true}`), http.StatusOK, `{"encryptedOnly":true,"has":true}`)
	want("shown", c.do("POST", at+"/shown", ""), http.StatusOK, key)
	want("removed", c.do("DELETE", at, ""), http.StatusOK, `{"encryptedOnly":false,"has":false}`)
	entries := c.do("GET", "/api/jobs/"+string(job)+"/entries?after=0", "")
	for _, kind := range []string{`"kind":"secret"`, `"kind":"reveal"`} {
		if !strings.Contains(string(entries.body), kind) || strings.Contains(string(entries.body), key) {
			t.Errorf("the book does not tell %s, or holds the key", kind)
		}
	}
	want("of no job", c.do("GET", "/api/jobs/01990000-0000-7000-8000-000000000000/transmission-key", ""), http.StatusNotFound, string(app.NotFound))
}
