package site

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"proofbell/internal/words"
)

// readJSON parses a text that checkText has passed. The root is nil for an empty text.
func readJSON(file, text string) (*node, error) {
	r := jsonReader{file: file, text: text, decoder: json.NewDecoder(strings.NewReader(text))}
	r.decoder.UseNumber()
	root, err := r.value(0)
	if errors.Is(err, io.EOF) {
		return nil, nil
	}
	if err == nil {
		end := r.fault(words.Later("something stands after the end of the text"), words.Later("take it out"))
		if _, more := r.decoder.Token(); !errors.Is(more, io.EOF) {
			err = end
		}
	}
	if err != nil {
		var f Fault
		if !errors.As(err, &f) {
			var syntax *json.SyntaxError
			f = r.fault(words.Later("the text can not be read as JSON: it ends too early"), words.Later("look at the commas, the quotes and the brackets here")).(Fault)
			if errors.As(err, &syntax) {
				offset := r.skip(max(0, int(syntax.Offset)-1), " \t\r\n")
				at := r.placeOf(offset)
				f.Line, f.Column = at.line, at.column
				if c, size := utf8.DecodeRuneInString(r.text[min(offset, len(r.text)):]); size > 0 {
					f.Say = words.Later("the text can not be read as JSON: %q can not stand here", string(c))
				}
			}
		}
		r.faults = append(r.faults, f)
	}
	return root, r.faults.sorted()
}

type jsonReader struct {
	file    string
	text    string
	decoder *json.Decoder
	faults  Faults

	seen int // bytes of text already counted into at
	at   place
}

// placeOf counts lines forward from the last call, so that reading stays linear.
func (r *jsonReader) placeOf(offset int) place {
	if r.seen == 0 || offset < r.seen {
		r.seen, r.at = 0, place{1, 1}
	}
	for r.seen < min(offset, len(r.text)) {
		c, size := utf8.DecodeRuneInString(r.text[r.seen:])
		r.seen += size
		if r.at.column++; c == '\n' {
			r.at = place{r.at.line + 1, 1}
		}
	}
	return r.at
}

// next returns where the coming token starts.
func (r *jsonReader) next() place {
	return r.placeOf(r.skip(int(r.decoder.InputOffset()), " \t\r\n,:"))
}

func (r *jsonReader) skip(from int, these string) int {
	for from < len(r.text) && strings.IndexByte(these, r.text[from]) >= 0 {
		from++
	}
	return from
}

func (r *jsonReader) fault(say, try words.Text) error {
	at := r.next()
	return Fault{File: r.file, Line: at.line, Column: at.column, Say: say, Try: try}
}

func (r *jsonReader) value(depth int) (*node, error) {
	if depth > MaxDepth {
		return nil, r.fault(words.Later("collections are nested deeper than %d", MaxDepth), words.Later("a site file needs fewer than ten levels"))
	}
	n := &node{place: r.next()}
	t, err := r.decoder.Token()
	if err != nil {
		if errors.Is(err, io.EOF) && depth > 0 {
			err = io.ErrUnexpectedEOF
		}
		return nil, err
	}
	switch t := t.(type) {
	case json.Delim:
		if t == '[' {
			n.kind = sequence
			for r.decoder.More() {
				item, err := r.value(depth + 1)
				if err != nil {
					return nil, err
				}
				n.items = append(n.items, item)
			}
		} else {
			n.kind = mapping
			for r.decoder.More() {
				if err := r.entry(n, depth); err != nil {
					return nil, err
				}
			}
		}
		if _, err := r.decoder.Token(); err != nil { // the closing bracket
			if errors.Is(err, io.EOF) {
				err = io.ErrUnexpectedEOF
			}
			return nil, err
		}
	case string:
		n.form, n.text = quoted, t
	case json.Number:
		n.form, n.text = number, t.String()
	case bool:
		n.form, n.text = literal, fmt.Sprint(t)
	case nil:
		n.form = null
	}
	return n, nil
}

func (r *jsonReader) entry(to *node, depth int) error {
	at := r.next()
	t, err := r.decoder.Token()
	if err != nil {
		return err
	}
	key, _ := t.(string)
	value, err := r.value(depth + 1)
	if err != nil {
		return err
	}
	if !to.add(key, at, value) {
		r.faults = append(r.faults, Fault{
			File: r.file, Line: at.line, Column: at.column,
			Say: words.Later("%q stands here a second time", clip(key)), Try: words.Later("give it an id of its own, or take one out"),
		})
	}
	return nil
}
