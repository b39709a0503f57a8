package engine

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"image"
	"image/jpeg"
	"testing"

	"proofbell/evidence"
)

func TestAPhotographIsStrippedSealedAndOpened(t *testing.T) {
	var picture bytes.Buffer
	if err := jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 64, 48)), nil); err != nil {
		t.Fatal(err)
	}
	located := append([]byte("\xff\xd8\xff\xe1\x00\x0eExif GPS 51N"), picture.Bytes()[2:]...)
	secret := bytes.Repeat([]byte{7}, 32)
	job := evidence.JobID("01928f5e-3c00-7000-8000-000000000001")
	e := New()
	ask := func(method string, arg any, into any) {
		t.Helper()
		raw, err := json.Marshal(arg)
		if err != nil {
			t.Fatal(err)
		}
		var out struct {
			OK      json.RawMessage
			Problem *Problem
		}
		if err := json.Unmarshal(e.Call(method, raw), &out); err != nil || out.Problem != nil {
			t.Fatalf("%s: %v %v", method, err, out.Problem)
		}
		if err := json.Unmarshal(out.OK, into); err != nil {
			t.Fatal(err)
		}
	}
	type m = map[string]any
	random := base64.RawURLEncoding.EncodeToString(bytes.Repeat([]byte{3}, 48))
	ask("job.load", m{"job": job, "key": base64.RawURLEncoding.EncodeToString(secret), "entries": []int{}}, &struct{}{})
	var sealed SealedBlob
	ask("blob.seal", m{"job": job, "bytes": located, "random": random}, &sealed)
	if sealed.Media != "image/jpeg" || sealed.Width != 64 || sealed.Height != 48 || sealed.Address != evidence.BlobAddress(sealed.Sealed).String() {
		t.Errorf("sealed %s, %d x %d at %s", sealed.Media, sealed.Width, sealed.Height, sealed.Address)
	}
	var opened OpenedBlob
	ask("blob.open", m{"job": job, "sealed": sealed.Sealed}, &opened)
	if opened.Media != "image/jpeg" || !bytes.Equal(opened.Bytes, picture.Bytes()) {
		t.Error("what is opened is not the picture alone")
	}
	if answer := e.Call("blob.seal", []byte(`{"job":"`+string(job)+`","bytes":"AAAA","random":"`+random+`"}`)); !bytes.Contains(answer, []byte("bad-request")) {
		t.Errorf("no photograph at all: %s", answer)
	}
}
