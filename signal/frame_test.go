package signal

import "testing"

func TestFirstWorkedFrame(t *testing.T) {
	raw := "\nFD670026\"SIA-DCS\"0001L0#1234[#1234|Nri1/FA005]\r"
	r := Judge([]byte(raw))
	if r.Err != nil {
		t.Fatal(r.Err)
	}
	if got := string(r.Frame.Append(nil)); got != raw {
		t.Errorf("came back as %q", got)
	}
	if got, want := string(r.Frame.Ack().Append(nil)), "\n1BC10012\"ACK\"0001L0#1234[]\r"; got != want {
		t.Errorf("reply %q, want %q", got, want)
	}
	t.Logf("%+v", r.Events)
}
