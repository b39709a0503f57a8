package signal

import (
	"encoding/hex"
	"encoding/json"
	"time"
)

// Wire strings hold single Windows-1252 bytes, JSON holds UTF-8: these forms translate, and
// any byte survives the way there and back.

type fieldJSON struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

type frameJSON struct {
	ID        string      `json:"id"`
	Encrypted bool        `json:"encrypted,omitempty"`
	Sequence  int         `json:"sequence"`
	Receiver  string      `json:"receiver,omitempty"`
	Prefix    string      `json:"prefix,omitempty"`
	Account   string      `json:"account,omitempty"`
	Data      string      `json:"data"`
	Fields    []fieldJSON `json:"fields,omitempty"`
	Timestamp string      `json:"timestamp,omitempty"`
}

// MarshalJSON writes id, encrypted, sequence, receiver, prefix, account, data, fields (name,
// text) and timestamp, text in UTF-8.
func (f Frame) MarshalJSON() ([]byte, error) {
	j := frameJSON{
		ID: f.ID, Encrypted: f.Encrypted, Sequence: f.Sequence, Receiver: f.Receiver, Prefix: f.Prefix,
		Account: f.Account, Data: DecodeText(f.Data), Timestamp: DecodeText(f.Timestamp),
	}
	for _, x := range f.Fields {
		j.Fields = append(j.Fields, fieldJSON{DecodeText(x.Name), DecodeText(x.Value)})
	}
	return json.Marshal(j)
}

// UnmarshalJSON reads what MarshalJSON writes. A character that can not be sent is an error
// matching [ErrSyntax]; whether the frame can be sent at all, Encode tells.
func (f *Frame) UnmarshalJSON(data []byte) error {
	var j frameJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return err
	}
	got := Frame{ID: j.ID, Encrypted: j.Encrypted, Sequence: j.Sequence, Receiver: j.Receiver, Prefix: j.Prefix, Account: j.Account}
	var err error
	if got.Data, err = EncodeText(j.Data); err != nil {
		return err
	}
	if got.Timestamp, err = EncodeText(j.Timestamp); err != nil {
		return err
	}
	for _, x := range j.Fields {
		var field Field
		if field.Name, err = EncodeText(x.Name); err != nil {
			return err
		}
		if field.Value, err = EncodeText(x.Text); err != nil {
			return err
		}
		got.Fields = append(got.Fields, field)
	}
	*f = got
	return nil
}

// MarshalJSON writes raw (hex), frame, encrypted, events, fault with its offset and element,
// proposed, transport, remote, at and receiver.
func (r Received) MarshalJSON() ([]byte, error) {
	j := struct {
		Raw       string     `json:"raw"`
		Frame     *Frame     `json:"frame,omitempty"`
		Encrypted bool       `json:"encrypted,omitempty"`
		Events    []Event    `json:"events"`
		Fault     *faultJSON `json:"fault,omitempty"`
		Proposed  Verdict    `json:"proposed"`
		Transport string     `json:"transport,omitempty"`
		Remote    string     `json:"remote,omitempty"`
		At        *time.Time `json:"at,omitempty"`
		Receiver  string     `json:"receiver,omitempty"`
	}{
		Raw: hex.EncodeToString(r.Raw), Encrypted: r.Encrypted, Events: r.Events, Fault: faultOf(r.Err),
		Proposed: r.Proposed, Transport: r.Transport, Remote: r.Remote, Receiver: r.Receiver,
	}
	if r.Frame.ID != "" {
		j.Frame = &r.Frame
	}
	if j.Events == nil {
		j.Events = []Event{}
	}
	if !r.At.IsZero() {
		j.At = &r.At
	}
	return json.Marshal(j)
}

type faultJSON struct {
	Offset  int    `json:"offset"`
	Element string `json:"element"`
	Cause   string `json:"cause"`
	Got     string `json:"got,omitempty"`
	Want    string `json:"want,omitempty"`
	Say     string `json:"say"`
}

func faultOf(err error) *faultJSON {
	fe, ok := err.(*FrameError)
	if !ok {
		return nil
	}
	return &faultJSON{Offset: fe.Offset, Element: fe.Element, Cause: Cause(fe), Got: DecodeText(fe.Got), Want: fe.Want.String(), Say: DecodeText(fe.Error())}
}

// MarshalJSON writes offset, element, cause, got, want, and say: the whole as a sentence.
func (e *FrameError) MarshalJSON() ([]byte, error) { return json.Marshal(faultOf(e)) }
