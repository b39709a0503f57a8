//go:build linux || darwin

package receiver

import (
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"
)

// TestMain fails when a goroutine of a receiver outlives its tests, all of which shut theirs down.
func TestMain(m *testing.M) {
	if os.Getenv(childVar) != "" {
		os.Exit(child())
	}
	code := m.Run()
	late := time.Now().Add(5 * time.Second)
	for code == 0 {
		stacks := make([]byte, 1<<20)
		stacks = stacks[:runtime.Stack(stacks, true)]
		var left []string
		for _, g := range strings.Split(string(stacks), "\n\n")[1:] { // the first is this one
			if strings.Contains(g, "proofbell/internal/receiver.(*") {
				left = append(left, g)
			}
		}
		if len(left) == 0 {
			break
		}
		if time.Now().After(late) {
			fmt.Fprintf(os.Stderr, "%d goroutines are left:\n%s\n", len(left), strings.Join(left, "\n\n"))
			code = 1
		}
		runtime.Gosched()
	}
	os.Exit(code)
}
