package signal_test

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"time"

	"proofbell/signal"
)

func ExampleParseFrame() {
	raw := []byte("\n27D0003B\"ADM-CID\"0003L0#1234[#1234|1110 01 005]_14:05:09,01-15-2026\r")
	frame, err := signal.ParseFrame(raw)
	if err != nil {
		fmt.Println(err)
		return
	}
	events, err := frame.Events()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range events {
		fmt.Println(e.Account, e.Qualifier, e.Code, e.Words, e.NumberIs, e.Number, "area", e.Area)
	}
	fmt.Printf("%q\n", frame.Ack().Append(nil))
	// Output:
	// 1234 new 110 fire zone 5 area 1
	// "\nD1600012\"ACK\"0003L0#1234[]\r"
}

func ExampleFrameError() {
	_, err := signal.ParseFrame([]byte("\n27D0003B\"ADM-CID\"0003L0#1243[#1234|1110 01 005]_14:05:09,01-15-2026\r"))
	fmt.Println(err)
	fmt.Println(errors.Is(err, signal.ErrCRC))
	// Output:
	// frame: crc at byte 1: checksum differs, it says "27D0", expected 0585
	// true
}

func ExampleSplitter() {
	var split signal.Splitter
	for _, part := range []string{"\n1EF20013\"NULL\"00", "00L0#1234[]\r\nDE900", "012\"ACK\"0000L0#1234[]\r"} {
		split.Write([]byte(part))
		for piece, ok := split.Next(); ok; piece, ok = split.Next() {
			fmt.Printf("%q\n", piece.Raw)
		}
	}
	// Output:
	// "\n1EF20013\"NULL\"0000L0#1234[]\r"
	// "\nDE900012\"ACK\"0000L0#1234[]\r"
}

func ExampleFrame_Encode() {
	payload, err := signal.NewContactID("4816", signal.New, "602", 0, 0) // a periodic test
	if err != nil {
		fmt.Println(err)
		return
	}
	raw, err := signal.Frame{ID: signal.IDContactID, Sequence: 1, Account: "4816", Data: payload.String()}.Encode()
	fmt.Printf("%q %v\n", raw, err)
	// Output:
	// "\nC1820027\"ADM-CID\"0001L0#4816[#4816|1602 00 000]\r" <nil>
}

// A receiver for one connection, as small as can be: it answers what Judge proposes. One that is used has to store the
// event before it answers, and has to answer only while somebody watches.
func ExamplePolicy_Judge() {
	key, err := signal.ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		fmt.Println(err)
		return
	}
	policy := signal.Policy{Secret: func(prefix, account string) signal.Secret { return signal.Secret{Key: key} }}

	panel, receiver := net.Pipe()
	defer panel.Close()
	go func() {
		defer receiver.Close()
		var split signal.Splitter
		buf := make([]byte, signal.MaxFrame)
		for {
			n, err := receiver.Read(buf)
			if err != nil {
				return
			}
			split.Write(buf[:n])
			for piece, ok := split.Next(); ok; piece, ok = split.Next() {
				if piece.Err != nil {
					continue // bytes that belong to no frame
				}
				r := policy.Judge(piece.Raw, time.Now())
				reply, err := r.Frame.Ack(), error(nil)
				switch {
				case r.Proposed == signal.Acknowledge && r.Encrypted:
					pad := make([]byte, signal.PadSize)
					rand.Read(pad)
					reply, err = r.Frame.AckEncrypted(key, signal.PadFrom(pad), time.Now())
				case r.Proposed == signal.CannotProcess:
					reply = r.Frame.Duh()
				case r.Proposed == signal.RefuseTime:
					reply = signal.Nak(time.Now())
				case r.Proposed == signal.StaySilent:
					continue
				}
				if err == nil {
					receiver.Write(reply.Append(nil))
				}
			}
		}
	}()

	frame := signal.Frame{ID: signal.IDContactID, Sequence: 1, Account: "4816", Data: "#4816|1601 00 000"}
	reply, err := signal.Exchange(context.Background(), panel, frame)
	fmt.Println(reply.ID, reply.Account, err)
	reply, err = signal.Exchange(context.Background(), panel, signal.Frame{ID: "XYZ", Sequence: 2, Account: "4816"})
	fmt.Println(reply.ID, reply.Account, err)
	// Output:
	// ACK 4816 <nil>
	// DUH 4816 <nil>
}

// Every attempt is encrypted anew, and only an encrypted reply counts. Sender tries a frame until it is acknowledged.
func ExampleSender() {
	key, err := signal.ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		fmt.Println(err)
		return
	}
	receiver, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer receiver.Close()
	go answerOne(receiver, key)

	sender := signal.Sender{
		Dial: func(ctx context.Context) (signal.Conn, error) {
			var d net.Dialer
			return d.DialContext(ctx, "tcp", receiver.Addr().String())
		},
		Key: key, Now: time.Now, Random: rand.Reader,
	}
	receipt, err := sender.Send(context.Background(), signal.Frame{ID: signal.IDSIA, Sequence: 1, Account: "4816", Data: "#4816|Nri1/FA009"})
	if errors.Is(err, signal.ErrNoReply) {
		fmt.Println("silence after", receipt.Attempts, "attempts: is the account on test?")
	}
	fmt.Println(receipt.Reply.ID, receipt.Reply.Account, receipt.Attempts, err)
	// Output: ACK 4816 1 <nil>
}

