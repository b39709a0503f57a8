// Command soak loads a receiver for a while and shows that its memory and file handles stay as they are:
//
//	go run ./bench/soak [-for 10m] [-idle 1000] [-rate 200] [-attack] PROOFBELL
//
// PROOFBELL is the program (tools/build makes bin/proofbell). Linux only: the figures come from /proc.
package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"proofbell/signal"
)

func main() {
	length := flag.Duration("for", 10*time.Minute, "how long")
	idle := flag.Int("idle", 1000, "idle connections, each of which sends a frame once a minute")
	rate := flag.Int("rate", 200, "frames a second; the machine has to keep up with it all the time")
	attack := flag.Bool("attack", true, "garbage, lines without an end and connections that come and go, beside")
	flag.Parse()
	if err := soak(*length, *idle, *rate, *attack, flag.Arg(0)); err != nil {
		fmt.Fprintln(os.Stderr, "soak:", err)
		os.Exit(1)
	}
}

// sample is how the process stands at a moment.
type sample struct {
	rss     int // kB
	handles int
}

func look(pid int) (s sample, err error) {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return s, err
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			s.rss, err = strconv.Atoi(strings.Fields(rest)[0])
		}
	}
	handles, err2 := os.ReadDir(fmt.Sprintf("/proc/%d/fd", pid))
	s.handles = len(handles)
	return s, errors.Join(err, err2)
}

type load struct {
	addr            string
	answered, wrong atomic.Int64
}

