package app_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/words"
	"proofbell/signal"
)

// observed hands a frame to the page as the receiver does.
func (h *house) observed(raw string, verdict signal.Verdict, secret func(prefix, account string) signal.Secret) {
	r := signal.JudgeWith([]byte(raw), secret, h.clock.now())
	r.At, r.Transport, r.Remote = h.clock.now(), "tcp", "127.0.0.1:1"
	h.Observe(app.Observed{Received: r, Verdict: verdict})
}

func (h *house) newest() *app.Lesson {
	h.t.Helper()
	rows, _ := h.Frames(0, 1, nil)
	if len(rows) == 0 {
		h.t.Fatal("no frame is held")
	}
	l, err := h.FrameLesson(rows[0].N, nil)
	h.must(err)
	return l
}

// told writes ranges as "element text|got>want|words", the bad ones with an exclamation mark.
func told(all []app.Range) string {
	var b strings.Builder
	for _, r := range all {
		if r.Bad {
			b.WriteString("! ")
		}
		fmt.Fprintf(&b, "%d-%d %s ", r.From, r.To, r.Element)
		for _, bit := range r.Text {
			b.WriteString(bit.Text)
			if bit.Byte != "" {
				b.WriteString("<" + bit.Byte + ">")
			}
		}
		if r.Got != "" {
			b.WriteString(" " + r.Got + ">" + r.Want)
		}
		if r.Words != "" {
			b.WriteString(" = " + r.Words)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// "worked: fire trouble with receiver, prefix, hardware address and time" and "worked: contact id fire, zone 5" of signal/testdata/frames.txt.
func TestAFrameIsExplainedRangeByRange(t *testing.T) {
	h := open(t)
	h.observed("\n3FB20050\"SIA-DCS\"0002R1L2A#ABC123[#ABC123|Nri1/FT005][M0123456789AB]_14:05:09,01-15-2026\r", signal.StaySilent, nil)
	l := h.newest()
	want := `0-1 start <0A>
1-5 crc 3FB2 3FB2>3FB2
5-9 length 0050 0050>0050
9-18 id "SIA-DCS" = SIA-DCS
18-22 sequence 0002
22-24 receiver R1
24-27 prefix L2A
27-34 account #ABC123
34-42 data-account [#ABC123 = ABC123
42-43 bar |
43-44 sia-function N = N
44-47 sia-modifier ri1 = ri
47-50 sia-code /FT = fire trouble
50-53 sia-address 005 = zone
53-54 data-end ]
54-69 field [M0123456789AB] = M
69-89 timestamp _14:05:09,01-15-2026 = 2026-01-15 14:05:09
89-90 end <0D>
`
	if got := told(l.Ranges); got != want {
		t.Errorf("explained\n%swant\n%s", got, want)
	}
	if l.State != app.FrameSilent || l.Silence != app.NoJob || l.Fault != nil || l.Right != nil || len(l.Events) != 1 || l.Events[0].Address != "005" || l.Events[0].Area != 1 {
		t.Errorf("%+v", l.FrameRow)
	}
	h.observed("\n27D0003B\"ADM-CID\"0003L0#1234[#1234|1110 01 005]_14:05:09,01-15-2026\r", signal.Acknowledge, nil)
	l = h.newest()
	for _, line := range []string{"cid-qualifier 1 = new\n", "cid-code 110 = fire\n", "cid-area  01 = 01\n", "cid-number  005 = zone\n"} {
		if got := told(l.Ranges); !strings.Contains(got, line) {
			t.Errorf("%q is missing in\n%s", line, got)
		}
	}
	if l.State != app.FrameAnswered {
		t.Errorf("%+v", l.FrameRow)
	}
}

// "worked: fire alarm zone 5, no time" of signal/testdata/frames.txt with its checksum, its length, its id and its payload broken: CRC of the mended frames as in the vectors.
func TestARejectedFrameSaysWhyAtWhichByteAndWhatARightOneIs(t *testing.T) {
	const right = "\nFD670026\"SIA-DCS\"0001L0#1234[#1234|Nri1/FA005]\r"
	checked := func(body string) string {
		return fmt.Sprintf("\n%04X%04X%s\r", signal.CRC([]byte(body)), len(body), body)
	}
	for _, tt := range []struct {
		name, raw, cause string
		offset           int
		bad              string
		mended           bool
	}{
		{"checksum", "\nFD680026" + right[9:], "checksum", 1, "! 1-5 crc FD68 FD68>FD67\n", true},
		{"length", "\nFD670027" + right[9:], "length", 5, "! 5-9 length 0027 0027>0026\n", true},
		{"small letters", "\nfd670026" + right[9:], "not hex", 1, "! 1-5 crc fd67 fd67>FD67\n", true},
		{"unknown id", checked(`"FOO-BAR"0001L0#1234[#1234|x]`), "unknown id", 10, `! 9-18 id "FOO-BAR" = FOO-BAR` + "\n", false},
		{"payload", checked(`"SIA-DCS"0001L0#1234[#1234|N1]`), "payload", 37, "! 37-38 data 1\n", false},
		{"head", checked(`"SIA-DCS"00x1L0#1234[]`), "syntax", 18, "! 18-32 sequence 00x1L0#1234[]<0D>\n", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			h.observed(tt.raw, signal.StaySilent, nil)
			l := h.newest()
			if l.Fault == nil || l.Fault.Cause != tt.cause || l.Fault.Offset != tt.offset {
				t.Fatalf("fault %+v, want %s at %d", l.Fault, tt.cause, tt.offset)
			}
			if got := told(l.Ranges); !strings.Contains(got, tt.bad) || strings.Count(got, "! ") != 1 {
				t.Errorf("want %q in\n%s", tt.bad, got)
			}
			if l.Right == nil || l.Right.Mended != tt.mended || strings.Contains(told(l.Right.Ranges), "! ") {
				t.Fatalf("right is %+v", l.Right)
			}
			if got := told(l.Right.Ranges); tt.mended && !strings.Contains(got, "crc FD67 FD67>FD67\n5-9 length 0026 0026>0026") {
				t.Errorf("mended is\n%s", got)
			} else if !strings.Contains(got, "account #1234\n") && tt.name != "head" {
				t.Errorf("the example is not for this account:\n%s", got)
			}
		})
	}
}

// "worked: fire alarm, 128 bits" of signal/testdata/encrypted.txt, which has its key and plaintext.
func TestAnEncryptedFrameIsExplainedInside(t *testing.T) {
	const worked = "\nACF00076\"*SIA-DCS\"0006L0#1234[99C59FE7741C3740ED209ED711C14129FD5C82DA2B0D5F18037918C151E98271FC595DB2C1EC81A9B066787A65A7F07B\r"
	h := open(t)
	with := func(text string) func(string, string) signal.Secret {
		key, err := signal.ParseKey(text)
		h.must(err)
		return func(string, string) signal.Secret { return signal.Secret{Key: key} }
	}
	h.observed(worked, signal.RefuseTime, with("0123456789abcdef0123456789abcdef"))
	l := h.newest()
	want := `0-10 pad 
10-11 bar |
11-16 data-account #1234 = 1234
16-17 bar |
17-18 sia-function N = N
18-21 sia-modifier ri1 = ri
21-24 sia-code /FA = fire alarm
24-27 sia-address 005 = zone
27-28 data-end ]
! 28-48 timestamp _14:05:09,01-15-2026 = 2026-01-15 14:05:09
`
	if got := told(l.Inside); got != want {
		t.Errorf("inside is\n%swant\n%s", got, want)
	}
	if l.Fault.Cause != "time stamp" || l.Right == nil || l.Right.Time != signal.FormatTimestamp(h.clock.now()) || l.ID != "*SIA-DCS" || len(l.Events) != 1 {
		t.Errorf("%+v, %+v", l.FrameRow, l.Right)
	}

	h.observed(worked, signal.CannotProcess, with("ffffffffffffffffffffffffffffffff"))
	l = h.newest()
	if l.Fault.Cause != "does not decrypt" || l.Inside != nil || l.Right != nil || l.State != app.FrameRefused || !strings.Contains(told(l.Ranges), "! 30-127 cipher [99C5") {
		t.Errorf("with another key: %+v\n%s", l.FrameRow, told(l.Ranges))
	}
}

// What may be a key or a code is not shown, in no form.
func TestFieldsThatMayHoldSecretsAreNotShown(t *testing.T) {
	h := open(t)
	body := `"NULL"0000L0#1234[][KSECRET][PSECRET][SMill]`
	h.observed(fmt.Sprintf("\n%04X%04X%s\r", signal.CRC([]byte(body)), len(body), body), signal.StaySilent, nil)
	h.observed("\n00000010"+body+"\r", signal.StaySilent, nil) // and where the frame is not read
	rows, _ := h.Frames(0, 10, nil)
	for _, row := range rows {
		l, err := h.FrameLesson(row.N, nil)
		h.must(err)
		all := told(l.Ranges)
		if l.Right != nil {
			all += told(l.Right.Ranges)
		}
		for _, r := range l.Ranges {
			all += " " + r.Hex
		}
		if strings.Contains(all, "SECRET") || strings.Contains(all, "53 45 43 52") || !strings.Contains(all, "[K******]") || !strings.Contains(all, "[SMill]") {
			t.Errorf("shown is\n%s", all)
		}
	}
}

// Bytes that can not be shown are shown as such, and no byte is left out.
func TestEveryByteIsThere(t *testing.T) {
	h := open(t)
	all := make([]byte, 256)
	for i := range all {
		all[i] = byte(i)
	}
	h.Observe(app.Observed{Received: signal.Received{Raw: all, Err: &signal.FrameError{Element: "start", Err: signal.ErrStart}}, Lost: 5000})
	l := h.newest()
	if l.State != app.FrameDamaged || l.Bytes != 5000 || len(l.Ranges) != 1 {
		t.Fatalf("%+v", l)
	}
	n := 0
	for _, bit := range l.Ranges[0].Text {
		n += len([]rune(bit.Text)) + len(bit.Byte)/2
	}
	if n != 256 || len(strings.Fields(l.Ranges[0].Hex)) != 256 {
		t.Errorf("%d bytes shown", n)
	}
}

func TestTheRingIsBounded(t *testing.T) {
	h := open(t)
	grown, stop := h.WatchFrames()
	defer stop()
	const check = "\n1EF20013\"NULL\"0000L0#1234[]\r"
	for range 600 {
		h.observed(check, signal.StaySilent, nil)
	}
	<-grown
	rows, missed := h.Frames(0, 1000, nil)
	if len(rows) != 500 || missed != 0 {
		t.Errorf("%d frames held, %d missed", len(rows), missed)
	}
	oldest := rows[len(rows)-1].N
	if _, missed = h.Frames(oldest-50, 1000, nil); missed != 49 {
		t.Errorf("behind one that is gone %d are missed, want 49", missed)
	}
	if rows, missed = h.Frames(oldest, 10, nil); len(rows) != 10 || missed != 489 || rows[0].N != oldest+499 {
		t.Errorf("%d listed, %d missed", len(rows), missed)
	}
	if rows, missed = h.Frames(rows[0].N, 10, nil); len(rows) != 0 || missed != 0 {
		t.Errorf("behind the newest: %d, %d", len(rows), missed)
	}
	if _, err := h.FrameLesson(oldest-1, nil); app.AsProblem(err).Code != app.NotFound {
		t.Errorf("a frame that is gone: %v", err)
	}
	for range 400 { // long ones
		h.Observe(app.Observed{Received: signal.Received{Raw: []byte("\n" + strings.Repeat("x", 4100)), Err: &signal.FrameError{Err: signal.ErrTooLong}}})
	}
	if rows, _ = h.Frames(0, 1000, nil); len(rows) > 1<<20/4101 || len(rows) < 200 {
		t.Errorf("%d long frames are held", len(rows))
	}
}

func TestAStrangersAccountThatIsOneSlipAway(t *testing.T) {
	h := open(t)
	job, other := h.job("4816"), h.job("70")
	watcher, stop := h.Watch(job)
	defer stop()
	elsewhere, stop := h.Watch(other)
	defer stop()
	for account, want := range map[string]string{"4861": "4816 true", "8416": "4816 true", "4826": "4816 false", "481": "4816 false", "48166": "4816 false", "9999": "", "71": "", "4618": ""} {
		body := fmt.Sprintf(`"NULL"0000L0#%s[]`, account)
		h.observed(fmt.Sprintf("\n%04X%04X%s\r", signal.CRC([]byte(body)), len(body), body), signal.StaySilent, nil)
		got := ""
		if near := h.newest().Near; near != nil {
			got = fmt.Sprint(near.Account, " ", near.Swapped)
			if f := <-watcher.Faults; f.Account != account || near.Job != job {
				t.Errorf("told is %+v", f)
			}
		}
		if got != want {
			t.Errorf("%s: near %q, want %q", account, got, want)
		}
	}
	if n := len(watcher.Faults) + len(elsewhere.Faults); n != 0 {
		t.Errorf("%d frames were told to those whom they do not concern", n)
	}
	h.observed("\n00000013\"NULL\"0000L0#9999[]\r", signal.StaySilent, nil)
	if (<-watcher.Faults).Fault.Cause != "checksum" || (<-elsewhere.Faults).Fault.Cause != "checksum" {
		t.Error("a damaged frame is told to all")
	}
}

func TestAccountsUnderTest(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.job("5000")
	if got := h.UnderTest(); len(got) != 0 {
		t.Errorf("with no run: %+v", got)
	}
	h.openRun(job, "4816", false)
	if got := h.UnderTest(); len(got) != 1 || got[0].Answered || got[0].Until != nil || got[0].Name == "" {
		t.Errorf("not yet on test: %+v", got)
	}
	h.onTest(job, "4816", time.Hour)
	if got := h.UnderTest(); len(got) != 1 || !got[0].Answered || !got[0].Until.Equal(h.clock.now().Add(time.Hour)) {
		t.Errorf("on test: %+v", got)
	}
	h.clock.pass(time.Hour)
	if got := h.UnderTest(); len(got) != 1 || got[0].Answered {
		t.Errorf("lapsed: %+v", got)
	}
	body := `"NULL"0000L0#4816[]`
	h.observed(fmt.Sprintf("\n%04X%04X%s\r", signal.CRC([]byte(body)), len(body), body), signal.StaySilent, nil)
	if l := h.newest(); l.Silence != app.NotOnTest || l.Job != job {
		t.Errorf("%+v", l.FrameRow)
	}
	// A practice run on the number of a job in earnest answers nothing, and that is why: it has a run.
	h.openRun(h.job("5001"), "5001", true)
	earnest := h.job("5001")
	h.act(earnest, evidence.KindEdit, book.EditBody{Patch: []byte(`{"practice":null}`)}, nil)
	body = `"NULL"0000L0#5001[]`
	h.observed(fmt.Sprintf("\n%04X%04X%s\r", signal.CRC([]byte(body)), len(body), body), signal.StaySilent, nil)
	if l := h.newest(); l.Silence != app.Beside || l.Job != earnest {
		t.Errorf("practice beside a job in earnest: %+v", l.FrameRow)
	}
}

// Whatever comes, the ranges follow each other and cover it, in English and in German.
func FuzzLesson(f *testing.F) {
	f.Add([]byte("\n3FB20050\"SIA-DCS\"0002R1L2A#ABC123[#ABC123|Nri1/FT005^text^|Amore][M0123456789AB]_14:05:09,01-15-2026\r"))
	f.Add([]byte("\n27D0003B\"ADM-CID\"0003L0#1234[#1234|1110 01 005]_14:05:09,01-15-2026\r"))
	f.Add([]byte("\x00\xff"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if len(raw) >= 10 { // a body that passes its checks gets further
			body := raw[9 : len(raw)-1]
			raw = append([]byte{}, fmt.Appendf([]byte{'\n'}, "%04X%04X%s\r", signal.CRC(body), len(body)&0xFFF, body)...)
		}
		for _, part := range [][]app.Range{app.Ranges(raw, nil), app.Ranges(raw, words.In("de"))} {
			at := 0
			for _, r := range part {
				if r.From != at || r.To < r.From || len(strings.Fields(r.Hex)) != r.To-r.From {
					t.Fatalf("%q: range %+v behind byte %d", raw, r, at)
				}
				at = r.To
			}
			if at != len(raw) {
				t.Fatalf("%q: explained up to %d", raw, at)
			}
		}
	})
}
