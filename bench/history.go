package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math/rand/v2"
	"time"

	"proofbell/internal/history"
)

var historyMillion = measure{
	name: "history", what: "1,000,000 events as CSV, read and diagnosed", budget: 3, unit: "s",
	run: func() (result, error) {
		const events = 1_000_000
		text := historyText(events)
		var read float64
		whole, err := best(3, func() error {
			from := time.Now()
			r, err := history.Read(text, history.Options{})
			if err != nil {
				return err
			}
			if len(r.Events) != events {
				return fmt.Errorf("%d events, want %d", len(r.Events), events)
			}
			read = time.Since(from).Seconds()
			if d := history.Diagnose(r, nil, history.Scope{}); d.Events < events*9/10 {
				return fmt.Errorf("%d events looked at, want nearly %d", d.Events, events)
			}
			return nil
		})
		if err != nil {
			return result{}, err
		}
		plain, err := best(3, func() error { return plainHistory(text) })
		return result{
			value: whole, baseline: plain, plain: "encoding/csv with time.Parse on each line, no more",
			note: fmt.Sprintf("%.1f MB; reading alone %.2g s", float64(len(text))/1e6, read),
		}, err
	},
}

// historyText writes a history of a building with 60 zones: openings and closings, alarms with restores, tests.
func historyText(events int) []byte {
	r := rand.New(rand.NewPCG(4816, 1))
	codes := []string{"E401", "R401", "E131", "R131", "E602", "E381", "R381", "E111", "R111", "E384", "E301", "R301"}
	var b bytes.Buffer
	b.WriteString("Received,Event code,Zone,Area,Account,Path\n")
	at := time.Date(2025, 9, 15, 0, 0, 0, 0, time.UTC)
	for range events {
		at = at.Add(time.Duration(1+r.IntN(60)) * time.Second)
		path := "main"
		if r.IntN(20) == 0 {
			path = "mobile"
		}
		fmt.Fprintf(&b, "%s,%s,%03d,%d,4816,%s\n", at.Format("2006-01-02 15:04:05"), codes[r.IntN(len(codes))], 1+r.IntN(60), 1+r.IntN(3), path)
	}
	return b.Bytes()
}

func plainHistory(text []byte) error {
	r := csv.NewReader(bytes.NewReader(text))
	r.ReuseRecord = true
	if _, err := r.Read(); err != nil {
		return err
	}
	for {
		cells, err := r.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if _, err := time.Parse("2006-01-02 15:04:05", cells[0]); err != nil {
			return err
		}
	}
}
