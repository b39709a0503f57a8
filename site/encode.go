package site

import (
	"bytes"
	"encoding/json"
)

// EncodeJSON writes the site as JSON, members in the order of the types and ids in byte order.
func EncodeJSON(s *Site) ([]byte, error) {
	out := *s
	if out.Format == "" {
		out.Format = Format
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(out); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

func appendJSONString(b []byte, s string) []byte {
	raw, err := json.Marshal(s)
	if err != nil { // a string always encodes
		panic(err)
	}
	return append(b, raw...)
}
