package signal

import (
	"encoding/json"
	"errors"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

func TestFrameJSONBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFrame(t)
		js, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		var back Frame
		if err := json.Unmarshal(js, &back); err != nil || !reflect.DeepEqual(back, f) {
			t.Fatalf("%+v\nas %s came back as\n%+v, %v", f, js, back, err)
		}
	})
}

func TestJSONForms(t *testing.T) {
	f := Frame{ID: IDSIA, Sequence: 7, Prefix: "L0", Account: "4816", Data: "#4816|NFA009", Fields: []Field{{"I", "K\xFCche"}}}
	js, err := json.Marshal(f)
	if want := `{"id":"SIA-DCS","sequence":7,"prefix":"L0","account":"4816","data":"#4816|NFA009","fields":[{"name":"I","text":"Küche"}]}`; err != nil || string(js) != want {
		t.Errorf("%s, %v", js, err)
	}
	js, err = json.Marshal(Judge(f.Append(nil)).Events)
	if want := `[{"account":"4816","format":"sia","qualifier":"new","code":"FA","kind":"alarm","family":"fire","words":"fire alarm","number":9,"numberIs":"zone","address":"009","area":0,"raw":"#4816|NFA009"}]`; err != nil || string(js) != want {
		t.Errorf("%s, %v", js, err)
	}
	js, err = json.Marshal(Judge([]byte("\nFFFF0012\"ACK\"0000L0#1234[]\r")))
	if want := `{"raw":"0a46464646303031322241434b22303030304c3023313233345b5d0d","frame":{"id":"ACK","sequence":0,"prefix":"L0","account":"1234","data":""},"events":[],` +
		`"fault":{"offset":1,"element":"crc","cause":"checksum","got":"FFFF","want":"DE90","say":"frame: crc at byte 1: checksum differs, it says \"FFFF\", expected DE90"},"proposed":"silence"}`; err != nil || string(js) != want {
		t.Errorf("%s, %v", js, err)
	}
	var back Frame
	if err := json.Unmarshal([]byte(`{"id":"SIA-DCS","data":"Ж"}`), &back); !errors.Is(err, ErrSyntax) || back.ID != "" {
		t.Errorf("%+v, %v", back, err)
	}
}
