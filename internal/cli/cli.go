// Package cli is the command line: flags, streams and exit codes around the use cases. docs/cli.md is its contract.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"

	"github.com/alecthomas/kong"

	"proofbell/internal/app"
	"proofbell/internal/engine"
	"proofbell/site"
)

// Version is what `proofbell --version` prints.
const Version = "0.1.0"

// Exit codes.
const (
	Good     = 0 // done, and what was checked is good
	NotGood  = 1 // the thing that was checked is not good
	Unusable = 2 // input or usage can not be used
)

// ErrNotGood ends a command whose answer was printed and is not good.
var ErrNotGood = errors.New("not good")

type streams struct {
	in       io.Reader
	out, err io.Writer
}

type commands struct {
	Version kong.VersionFlag `help:"Print the version."`

	Serve     serveCmd     `cmd:"" help:"Web application, API and signal receiver in one process."`
	Check     checkCmd     `cmd:"" help:"Check a site against its rule set."`
	Placing   placingCmd   `cmd:"" help:"Where to add the fewest alarms so that placement, sound and radio hold."`
	Schedule  scheduleCmd  `cmd:"" help:"Give zones to devices that have none."`
	Table     tableCmd     `cmd:"" help:"Zones, devices, rooms and heads as a spreadsheet, out and in."`
	Questions questionsCmd `cmd:"" help:"What is still to be asked, by who can answer it."`
	Labels    labelsCmd    `cmd:"" help:"What the panel says for each zone, and the closest words where it can not."`
	Identity  identityCmd  `cmd:"" help:"Hold an identity off a label, or as the panel heard it, against what is planned."`
	Keying    keyingCmd    `cmd:"" help:"Turn the zone schedule into keystrokes, prompt by prompt."`
	Readout   readoutCmd   `cmd:"" help:"Which keys show what the panel holds; asks for it and writes a zone table."`
	Guide     guideCmd     `cmd:"" help:"Teach what is keyed: pages, a script to speak, captions."`
	Rehearse  rehearseCmd  `cmd:"" help:"Practise on a simulated keypad, or run a key list through it."`
	Profile   profileCmd   `cmd:"" help:"A panel profile of your own: check, draw, schema."`
	Practice  practiceCmd  `cmd:"" help:"Practice sites with planted mistakes: make one, mark what was found."`
	Plan      planCmd      `cmd:"" help:"The floor plan: draw a storey, take rooms out of a drawing."`
	Prove     proveCmd     `cmd:"" help:"A proving run at the terminal."`
	Receive   receiveCmd   `cmd:"" help:"The signal receiver alone; prints what arrives, with --json as JSON lines."`
	Signal    signalCmd    `cmd:"" help:"Decode, encode or send DC-09 frames."`
	Calc      calcCmd      `cmd:"" help:"One engineering result with its formula and source."`
	Record    recordCmd    `cmd:"" help:"Write the documents of a job."`
	Due       dueCmd       `cmd:"" help:"What falls due, in rounds: lives, batteries, tests."`
	Reprove   reproveCmd   `cmd:"" help:"What a change obliges to prove again, by name."`
	History   historyCmd   `cmd:"" help:"What a station's or panel's event history speaks for."`
	Verify    verifyCmd    `cmd:"" help:"Check a job book against its chain and signature."`
	Import    importCmd    `cmd:"" help:"Take a job book or a site file into a data folder."`
	Export    exportCmd    `cmd:"" help:"Write a job book out of a data folder."`

	DemoPanel demoPanelCmd `cmd:"" hidden:"" help:"The simulated panel and station of the demo."`
}

// Main runs one command and returns its exit code. Errors go to stderr, one line each, saying what and what to do.
func Main(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	var c commands
	exit := -1
	parser, err := kong.New(&c,
		kong.Name("proofbell"),
		kong.Description("Plans, keys and proves the way of an alarm: detector, panel, line, station. It records; it is never a monitoring station. Local code and the equipment's instructions come first."),
		kong.Vars{"version": Version}, kong.Writers(out, errOut), kong.Exit(func(code int) { exit = code }),
		kong.UsageOnError(), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		fmt.Fprintln(errOut, "proofbell:", err)
		return Unusable
	}
	k, err := parser.Parse(args)
	if exit >= 0 { // help or version was printed
		return exit
	}
	if err != nil {
		fmt.Fprintf(errOut, "proofbell: %v; see proofbell --help\n", err)
		return Unusable
	}
	k.BindTo(ctx, (*context.Context)(nil))
	k.Bind(&streams{in, out, errOut})
	switch err := k.Run(); {
	case err == nil:
		return Good
	case errors.Is(err, ErrNotGood):
		return NotGood
	default:
		say(errOut, inWordsOf(k, err))
		return Unusable
	}
}

// inWordsOf says the faults of a site file in the language that a command was given.
func inWordsOf(k *kong.Context, err error) error {
	var faults site.Faults
	if !errors.As(err, &faults) {
		return err
	}
	for _, flag := range k.Flags() {
		if flag.Name == "lang" {
			return faults.In(fmt.Sprint(k.FlagValue(flag)))
		}
	}
	return err
}

// say prints an error for a person: problems with their next step, everything else as it is.
func say(w io.Writer, err error) {
	var p *app.Problem
	var q *engine.Problem
	switch {
	case errors.As(err, &p):
		fmt.Fprintln(w, strings.TrimSpace("proofbell: "+p.Say+" "+p.Try))
	case errors.As(err, &q):
		q = q.In(nil) // what was only marked
		fmt.Fprintln(w, strings.TrimSpace("proofbell: "+q.Say+" "+q.Try))
	default:
		fmt.Fprintln(w, strings.TrimSpace(err.Error()))
	}
}

// logger writes text to a terminal and JSON lines elsewhere.
func logger(w io.Writer) *slog.Logger {
	if atTerminal(w) {
		return slog.New(slog.NewTextHandler(w, nil))
	}
	return slog.New(slog.NewJSONHandler(w, nil))
}
