package cli

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"
)

const somePin = "proofbell:01990000-0000-7000-8000-000000000000:27:abababababababababababababababababababababababababababababababab"

func TestThePinOfADocument(t *testing.T) {
	var workbook bytes.Buffer
	z := zip.NewWriter(&workbook)
	part, err := z.Create("xl/sharedStrings.xml")
	if err == nil {
		_, err = part.Write([]byte("<si><t>" + somePin + "</t></si>"))
	}
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	folded := "DESCRIPTION:" + somePin[:50] + "\r\n " + somePin[50:] + "\r\n"
	for name, raw := range map[string]string{"a PDF": "%PDF-1.3 /Keywords (" + somePin + ")", "a workbook": workbook.String(), "a calendar": folded} {
		pin := pinOf([]byte(raw))
		if pin != somePin {
			t.Errorf("%s: pin %q", name, pin)
		}
		if job, seq, hash, ok := readPin(pin); !ok || job != "01990000-0000-7000-8000-000000000000" || seq != 27 || hash.String() != strings.Repeat("ab", 32) {
			t.Errorf("%s: %s, %d, %s, %v", name, job, seq, hash, ok)
		}
	}
	if pin := pinOf([]byte("zone,label\n01,Door\n")); pin != "" {
		t.Errorf("a plain table has the pin %q", pin)
	}
}

func FuzzPinOf(f *testing.F) {
	f.Add([]byte(somePin))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		pin := pinOf(raw)
		if _, _, _, ok := readPin(pin); pin != "" && !ok {
			t.Errorf("pin %q can not be read", pin)
		}
	})
}
