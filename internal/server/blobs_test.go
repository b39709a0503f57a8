package server

import (
	"bytes"
	"crypto/rand"
	"encoding/base64"
	"image"
	"image/jpeg"
	"net/http"
	"strings"
	"testing"

	"proofbell/evidence"
	"proofbell/internal/app"
)

func TestABlobAndErasure(t *testing.T) {
	c := serve(t)
	job := c.open()
	secret, err := base64.RawURLEncoding.DecodeString(parsed[struct{ Key string }](t, c.do("GET", "/api/jobs/"+string(job), "")).Key)
	if err != nil {
		t.Fatal(err)
	}
	key, err := evidence.JobKeyFrom(secret)
	if err != nil {
		t.Fatal(err)
	}
	seal := func(plain string) (path, sealed string) {
		raw, address, err := evidence.SealBlob(key, rand.Reader, job, []byte(plain))
		if err != nil {
			t.Fatal(err)
		}
		return "/api/jobs/" + string(job) + "/blobs/" + address.String(), string(raw)
	}
	var picture bytes.Buffer
	if err := jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 64, 64)), nil); err != nil {
		t.Fatal(err)
	}
	// The position stands in a segment of its own behind the first two bytes: four bytes of head, twelve of body.
	located := picture.String()[:2] + "\xff\xe1\x00\x0eExif GPS 51N" + picture.String()[2:]
	for plain, code := range map[string]app.Code{located: app.BadRequest, "\x7fELF\x00\xff": app.BadRequest, picture.String()[:300]: app.BadRequest} {
		path, sealed := seal(plain)
		c.want(c.do("PUT", path, sealed), http.StatusBadRequest, code)
	}
	unsealed := "v1:not sealed by anybody, but long enough"
	c.want(c.do("PUT", "/api/jobs/"+string(job)+"/blobs/"+evidence.BlobAddress([]byte(unsealed)).String(), unsealed), http.StatusBadRequest, app.BadRequest)
	path, sealed := seal(picture.String())
	c.want(c.do("PUT", path, sealed), http.StatusNoContent, "")
	if a := c.do("GET", path, ""); a.body != sealed || !strings.Contains(a.header.Get("Cache-Control"), "immutable") {
		t.Errorf("blob %+v", a)
	}
	c.want(c.do("POST", "/api/jobs/"+string(job)+"/erase", `{"name":"Mill"}`), http.StatusOK, "")
	if got := parsed[struct{ Key string }](t, c.do("GET", "/api/jobs/"+string(job), "")); got.Key != "" {
		t.Error("the key is still given out")
	}
}
