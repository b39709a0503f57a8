package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/app"
)

type verifyCmd struct {
	File   string   `arg:"" name:"FILE" help:"Job book (.pbook), or a document that was issued (PDF, XLSX, CSV, iCalendar)."`
	Signer []string `help:"Fingerprint of a signer that you trust, learnt by another way than this file." placeholder:"HEX"`
	Head   []string `help:"A head that you know from elsewhere, as NUMBER:HASH." placeholder:"SEQ:HASH"`
	Data   string   `type:"path" help:"Trust the signer of this data folder; for a document, look in its job books." placeholder:"DIR"`
	Book   string   `type:"path" help:"For a document: look in this job book." placeholder:"FILE.pbook"`
	JSON   bool     `help:"Print one JSON document."`

	Database string `env:"PROOFBELL_DATABASE" help:"The job books of the data folder are in this PostgreSQL database." placeholder:"URL"`
}

func (c *verifyCmd) data() dataFlags { return dataFlags{c.Data, c.Database} }

// Run verifies a job book, or looks a document up among those that were issued; not good when anything is wrong, the
// signer is unknown, or the document was never issued as it is.
func (c *verifyCmd) Run(ctx context.Context, io *streams) (err error) {
	if filepath.Ext(c.File) != evidence.ExportExtension && len(c.Signer)+len(c.Head) == 0 {
		return c.document(ctx, io)
	}
	var trusted []evidence.Fingerprint
	for _, text := range c.Signer {
		f, err := evidence.ParseFingerprint(text)
		if err != nil {
			return fmt.Errorf("--signer: %w", err)
		}
		trusted = append(trusted, f)
	}
	var pins []evidence.Pin
	for _, text := range c.Head {
		seq, hash, ok := strings.Cut(text, ":")
		n, err := strconv.ParseInt(seq, 10, 64)
		h, err2 := evidence.ParseHash(hash)
		if err = errors.Join(err, err2); err != nil || !ok {
			return fmt.Errorf("--head %q: write it as it is printed on a document, NUMBER:HASH", text)
		}
		pins = append(pins, evidence.Pin{Seq: n, Hash: h})
	}
	if c.Data != "" {
		own, err := ownSigner(ctx, c.data())
		if err != nil {
			return err
		}
		trusted = append(trusted, own)
	}
	f, err := os.Open(c.File)
	if err != nil {
		return fmt.Errorf("%w: check the name", err)
	}
	defer func() { _ = f.Close() }() // only read
	report, err := evidence.Verify(f, trusted, pins...)
	if err != nil {
		return fmt.Errorf("%s: %w", c.File, err)
	}
	if c.JSON {
		err = printJSON(io.out, report)
	} else {
		printReport(io, report)
	}
	if err == nil && !report.Good() {
		err = ErrNotGood
	}
	return err
}

func printReport(io *streams, r evidence.Report) {
	fmt.Fprintf(io.out, "Job      %s\nEntries  %d sound, newest %s\n", r.Header.Job, r.Entries, r.Last)
	switch r.Signer {
	case evidence.SignerKnown:
		fmt.Fprintf(io.out, "Signer   known: %s\n", r.Header.Key)
	case evidence.SignerUnknown:
		fmt.Fprintf(io.out, "Signer   unknown signer: %s. The key travels with the file and proves nothing by itself: ask whoever issued it for the fingerprint.\n", r.Header.Key)
	default:
		fmt.Fprintln(io.out, "Signer   not proved: no signature that holds was found")
	}
	if r.Break != nil && !errors.Is(r.Break, evidence.ErrUnknownSigner) {
		fmt.Fprintf(io.out, "Broken   %v\n", r.Break)
		return
	}
	fmt.Fprintln(io.out, "Nothing was changed since it was signed. Whether it was true when it was written, no chain can say.")
}

// ownSigner reads the fingerprint of the key that signs our own books.
func ownSigner(ctx context.Context, d dataFlags) (f evidence.Fingerprint, err error) {
	if err := d.existing(); err != nil {
		return f, err
	}
	books, err := d.open(ctx)
	if err != nil {
		return f, err
	}
	key, err := books.SigningKey(ctx)
	if err == nil {
		f = key.Public().Fingerprint()
	}
	return f, errors.Join(err, books.Close())
}

type importCmd struct {
	File string `arg:"" name:"FILE" help:"Job book (.pbook), or a site file to open a job with."`

	dataFlags
}

// Run takes a file in and prints the job's id.
func (c *importCmd) Run(ctx context.Context, io *streams) error {
	var take func(*app.App) (evidence.JobID, error)
	if filepath.Ext(c.File) == evidence.ExportExtension {
		f, err := os.Open(c.File)
		if err != nil {
			return fmt.Errorf("%w: check the name", err)
		}
		defer func() { _ = f.Close() }() // only read
		take = func(a *app.App) (evidence.JobID, error) { return a.Import(ctx, f) }
	} else {
		s, _, err := readSite(c.File, io.in)
		if err != nil {
			return err
		}
		take = func(a *app.App) (evidence.JobID, error) { return a.Open(ctx, s, commandLine) }
	}
	return withApp(ctx, c.dataFlags, io, func(a *app.App) error {
		job, err := take(a)
		if err == nil {
			fmt.Fprintln(io.out, job)
		}
		return err
	})
}

// commandLine is who acts at the terminal.
const commandLine evidence.PersonID = "command-line"

type exportCmd struct {
	Job string `arg:"" name:"JOB" help:"Id of the job, or the beginning of its name."`
	Out string `help:"File to write." placeholder:"FILE.pbook"`

	dataFlags
}

// Run writes a job book out.
func (c *exportCmd) Run(ctx context.Context, io *streams) error {
	return withBooks(ctx, c.dataFlags, io, func(a *app.App) error {
		job, err := findJob(a, c.Job)
		if err != nil {
			return err
		}
		if c.Out == "" {
			return a.Export(ctx, job, io.out)
		}
		var b strings.Builder
		if err := a.Export(ctx, job, &b); err != nil {
			return err
		}
		if err := writeFile(c.Out, []byte(b.String())); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "%s\nsigner %s\n", c.Out, a.SigningFingerprint())
		return nil
	})
}

// findJob finds a job by its id or by the beginning of its name.
func findJob(a *app.App, text string) (evidence.JobID, error) {
	var found []app.Summary
	jobs := a.Jobs()
	for _, j := range jobs {
		if string(j.Job) == text || j.Name == text {
			return j.Job, nil
		}
		if strings.HasPrefix(strings.ToLower(j.Name), strings.ToLower(text)) {
			found = append(found, j)
		}
	}
	if len(found) == 1 {
		return found[0].Job, nil
	}
	if len(jobs) == 0 {
		return "", fmt.Errorf("job %q: there is no job here: is it the right data folder? --data and --database name another, proofbell import takes a job in", text)
	}
	var names []string
	for _, j := range jobs {
		names = append(names, fmt.Sprintf("  %s  %s", j.Job, j.Name))
	}
	return "", fmt.Errorf("job %q: %d jobs fit; name one by its id or its whole name:\n%s", text, len(found), strings.Join(names, "\n"))
}
