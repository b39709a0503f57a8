//go:build linux || darwin

package receiver

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// childVar makes the test program a receiver in a process of its own, whose file handles can be taken away.
const childVar = "PROOFBELL_TEST_RECEIVER"

// child runs a receiver. Of the lines on standard input, 0 takes all file handles away that are not in use, any
// other number gives them back.
func child() int {
	r, err := New(Config{ID: "child", Deliver: acknowledge, Log: slog.New(slog.NewTextHandler(os.Stderr, nil))})
	if err != nil {
		panic(err)
	}
	addr, err := r.Listen(context.Background(), "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	var limit syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit); err != nil {
		panic(err)
	}
	fmt.Println(addr)
	for lines := bufio.NewScanner(os.Stdin); lines.Scan(); {
		var more int
		if _, err := fmt.Sscan(lines.Text(), &more); err != nil {
			panic(err)
		}
		less := limit
		if more == 0 {
			probe, err := os.Open(os.DevNull) // the lowest free number is how many are open
			if err != nil {
				panic(err)
			}
			less.Cur = uint64(probe.Fd())
			if err := probe.Close(); err != nil {
				panic(err)
			}
		}
		if err := syscall.Setrlimit(syscall.RLIMIT_NOFILE, &less); err != nil {
			panic(err)
		}
		fmt.Println("limit", less.Cur)
	}
	if err := r.Shutdown(context.Background()); err != nil {
		panic(err)
	}
	return 0
}

// No file handle is left for another connection: those that are open are served, and as soon as there is one again, so
// are those that waited.
func TestFileHandlesRunOut(t *testing.T) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childVar+"=1")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(out)
	said.Scan()
	addr := said.Text()
	dial := func() net.Conn {
		c, err := net.Dial("tcp", addr)
		if err == nil {
			err = c.SetDeadline(time.Now().Add(20 * time.Second))
		}
		if err == nil {
			_, err = io.WriteString(c, check)
		}
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	answered := func(c net.Conn) {
		t.Helper()
		got := make([]byte, len(checkAck))
		if _, err := io.ReadFull(c, got); err != nil || string(got) != checkAck {
			t.Fatalf("answered %q, %v", got, err)
		}
	}
	limit := func(more int) {
		fmt.Fprintln(in, more)
		said.Scan()
	}
	first := dial()
	answered(first)
	limit(0)
	waits := dial() // the system takes it, the receiver can not
	lines := bufio.NewScanner(log)
	for !strings.Contains(lines.Text(), "too many open files") {
		if !lines.Scan() {
			t.Fatal("the log ended without a word about file handles")
		}
	}
	if _, err := io.WriteString(first, check); err != nil {
		t.Fatal(err)
	}
	answered(first)
	limit(1)
	answered(waits)
	for _, c := range []net.Conn{first, waits} {
		c.Close()
	}
	in.Close()
	for lines.Scan() {
	}
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
}
