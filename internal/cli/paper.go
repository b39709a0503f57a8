package cli

import (
	"context"
	"errors"
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/papers"
	"proofbell/internal/records"
	"proofbell/internal/words"
	"proofbell/site"
)

// paperMaker makes documents for the server and the terminal. now is asked for the day.
func paperMaker(a *app.App, now func() time.Time) app.Maker {
	return func(ctx context.Context, state *book.State, key *evidence.JobKey, ask app.Ask) (app.Document, error) {
		k, ok := papers.Find(ask.Kind)
		if !ok {
			return app.Document{}, &app.Problem{Code: app.NotFound, Say: words.Mark("There is no such document."), Try: words.Mark("Choose one from the list."), Field: "kind"}
		}
		if !slices.Contains(k.Formats, ask.Format) {
			return app.Document{}, &app.Problem{Code: app.BadRequest, Say: words.Mark("This document is not made in that format."), Try: words.Mark("All are made as PDF, tables also as XLSX and CSV, dates as a calendar."), Field: "format", Err: records.ErrFormat}
		}
		if !slices.Contains([]string{"", "A4", "Letter"}, ask.Sheet) || !slices.Contains([]string{"", "metric", "imperial"}, ask.Units) {
			return app.Document{}, &app.Problem{Code: app.BadRequest, Say: words.Mark("Sheet or units are not known."), Try: words.Mark("Sheets are A4 and Letter, units metric and imperial.")}
		}
		zone, err := time.LoadLocation(state.Site.Premises.TimeZone)
		if err != nil {
			zone = time.UTC
		}
		at := now().In(zone)
		if ask.Day != "" {
			if at, err = time.ParseInLocation(time.DateOnly, ask.Day, zone); err != nil {
				return app.Document{}, &app.Problem{Code: app.BadRequest, Say: words.Mark("This is not a day."), Try: words.Mark("Write it as 2026-09-15."), Field: "day", Err: err}
			}
		}
		paper, err := engine.NewDesk(state, 0).In(words.In(ask.Lang)).Paper(k, at, ask.Units, zoneIDs(ask.Zones)...)
		if err != nil {
			return app.Document{}, asAppProblem(err)
		}
		paper.Pin.Mark = key.Mark(paper.Pin.String())
		raw, err := records.File(paper, ask.Format, records.Options{
			Sheet: ask.Sheet, Signer: a.SigningFingerprint().String(),
			Photo: func(address string) []byte {
				raw, err := a.OpenBlob(ctx, state.Job, key, address)
				if err != nil {
					return nil // its place in the document says that it can not be shown
				}
				return raw
			},
		})
		if err != nil {
			return app.Document{}, err
		}
		return app.Document{
			Name: app.FileName(state.Name(), k.ID, state.Seq, ask.Format), Raw: raw,
			Body: book.IssuedBody{What: k.ID, For: string(k.For), Lang: paper.Lang, Format: ask.Format, Seq: state.Seq, Day: at.Format(time.DateOnly)},
		}, nil
	}
}

func zoneIDs(names []string) []site.ZoneID {
	out := make([]site.ZoneID, len(names))
	for i, name := range names {
		out[i] = site.ZoneID(name)
	}
	return out
}

func paperKinds() []string {
	var out []string
	for _, k := range papers.Kinds() {
		out = append(out, k.ID)
	}
	return out
}

func asAppProblem(err error) error {
	var p *engine.Problem
	if errors.As(err, &p) {
		return &app.Problem{Code: app.Code(p.Code), Say: p.Say, Try: p.Try, Err: err}
	}
	return err
}
