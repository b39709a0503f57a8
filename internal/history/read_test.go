package history

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"proofbell/signal"
	"proofbell/site"
)

func toronto(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/Toronto")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// brief writes events so that a test can be read: time in UTC, what, where.
func brief(r *Reading) string {
	var b strings.Builder
	for _, e := range r.Events {
		fmt.Fprintf(&b, "%d %s %s %s", e.Line, e.At.Format("2006-01-02T15:04:05"), e.Kind, e.Family)
		if e.Code != "" {
			fmt.Fprintf(&b, " %s", e.Code)
		}
		for _, part := range [][2]string{{"z", e.Zone}, {"a", e.Area}, {"#", e.Account}, {"p", e.Path}} {
			if part[1] != "" {
				fmt.Fprintf(&b, " %s%s", part[0], part[1])
			}
		}
		if e.SameAs != 0 {
			fmt.Fprintf(&b, " =%d", e.SameAs)
		}
		if e.Doubt {
			b.WriteString(" ?")
		}
		b.WriteString("\n")
	}
	return b.String()
}

func TestRead(t *testing.T) {
	zone := toronto(t)
	for _, c := range []struct {
		name, text, want string
		unread           string
		columns          *site.HistoryColumns
	}{
		{
			name: "headings, Contact ID, ISO dates; summer time is four hours behind, winter five",
			text: "Date;Time;Event code;Zone;Area\n2026-09-15;14:02:31;E111;011;1\n2026-09-15;14:03:00;R111;011;1\n2026-12-01;09:00:00;1602;000;0\n",
			want: "2 2026-09-15T18:02:31 alarm fire 111 z011 a1\n3 2026-09-15T18:03:00 restore fire 111 z011 a1\n4 2026-12-01T14:00:00 test tests 602 z000 a0\n",
		},
		{
			name: "no headings, newest first, two-digit years with dots, a mark at the beginning",
			text: "\xef\xbb\xbf16.09.26 07:30,3401,4,4816\n15.09.26 22:10,1131,3,4816\n15.09.26 22:09,3401,2,4816\n",
			want: "3 2026-09-16T02:09:00 close people 401 z2 #4816\n2 2026-09-16T02:10:00 alarm burglary 131 z3 #4816\n1 2026-09-16T11:30:00 close people 401 z4 #4816\n",
		},
		{
			name: "month first is told by a 15; am and pm; a quoted cell with separator and quotation mark",
			text: "When,Code,Zone,Remark\n09/15/2026 2:02 PM,BA,3,\"said \"\"none\"\", then left\"\n09/16/2026 12:05 AM,BR,3,\n",
			want: "2 2026-09-15T18:02:00 alarm burglary BA z3\n3 2026-09-16T04:05:00 restore burglary BR z3\n",
		},
		{
			name: "words, German, tab",
			text: "Datum\tUhrzeit\tMeldung\tMeldergruppe\n15.09.2026\t14:02\tRauch Alarm\t11\n15.09.2026\t14:09\tRauch Alarm Rückstellung\t11\n15.09.2026\t15:00\tNetzausfall\t\n15.09.2026\t15:30\tSabotage Deckel\t7\n",
			want: "2 2026-09-15T18:02:00 alarm fire z11\n3 2026-09-15T18:09:00 restore fire z11\n4 2026-09-15T19:00:00 mains-lost system\n5 2026-09-15T19:30:00 tamper system z7\n",
		},
		{
			name:   "pasted lines of several manners",
			text:   "Report of 3 events\n2026-09-15 14:02:31 E111 zone 11 area 1\n15 Sep 2026 14:03 R111 Zone 011 Area 1\n2026-09-15 14:04 [#4816|1131 01 003]\nno time here\n",
			want:   "2 2026-09-15T18:02:31 alarm fire 111 z11 a1\n3 2026-09-15T18:03:00 restore fire 111 z011 a1\n4 2026-09-15T18:04:00 alarm burglary 131 z003 a01 #4816\n",
			unread: "1 no date was found: it is kept in this list only\n5 no date was found: it is kept in this list only\n",
		},
		{
			name:   "what can not be read is listed, what is unknown is kept",
			text:   "Cawder Reach Monitoring\nDate,Time,Code,Zone\n2026-09-15,14:02,E111,11\n2026-02-30,14:03,E111,11\nyesterday,14:03,E111,11\n2026-09-15,,E111,11\n2026-09-15,15:00,,\n2026-09-15,16:00,E999,5\n",
			want:   "3 2026-09-15T18:02:00 alarm fire 111 z11\n8 2026-09-15T20:00:00 unknown  999 z5\n",
			unread: "1 stands above the first event, or is a heading once more\n4 the date is on no calendar in the order in which the others are written\n5 no date was found: it is kept in this list only\n6 a date without a time: give the column of the time\n7 nothing says what happened: give the column of the code or the event\n",
		},
		{
			name: "one event by two paths, one path twice; a swinging zone is no copy",
			text: "Date,Time,Code,Zone,Path\n2026-09-15,14:00:00,E111,11,main\n2026-09-15,14:00:40,E111,11,mobile\n2026-09-15,15:00:00,E131,3,main\n2026-09-15,15:00:04,E131,3,main\n2026-09-15,16:00:00,E131,3,main\n2026-09-15,16:00:02,R131,3,main\n2026-09-15,16:00:05,E131,3,main\n",
			want: "2 2026-09-15T18:00:00 alarm fire 111 z11 pmain\n3 2026-09-15T18:00:40 alarm fire 111 z11 pmobile =2\n4 2026-09-15T19:00:00 alarm burglary 131 z3 pmain\n5 2026-09-15T19:00:04 alarm burglary 131 z3 pmain =4\n" +
				"6 2026-09-15T20:00:00 alarm burglary 131 z3 pmain\n7 2026-09-15T20:00:02 restore burglary 131 z3 pmain\n8 2026-09-15T20:00:05 alarm burglary 131 z3 pmain\n",
		},
		{
			name: "the hour that comes twice, told by the order of the lines; the hour that never was",
			text: "Date,Time,Code,Zone\n2026-11-01,00:59:00,E602,0\n2026-11-01,01:10:00,E602,0\n2026-11-01,01:50:00,E602,0\n2026-11-01,01:10:00,E131,3\n2027-03-14,02:30:00,E602,0\n",
			// Clocks go from EDT (UTC-4) to EST (UTC-5) on 2026-11-01 at 02:00; the second 01:10 is 06:10 UTC.
			want: "2 2026-11-01T04:59:00 test tests 602 z0\n3 2026-11-01T05:10:00 test tests 602 z0\n4 2026-11-01T05:50:00 test tests 602 z0\n5 2026-11-01T06:10:00 alarm burglary 131 z3\n6 2027-03-14T07:30:00 test tests 602 z0\n",
		},
		{
			name:    "columns that were kept, in a file with another order, found by heading",
			text:    "Wo;Was;Wann\n11;E111;2026-09-15 14:02\n",
			columns: &site.HistoryColumns{Between: "semicolon", Header: true, Names: []string{"Wann", "Was", "Wo"}, Holds: []string{"date-time", "code", "zone"}},
			want:    "2 2026-09-15T18:02:00 alarm fire 111 z11\n",
		},
		{
			name:    "a year that no date names, across New Year, newest first",
			text:    "02.01. 08:00;E602;0\n31.12. 23:00;E131;3\n",
			columns: &site.HistoryColumns{Year: 2027},
			want:    "2 2027-01-01T04:00:00 alarm burglary 131 z3\n1 2027-01-02T13:00:00 test tests 602 z0\n",
		},
		{
			name: "a panel that lost its date: kept, marked",
			text: "2026-09-14 10:00,E602,0\n2026-09-15 10:00,E602,0\n2000-01-01 00:03,E305,0\n2026-09-16 10:00,E602,0\n2026-09-17 10:00,E602,0\n2026-09-18 10:00,E602,0\n2026-09-19 10:00,E602,0\n2026-09-20 10:00,E602,0\n2026-09-21 10:00,E602,0\n2026-09-22 10:00,E602,0\n",
			want: "3 2000-01-01T05:03:00 system system 305 z0 ?\n1 2026-09-14T14:00:00 test tests 602 z0\n2 2026-09-15T14:00:00 test tests 602 z0\n4 2026-09-16T14:00:00 test tests 602 z0\n5 2026-09-17T14:00:00 test tests 602 z0\n6 2026-09-18T14:00:00 test tests 602 z0\n7 2026-09-19T14:00:00 test tests 602 z0\n8 2026-09-20T14:00:00 test tests 602 z0\n9 2026-09-21T14:00:00 test tests 602 z0\n10 2026-09-22T14:00:00 test tests 602 z0\n",
		},
		{
			name: "a quotation mark that never closes does not swallow the file; CR LF; offsets from UTC",
			text: "2026-09-15T14:02:00Z,E131,3,12\" pipe\r\n2026-09-15T14:03:00+02:00,R131,3,\"open\r\n",
			want: "2 2026-09-15T12:03:00 restore burglary 131 z3\n1 2026-09-15T14:02:00 alarm burglary 131 z3\n",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Read([]byte(c.text), Options{Zone: zone, Columns: c.columns})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Questions) > 0 {
				t.Fatalf("asks: %+v", r.Questions)
			}
			if diff := cmp.Diff(c.want, brief(r)); diff != "" {
				t.Errorf("events (-want +got):\n%s\ncolumns %+v", diff, r.Columns)
			}
			unread := ""
			for _, u := range r.Unreadable {
				unread += fmt.Sprintf("%d %s\n", u.Line, u.Why)
			}
			if diff := cmp.Diff(c.unread, unread); diff != "" {
				t.Errorf("unreadable (-want +got):\n%s", diff)
			}
			if r.Lines != len(r.Events)+r.Unread {
				t.Errorf("%d lines, %d events and %d that are not: some were dropped", r.Lines, len(r.Events), r.Unread)
			}
		})
	}
}

