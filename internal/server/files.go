package server

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"
)

// file is one file of the front end with its compressed forms, as built. They stay where they are embedded: a copy of
// the engine alone would be a sixth of the memory that this program needs at rest.
type file struct {
	built  fs.FS
	name   string // empty: there is no such file
	media  string
	etag   string
	cache  string
	gzip   bool
	brotli bool
}

var media = map[string]string{
	".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".wasm": "application/wasm",
	".webmanifest": "application/manifest+json", ".svg": "image/svg+xml", ".json": "application/json", ".woff2": "font/woff2", ".woff": "font/woff", ".png": "image/png", ".txt": "text/plain; charset=utf-8",
}

// files serves the embedded front end. Unknown places get the application itself, which knows its own routes.
func files(built fs.FS) http.Handler {
	all := map[string]*file{}
	at := func(name string) *file {
		if all[name] == nil {
			all[name] = &file{}
		}
		return all[name]
	}
	err := fs.WalkDir(built, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		switch {
		case strings.HasSuffix(name, ".gz"):
			at(strings.TrimSuffix(name, ".gz")).gzip = true
		case strings.HasSuffix(name, ".br"):
			at(strings.TrimSuffix(name, ".br")).brotli = true
		default:
			f := at(name)
			f.built, f.name, f.cache = built, name, "no-cache"
			if f.media = media[path.Ext(name)]; f.media == "" {
				f.media = mime.TypeByExtension(path.Ext(name))
			}
			if strings.HasPrefix(name, "assets/") { // their names change with their content
				f.cache = "public, max-age=31536000, immutable"
			}
		}
		return nil
	})
	for _, f := range all {
		if err == nil && f.name != "" {
			f.etag, err = f.digest()
		}
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "method not allowed", http.StatusMethodNotAllowed)
			return
		}
		name := strings.TrimPrefix(path.Clean(r.URL.Path), "/")
		f := all[name]
		if (f == nil || f.name == "") && (name == "" || strings.Contains(r.Header.Get("Accept"), "text/html")) {
			f = all["index.html"]
		}
		if err != nil || f == nil || f.name == "" {
			http.NotFound(w, r)
			return
		}
		f.serve(w, r)
	})
}

// digest makes the tag of a file's content, from its smallest form.
func (f *file) digest() (string, error) {
	name := f.name
	if f.brotli {
		name += ".br"
	}
	body, err := f.built.Open(name)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	_, err = io.Copy(sum, body)
	return `"` + hex.EncodeToString(sum.Sum(nil)[:12]) + `"`, errors.Join(err, body.Close())
}

func (f *file) serve(w http.ResponseWriter, r *http.Request) {
	name, etag, coding := f.name, f.etag, ""
	accepts := r.Header.Get("Accept-Encoding")
	switch {
	case f.brotli && takes(accepts, "br"):
		name, coding = f.name+".br", "br"
	case f.gzip && takes(accepts, "gzip"):
		name, coding = f.name+".gz", "gzip"
	}
	body, err := f.built.Open(name)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	defer func() { _ = body.Close() }() // only read
	content, ok := body.(io.ReadSeeker)
	if !ok {
		http.Error(w, "the file can not be read", http.StatusInternalServerError)
		return
	}
	h := w.Header()
	if coding != "" {
		h.Set("Content-Encoding", coding)
		etag = strings.TrimSuffix(etag, `"`) + "-" + coding + `"` // other bytes, another tag (RFC 9110, 8.8.3)
	}
	h.Set("Content-Type", f.media)
	h.Set("Cache-Control", f.cache)
	h.Set("ETag", etag)
	h.Set("Vary", "Accept-Encoding")
	http.ServeContent(w, r, "", time.Time{}, content)
}

// takes reports whether an Accept-Encoding header names a coding and does not refuse it (RFC 9110, 12.5.3).
func takes(header, coding string) bool {
	for part := range strings.SplitSeq(header, ",") {
		name, weight, _ := strings.Cut(part, ";")
		if strings.EqualFold(strings.TrimSpace(name), coding) {
			q, err := strconv.ParseFloat(strings.TrimPrefix(strings.TrimSpace(weight), "q="), 64)
			return err != nil || q > 0
		}
	}
	return false
}
