package engine

import (
	"bytes"
	"encoding/base64"
	"errors"

	"proofbell/evidence"
	"proofbell/internal/photo"
	"proofbell/internal/words"
)

// SealedBlob is a photograph as it is kept and sent. Bytes travel as base64.
type SealedBlob struct {
	Address string `json:"address"`
	Media   string `json:"media"`
	Width   int    `json:"width"`
	Height  int    `json:"height"`
	Sealed  []byte `json:"sealed"`
}

// OpenedBlob is a file of a job as it was before it was sealed.
type OpenedBlob struct {
	Media string `json:"media"` // empty: no picture
	Bytes []byte `json:"bytes"`
}

// sealBlob takes everything beside the picture out of a photograph and seals it under the job's key.
func (e *Engine) sealBlob(argument []byte) (any, error) {
	arg, err := read[struct {
		Job    evidence.JobID
		Bytes  []byte
		Random string
	}](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	clean, info, err := photo.Strip(arg.Bytes)
	if err != nil {
		p := &Problem{Code: "bad-request", Say: words.Mark("This is not a photograph that can be kept."), Try: words.Mark("Take it again, or choose a JPEG or PNG picture."), Err: err}
		if errors.Is(err, photo.ErrSize) {
			p.Say = words.Mark("This photograph is too large or too small.")
		}
		return nil, p
	}
	random, err := base64.RawURLEncoding.DecodeString(arg.Random)
	if err != nil || len(random) < 12 {
		return nil, &Problem{Code: "bad-request", Say: words.Mark("The call brings too few random bytes."), Try: words.Mark("Reload the page.")}
	}
	sealed, address, err := evidence.SealBlob(h.key, bytes.NewReader(random), arg.Job, clean)
	if err != nil {
		return nil, sealProblem(err)
	}
	return SealedBlob{Address: address.String(), Media: info.Media, Width: info.Width, Height: info.Height, Sealed: sealed}, nil
}

func (e *Engine) openBlob(argument []byte) (any, error) {
	arg, err := read[struct {
		Job    evidence.JobID
		Sealed []byte
	}](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	plain, err := evidence.OpenBlob(h.key, arg.Job, arg.Sealed)
	if err != nil {
		return nil, sealProblem(err)
	}
	info, err := photo.Check(plain)
	if err != nil {
		return OpenedBlob{Bytes: plain}, nil
	}
	return OpenedBlob{Media: info.Media, Bytes: plain}, nil
}