// A date that can be read in two ways is asked, unless something tells.
func TestAsksTheOrderOfDates(t *testing.T) {
	text := "05/06/2026 10:00,E131,3\n05/06/2026 11:00,R131,3\n"
	at := func(opt Options) string {
		t.Helper()
		r, err := Read([]byte(text), opt)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Questions) > 0 {
			if len(r.Events) > 0 {
				t.Error("events in spite of a question")
			}
			return "asks " + r.Questions[0].Of
		}
		return r.Events[0].At.Format(time.DateOnly)
	}
	day := func(s string) time.Time { d, _ := time.Parse(time.DateOnly, s); return d }
	for _, c := range []struct {
		name string
		opt  Options
		want string
	}{
		{"nothing tells", Options{}, "asks dates"},
		{"said by a person", Options{Columns: &site.HistoryColumns{Dates: "month-day-year"}}, "2026-05-06"},
		{"one of them is still to come", Options{Now: day("2026-05-20")}, "2026-05-06"},
		{"the day of a run", Options{Near: day("2026-06-05")}, "2026-06-05"},
	} {
		if got := at(c.opt); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	// 1 to 12 February, March and April, in order: read month first they are in order, day first they go back twice, by eleven months.
	var b strings.Builder
	for _, m := range []int{2, 3, 4} {
		for d := 1; d <= 12; d++ {
			fmt.Fprintf(&b, "%02d/%02d/2026 10:00,E602,0\n", m, d)
		}
	}
	text = b.String()
	if got := at(Options{}); got != "2026-02-01" {
		t.Errorf("the order of the lines: %s", got)
	}
	text = "05/06 10:00,E131,3\n06/06 11:00,R131,3\n"
	if got := at(Options{Columns: &site.HistoryColumns{Dates: "day-month-year"}}); got != "asks year" {
		t.Errorf("no year: %s", got)
	}
}

