// Command proofbell proves, device by device, how far an alarm reaches.
package main

import (
	"context"
	"os"
	ossignal "os/signal"
	"syscall"
	_ "time/tzdata" // sites name their time zone; not every machine has the table

	"proofbell/internal/cli"
)

func main() {
	ctx, stop := ossignal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // after the first signal the default returns: a second one kills
	os.Exit(cli.Main(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