// answerOne acknowledges one encrypted frame.
func answerOne(l net.Listener, key signal.Key) {
	conn, err := l.Accept()
	if err != nil {
		return
	}
	defer conn.Close()
	buf := make([]byte, signal.MaxFrame)
	n, _ := conn.Read(buf) // a frame this short arrives in one piece here; use a Splitter elsewhere
	r := signal.JudgeWith(buf[:n], func(string, string) signal.Secret { return signal.Secret{Key: key} }, time.Now())
	pad := make([]byte, signal.PadSize)
	rand.Read(pad)
	if ack, err := r.Frame.AckEncrypted(key, signal.PadFrom(pad), time.Now()); err == nil && r.Proposed == signal.Acknowledge {
		conn.Write(ack.Append(nil))
	}
}

// The same frame to the second receiver, when the first does not answer.
func ExampleSendInOrder() {
	to := func(addr string) signal.Sender {
		return signal.Sender{Attempts: 2, Dial: func(ctx context.Context) (signal.Conn, error) {
			var d net.Dialer
			return d.DialContext(ctx, "tcp", addr)
		}}
	}
	receipt, err := signal.SendInOrder(context.Background(), signal.Frame{ID: signal.IDNull, Account: "4816"}, to("127.0.0.1:5090"), to("127.0.0.1:5091"))
	if err == nil {
		fmt.Println("acknowledged by receiver", receipt.To+1)
	}
}

// An encrypted fire alarm of zone 5.
func ExampleFrame_Decrypt() {
	key, err := signal.ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		fmt.Println(err)
		return
	}
	frame, err := signal.ParseFrame([]byte("\nACF00076\"*SIA-DCS\"0006L0#1234[99C59FE7741C3740ED209ED711C14129FD5C82DA2B0D5F18037918C151E98271FC595DB2C1EC81A9B066787A65A7F07B\r"))
	if err != nil {
		fmt.Println(err)
		return
	}
	clear, err := frame.Decrypt(key)
	fmt.Println(clear.Data, clear.Timestamp, err)
	safe, err := clear.Encrypt(key, []byte("kQ7w2Zp9sR")) // the pad of the example; random bytes elsewhere
	fmt.Println(safe.Data == frame.Data, err)
	fmt.Println(key)
	// Output:
	// #1234|Nri1/FA005 14:05:09,01-15-2026 <nil>
	// true <nil>
	// ****
}

func ExampleFrame_MarshalJSON() {
	r := signal.Judge([]byte("\nFD670026\"SIA-DCS\"0001L0#1234[#1234|Nri1/FA005]\r"))
	frame, _ := json.Marshal(r.Frame)
	events, _ := json.MarshalIndent(r.Events, "", " ")
	fmt.Printf("%s\n%s\n", frame, events)
	// Output:
	// {"id":"SIA-DCS","sequence":1,"prefix":"L0","account":"1234","data":"#1234|Nri1/FA005"}
	// [
	//  {
	//   "account": "1234",
	//   "format": "sia",
	//   "qualifier": "new",
	//   "code": "FA",
	//   "kind": "alarm",
	//   "family": "fire",
	//   "words": "fire alarm",
	//   "number": 5,
	//   "numberIs": "zone",
	//   "address": "005",
	//   "area": 1,
	//   "modifiers": "ri1",
	//   "raw": "#1234|Nri1/FA005"
	//  }
	// ]
}

// What a technician is shown of a frame whose sender writes the bytes of the checksum in the wrong order.
func ExampleExplain() {
	for _, s := range signal.Explain([]byte("\n90DE0012\"ACK\"0000L0#1234[]\r")) {
		fmt.Printf("%d-%d %s: %s\n", s.From, s.To, s.Element, s.Say)
		if s.Wrong != nil {
			fmt.Println("  !", s.Wrong.Phrase())
		}
		if !s.Hint.IsZero() {
			fmt.Println("  ?", s.Hint)
		}
	}
	// Output:
	// 0-1 start: line feed: a frame begins
	// 1-5 crc: checksum: 90DE came, DE90 is computed from the bytes
	//   ! checksum at byte 1: does not match the bytes. It says "90DE", expected: DE90
	//   ? its two bytes are swapped: the high one comes first
	// 5-9 length: length of the body in hexadecimal: 0012 came, 0012 is counted, 18 bytes
	// 9-14 id: reply: received
	// 14-18 sequence: message number 0, as supervision and NAK have it
	// 18-20 prefix: account prefix
	// 20-25 account: account 1234
	// 25-26 data: the data begin
	// 26-27 data: the data end
	// 27-28 end: carriage return: the frame ends
}

func ExampleField_Detail() {
	frame, err := signal.ParseFrame([]byte("\nC60F0040\"ADM-CID\"0001L0#4816[#4816|1111 01 009][X009E30.0][LK\xFCche, oben]\r"))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range frame.Fields {
		d := f.Detail()
		fmt.Println(d.Words, d.Text, d.Degrees)
	}
	// Output:
	// longitude 009E30.0 9.5
	// location on site Küche, oben 0
}

// Somebody has to be heard from every hour, give or take six minutes.
func ExampleSupervisor() {
	var links signal.Supervisor
	began := time.Date(2026, time.September, 15, 9, 0, 0, 0, time.UTC)
	links.Expect("4816", time.Hour, 6*time.Minute, began)
	links.Heard("4816", began.Add(20*time.Minute)) // any sound message of the account
	for _, minute := range []int{80, 90} {
		for _, l := range links.Look(began.Add(time.Duration(minute) * time.Minute)) {
			fmt.Println(l.Account, "due", l.Due.Format("15:04"), "lapsed", l.Lapsed)
		}
	}
	// Output:
	// 4816 due 10:26 lapsed false
	// 4816 due 10:26 lapsed true
}

func ExampleExpectedFor() {
	smoke, _ := signal.ExpectedFor(signal.SIADCS, "smoke")
	fmt.Println(smoke.Alarm.Begin, smoke.Alarm.End, smoke.Trouble.Begin, smoke.Trouble.End)
	// Output: FA FH FT FJ
}
