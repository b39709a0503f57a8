// Command receiver measures the signal receiver under load: `go -C bench/receiver run .` from the root. It prints durable
// frames a second and how long frames waited for their answer, beside plain ways of storing behind the same receiver in the
// same run. Servers are processes of their own; senders run in this one, on the same machine, and share its processors.
// It is no test: a busy machine is slow. Exit 1: a figure is over its budget.
//
// It is a module of its own, so that the broker it compares with is no part of the product's.
package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"net"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/receiver"
)

// Budgets, on two processors with the senders on the same machine.
const (
	leastRate  = 25_000                // durable frames a second over 64 connections
	leastShare = 0.6                   // of what the same server does that stores nothing
	mostWait   = 50 * time.Millisecond // for 99 of 100 frames at 2,000 frames a second
	mostMemory = 300                   // MB, with 10,000 idle connections and 1,000 frames a second
)

// limits are those of a receiver that trusts who calls it: here all senders have one address.
var limits = receiver.Limits{Conns: 1 << 15, ConnsPerAddress: 1 << 15, FramesPerAddress: 1e9, Burst: 1e9, Idle: 10 * time.Minute}

func main() {
	kind := flag.String("serve", "", "")
	dir := flag.String("dir", "", "")
	span := flag.Duration("span", 5*time.Second, "of each load")
	rounds := flag.Int("rounds", 3, "of the comparison; the best of each is taken")
	idle := flag.Int("idle", 10_000, "idle connections; 0 leaves that out")
	flag.Parse()
	var err error
	if *kind != "" {
		err = serve(*kind, *dir)
	} else {
		err = measure(*span, *rounds, *idle)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func measure(span time.Duration, rounds, idle int) error {
	order := []string{"inbox", "none", "insert", "file", "jetstream"}
	best := map[string]load{}
	for range rounds {
		for _, kind := range order { // in turn, so that what the machine does besides falls on all of them
			l, err := against(kind, func(addr string, _ int) (load, error) { return send(addr, 64, 0, span) })
			if err != nil {
				return fmt.Errorf("%s: %w", kind, err)
			}
			if b, any := best[kind]; !any || l.rate() > b.rate() {
				best[kind] = l
			}
		}
	}
	fmt.Printf("64 connections, each waiting for its answer before the next frame; best of %d runs of %v\n\n", rounds, span)
	fmt.Printf("%10s %10s %10s %10s %8s %8s  %s\n", "frames/s", "p50", "p99", "p99.9", "CPU", "ratio", "stored in")
	for _, kind := range order {
		l := best[kind]
		fmt.Printf("%10.0f %s %5.1f us %8.2f  %s\n", l.rate(), waits(l), l.work(), best["inbox"].rate()/l.rate(), keepers[kind].what)
	}
	fmt.Println("\nCPU is the server's, a frame. The ratio is Proofbell's rate to that of the line.")

	fmt.Printf("\nProofbell's inbox at other loads\n\n%10s %10s %10s %10s  %s\n", "frames/s", "p50", "p99", "p99.9", "load")
	var steady load
	for _, c := range []struct {
		connections int
		rate        float64
	}{{1, 0}, {8, 0}, {256, 0}, {64, 500}, {64, 2000}, {64, 8000}} {
		l, err := against("inbox", func(addr string, _ int) (load, error) { return send(addr, c.connections, c.rate, span) })
		if err != nil {
			return err
		}
		what := fmt.Sprintf("%d connections, as fast as they can", c.connections)
		if c.rate > 0 {
			what = fmt.Sprintf("%d connections, %.0f frames/s due", c.connections, c.rate)
		}
		if c.rate == 2000 {
			steady = l
		}
		fmt.Printf("%10.0f %s  %s\n", l.rate(), waits(l), what)
	}
	var over []error
	share := best["inbox"].rate() / best["none"].rate()
	fmt.Println()
	judge := func(good bool, format string, args ...any) {
		word := "within its budget"
		if !good {
			word = "OVER its budget"
			over = append(over, fmt.Errorf(format, args...))
		}
		fmt.Printf(format+": "+word+"\n", args...)
	}
	judge(best["inbox"].rate() >= leastRate, "%.0f durable frames/s, at least %d", best["inbox"].rate(), leastRate)
	judge(share >= leastShare, "%.2f of the rate without storing, at least %.1f", share, leastShare)
	judge(steady.at(0.99) < mostWait, "p99 of %v at 2,000 frames/s, below %v", steady.at(0.99).Round(10*time.Microsecond), mostWait)
	if idle > 0 {
		memory, l, err := crowd(idle, span)
		if err != nil {
			return err
		}
		judge(memory < mostMemory, "%.0f MB with %d idle connections while %.0f frames/s flow (p99 %v), below %d MB", memory, idle, l.rate(), l.at(0.99).Round(10*time.Microsecond), mostMemory)
	}
	return errors.Join(over...)
}

func waits(l load) string {
	var b strings.Builder
	for i, share := range []float64{0.5, 0.99, 0.999} {
		if i > 0 {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%7.2f ms", float64(l.at(share).Microseconds())/1000)
	}
	return b.String()
}

// crowd holds idle connections open while frames flow, and returns the most memory that the server had resident.
func crowd(idle int, span time.Duration) (memory float64, l load, err error) {
	l, err = against("inbox", func(addr string, pid int) (load, error) {
		for range idle {
			conn, err := net.Dial("tcp", addr)
			if err != nil {
				return load{}, err
			}
			defer conn.Close()
		}
		l, err := send(addr, 16, 1000, span)
		if err == nil {
			memory, err = peak(pid)
		}
		return l, err
	})
	return memory, l, err
}

// peak reads the most memory that a process had resident, in MB.
func peak(pid int) (float64, error) {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	found := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(raw)
	if found == nil {
		return 0, errors.New("the system does not tell a process's memory")
	}
	kB, err := strconv.ParseFloat(string(found[1]), 64)
	return kB / 1000, err
}

// against starts a server of its own for one load.
func against(kind string, run func(addr string, pid int) (load, error)) (l load, err error) {
	self, err := os.Executable()
	if err != nil {
		return l, err
	}
	dir, err := os.MkdirTemp("", "bench-receiver-")
	if err != nil {
		return l, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	child := exec.Command(self, "-serve", kind, "-dir", dir)
	child.Stderr = os.Stderr
	hold, err := child.StdinPipe()
	if err != nil {
		return l, err
	}
	out, err := child.StdoutPipe()
	if err != nil {
		return l, err
	}
	if err := child.Start(); err != nil {
		return l, err
	}
	defer func() {
		err = errors.Join(err, hold.Close(), child.Wait())
		l.cpu = child.ProcessState.UserTime() + child.ProcessState.SystemTime()
	}()
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		return l, fmt.Errorf("the server did not start: %w", err)
	}
	return run(strings.TrimSpace(line), child.Process.Pid)
}