func TestTwoClocks(t *testing.T) {
	var b strings.Builder
	b.WriteString("Received,Panel time,Code,Zone\n")
	begin := time.Date(2026, 9, 15, 8, 0, 0, 0, time.UTC)
	for i := range 40 {
		at := begin.Add(time.Duration(i) * 7 * time.Hour)
		ahead := 92 * time.Second
		if i == 20 {
			ahead += time.Hour
		}
		fmt.Fprintf(&b, "%s,%s,E602,0\n", at.Format("2006-01-02 15:04:05"), at.Add(ahead).Format("2006-01-02 15:04:05"))
	}
	r, err := Read([]byte(b.String()), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if c := r.Clock; c.Both != 40 || c.AheadSecs != 92 || c.AheadLate != 1 || c.AheadRange != 0 {
		t.Errorf("clock %+v: the panel is 92 s ahead, once an hour more", c)
	}
}

func TestMeanings(t *testing.T) {
	for _, c := range []struct {
		code, text, qualifier string
		kind                  signal.Kind
		q                     signal.Qualifier
	}{
		{"111", "", "R", signal.KindRestore, signal.Restore},
		{"E401", "", "", signal.KindOpen, signal.Opening},
		{"401", "", "3", signal.KindClose, signal.Closing},
		{"384", "battery restored", "", signal.KindBatteryRestore, signal.Restore},
		{"", "Low battery zone", "", signal.KindBatteryLow, signal.New},
		{"", "System battery low", "", signal.KindPower, signal.New},
		{"", "AC fail", "", signal.KindMainsLost, signal.New},
		{"", "AC restored", "", signal.KindMainsRestore, signal.Restore},
		{"", "Funküberwachung Melder", "", signal.KindSupervisionLost, signal.New},
		{"", "Unscharf durch Benutzer", "", signal.KindOpen, signal.Opening},
		{"", "Scharf", "", signal.KindClose, signal.Closing},
		{"", "entirely new words", "", signal.KindUnknown, signal.New},
		{"TR", "", "", signal.KindTamperRestore, signal.Restore},
		{"CL", "", "", signal.KindClose, signal.Closing},
	} {
		got := tell(c.code, c.text, c.qualifier).what
		if got.Kind != c.kind || got.Qualifier != c.q {
			t.Errorf("%q %q %q: %s, %s; want %s, %s", c.code, c.text, c.qualifier, got.Kind, got.Qualifier, c.kind, c.q)
		}
	}
}

func TestRefused(t *testing.T) {
	var limit *LimitError
	var columns *ColumnsError
	if _, err := Read(nil, Options{}); !errors.Is(err, ErrEmpty) {
		t.Errorf("nothing: %v", err)
	}
	if _, err := Read([]byte(strings.Repeat("\n", MaxLines)), Options{}); !errors.As(err, &limit) {
		t.Errorf("too many lines: %v", err)
	}
	for name, c := range map[string]site.HistoryColumns{
		"no date":          {Holds: []string{"code", "zone"}},
		"no event":         {Holds: []string{"date-time", "zone"}},
		"two dates":        {Holds: []string{"date", "date", "code"}},
		"unknown":          {Holds: []string{"date", "weather"}},
		"unknown order":    {Dates: "day-day"},
		"unknown zone":     {TimeZone: "Sallow Falls"},
		"unknown between":  {Between: "colon"},
		"impossible years": {Year: 26},
	} {
		if _, err := Read([]byte("2026-09-15 14:02,E111,11\n"), Options{Columns: &c}); !errors.As(err, &columns) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever the bytes: no panic, every line is an event or listed, and reading again with the columns that were found
// gives the same.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"Date;Time;Event code;Zone\n2026-09-15;14:02:31;E111;011\n", "05/06/26 10:00 PM\tBA\t3\n", "2026-09-15 14:04 [#4816|1131 01 003]\n",
		"15.09. 22:10|Sabotage|7\n", "\xff\xfe1\x004\x00", "\"a\"\"b\n\",2026-01-01,E1\n", "Sep 15 14:02 fire zone 3\n", "20260915 1402\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Read(data, Options{Columns: &site.HistoryColumns{Year: 2026}})
		if err != nil || len(r.Questions) > 0 {
			return
		}
		if r.Lines != len(r.Events)+r.Unread {
			t.Fatalf("%d lines, %d events, %d unread", r.Lines, len(r.Events), r.Unread)
		}
		if d := Diagnose(r, nil, Scope{}); d.Say == "" || d.Events+d.OnTest+d.Others > len(r.Events) {
			t.Fatalf("diagnosis %+v of %d events", d, len(r.Events))
		}
		for _, e := range r.Events {
			if e.What == nil || e.Line < 1 || e.At.Year() < 1969 || e.At.Year() > 2201 {
				t.Fatalf("event %+v", e)
			}
		}
		again, err := Read(data, Options{Columns: &r.Columns})
		var bad *ColumnsError
		if errors.As(err, &bad) { // found columns may lack a date or an event: then nothing was read
			if len(r.Events) > 0 {
				t.Fatalf("found columns are refused: %v", err)
			}
			return
		}
		if err != nil || len(again.Events) != len(r.Events) {
			t.Fatalf("again: %v, %d events, not %d", err, len(again.Events), len(r.Events))
		}
	})
}