func soak(length time.Duration, idle, rate int, attack bool, program string) (err error) {
	if program == "" {
		return errors.New("name the program: go run ./bench/soak bin/proofbell")
	}
	dir, err := os.MkdirTemp("", "soak-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	accounts := filepath.Join(dir, "accounts.yaml")
	if err := os.WriteFile(accounts, []byte("accounts: {\"4816\": {}}\n"), 0o600); err != nil {
		return err
	}
	cmd := exec.Command(program, "receive", "--json", "--signals=127.0.0.1:0", "--data="+dir, "--accounts="+accounts, "--on-test=24h",
		"--connections=16000", "--connections-per-address=16000", "--frames-per-address=100000", "--burst=100000", "--idle=10m")
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	defer func() {
		err = errors.Join(err, cmd.Process.Signal(syscall.SIGTERM), cmd.Wait())
	}()
	lines := bufio.NewReader(out)
	first, err := lines.ReadString('\n')
	if err != nil {
		return err
	}
	_, rest, _ := strings.Cut(first, `"signals":"`)
	l := &load{}
	l.addr, _, _ = strings.Cut(rest, `"`)
	go func() { _, _ = io.Copy(io.Discard, lines) }() // ends with the process

	conns := make([]net.Conn, idle)
	for i := range conns {
		if conns[i], err = net.Dial("tcp", l.addr); err != nil {
			return fmt.Errorf("idle connection %d: %w", i, err)
		}
		defer conns[i].Close()
		if err := l.exchange(conns[i], 0); err != nil {
			return fmt.Errorf("idle connection %d: %w", i, err)
		}
	}
	ctx, stop := context.WithTimeout(context.Background(), length)
	var work sync.WaitGroup
	defer work.Wait()
	defer stop()
	work.Go(func() { l.keep(ctx, conns) })
	const senders = 8
	for n := range senders {
		work.Go(func() { l.send(ctx, n, time.Second*senders/time.Duration(max(rate, 1))) })
	}
	if attack {
		work.Go(func() { l.attack(ctx) })
	}
	return watch(ctx, cmd.Process.Pid, l, length)
}

// watch prints samples and compares the last quarter of the time with the third. What came within signal.DuplicateWindow is
// kept in memory, so that in ten minutes the first half is spent on filling it.
func watch(ctx context.Context, pid int, l *load, length time.Duration) error {
	var quarters [4]sample
	begin := time.Now()
	every := max(length/20, time.Second)
	tick := time.NewTicker(every)
	defer tick.Stop()
	fmt.Printf("%8s %10s %8s %12s %8s\n", "time", "RSS kB", "handles", "answered", "wrong")
	for {
		select {
		case <-ctx.Done():
			before, after := quarters[2], quarters[3]
			fmt.Printf("peak of the third quarter: %d kB, %d handles; of the last: %d kB, %d handles\n", before.rss, before.handles, after.rss, after.handles)
			switch {
			case l.wrong.Load() > 0:
				return fmt.Errorf("%d frames were not answered as they should", l.wrong.Load())
			case after.rss > before.rss*11/10, after.handles > before.handles+32:
				return errors.New("it grows")
			}
			return nil
		case <-tick.C:
		}
		s, err := look(pid)
		if err != nil {
			return err
		}
		gone := time.Since(begin)
		h := &quarters[min(int(4*gone/length), 3)]
		h.rss, h.handles = max(h.rss, s.rss), max(h.handles, s.handles)
		fmt.Printf("%8s %10d %8d %12d %8d\n", gone.Round(time.Second), s.rss, s.handles, l.answered.Load(), l.wrong.Load())
	}
}

// exchange sends one event and reads its reply.
func (l *load) exchange(conn net.Conn, n int) error {
	payload, err := signal.NewContactID("4816", signal.New, "602", 0, n%999)
	if err != nil {
		return err
	}
	f := signal.Frame{ID: signal.IDContactID, Sequence: n%9999 + 1, Prefix: fmt.Sprintf("L%X", n%4096), Account: "4816", Data: payload.String()}
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	reply, err := signal.Exchange(ctx, conn, f)
	if err == nil && reply.ID != signal.IDAck {
		err = fmt.Errorf("answered %s", reply.ID)
	}
	if err == nil {
		l.answered.Add(1)
	}
	return err
}

// keep lets each idle connection send a frame once a minute.
func (l *load) keep(ctx context.Context, conns []net.Conn) {
	for n := 0; len(conns) > 0; n++ {
		select {
		case <-ctx.Done():
			return
		case <-time.After(time.Minute / time.Duration(len(conns))):
		}
		if err := l.exchange(conns[n%len(conns)], n); err != nil && ctx.Err() == nil {
			l.wrong.Add(1)
		}
	}
}

// send sends a frame each interval over one connection, a new one every thousand frames, TCP and UDP in turn.
func (l *load) send(ctx context.Context, sender int, interval time.Duration) {
	network := []string{"tcp", "tcp", "tcp", "udp"}[sender%4]
	var conn net.Conn
	tick := time.NewTicker(interval)
	defer tick.Stop()
	for n := 0; ; n++ {
		select {
		case <-ctx.Done():
			if conn != nil {
				conn.Close()
			}
			return
		case <-tick.C:
		}
		var err error
		if n%1000 == 0 {
			if conn != nil {
				conn.Close()
			}
			if conn, err = net.Dial(network, l.addr); err != nil {
				l.wrong.Add(1)
				conn = nil
				continue
			}
		}
		if conn == nil {
			continue
		}
		if err := l.exchange(conn, 100_000*sender+n); err != nil && ctx.Err() == nil {
			l.wrong.Add(1)
		}
	}
}

// attack does what strangers do, ten times a second.
func (l *load) attack(ctx context.Context) {
	endless := []byte("\n" + strings.Repeat("x", 1<<16))
	for n := 0; ; n++ {
		select {
		case <-ctx.Done():
			return
		case <-time.After(100 * time.Millisecond):
		}
		conn, err := net.Dial([]string{"tcp", "udp"}[n/4%2], l.addr)
		if err != nil {
			continue
		}
		_ = conn.SetDeadline(time.Now().Add(time.Second))
		switch n % 4 { // what becomes of it is the receiver's business
		case 0:
			_, _ = conn.Write([]byte("\nFFFF0013\"NULL\"0000L0#4816[]\r"))
		case 1:
			_, _ = conn.Write(endless)
		case 2:
			_, _ = conn.Write([]byte("GET / HTTP/1.1\r\n\r\n"))
		}
		conn.Close()
	}
}
