package signal_test

import (
	"context"
	"errors"
	"fmt"
	"net"

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

// A sender tries a frame until it is acknowledged, as premises equipment does.
func ExampleSender() {
	sender := signal.Sender{
		Dial: func(ctx context.Context) (signal.Conn, error) {
			var d net.Dialer
			return d.DialContext(ctx, "tcp", "127.0.0.1:5090")
		},
	}
	receipt, err := sender.Send(context.Background(), signal.Frame{ID: signal.IDNull, Account: "4816"})
	if errors.Is(err, signal.ErrNoReply) {
		fmt.Println("silence after", receipt.Attempts, "attempts: is the account on test?")
	}
}

func ExampleExpectedFor() {
	smoke, _ := signal.ExpectedFor(signal.SIADCS, "smoke")
	fmt.Println(smoke.Alarm.Begin, smoke.Alarm.End, smoke.Trouble.Begin, smoke.Trouble.End)
	// Output: FA FH FT FJ
}
