package cli

import (
	"bufio"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/internal/store/pgtest"
	"proofbell/signal"
)

// Two processes serve one database and are killed in turn under load, 50 times; every tenth time the database goes down at
// once as well. What a panel got an acknowledgement for, from whichever process, is one event in the book, whose chain holds.
func TestFiftyKillsUnderLoad(t *testing.T) {
	db := pgtest.Start(t)
	database := "--database=" + db.Database()
	first := t.TempDir()
	ours := []*served{runServer(t, first, database), nil}
	job, opened := ours[0].open()
	second := t.TempDir()
	key, err := os.ReadFile(filepath.Join(first, "installation.key"))
	if err == nil {
		err = os.WriteFile(filepath.Join(second, "installation.key"), key, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	dirs := []string{first, second}
	ours[1] = runServer(t, second, database)

	yard := &yard{acked: map[string]int{}}
	yard.set(0, ours[0].signals)
	yard.set(1, ours[1].signals)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var senders sync.WaitGroup
	for line := range 8 {
		senders.Go(func() { yard.panel(ctx, line+1) })
	}
	for round := range 50 {
		yard.reach(t, 30)
		if round%10 == 9 {
			db.Kill()
			yard.reach(t, 30) // from the inboxes alone
			db.Start()
		}
		one := round % 2
		ours[one].end(syscall.SIGKILL)
		yard.rest.Lock() // what is in hand goes to the other one; nothing new until both are there, so that the book stays small
		ours[one] = runServer(t, dirs[one], database)
		yard.set(one, ours[one].signals)
		yard.rest.Unlock()
	}
	stop()
	senders.Wait()

	rows := map[string]bool{}
	for _, e := range ours[0].close(job, opened) {
		if e.Kind != evidence.KindSignal {
			continue
		}
		var b prove.SignalBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			t.Fatal(err)
		}
		if row := fmt.Sprint(b.Receiver, b.Row); rows[row] {
			t.Errorf("row %s is in the book twice", row)
		} else {
			rows[row] = true
		}
		if b.DuplicateOf == "" {
			yard.booked(b.Raw)
		}
	}
	lost, twice := yard.wrong()
	if lost+twice > 0 {
		t.Errorf("of %d acknowledged signals %d are not in the book, and %d more than once", len(yard.acked), lost, twice)
	}
	t.Logf("%d signals acknowledged, %d of them after they were sent again; %d rows of two receivers in the book", len(yard.acked), yard.again, len(rows))
}

// yard is where panels send from: what was acknowledged to them, and which receivers they know.
type yard struct {
	rest  sync.RWMutex // held by a panel for each signal
	mu    sync.Mutex
	addrs [2]string
	acked map[string]int // frame in hex: how often it is an event of the book
	again int
}

func (y *yard) set(n int, addr string) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.addrs[n] = addr
}

func (y *yard) count() int {
	y.mu.Lock()
	defer y.mu.Unlock()
	return len(y.acked)
}

// reach waits until so many more signals were acknowledged.
func (y *yard) reach(t *testing.T, more int) {
	t.Helper()
	from := y.count()
	for late := time.Now().Add(patience); y.count() < from+more; time.Sleep(time.Millisecond) {
		if time.Now().After(late) {
			t.Fatalf("only %d of %d signals were acknowledged", y.count()-from, more)
		}
	}
}

func (y *yard) booked(raw string) {
	if _, ok := y.acked[raw]; ok {
		y.acked[raw]++
	}
}

func (y *yard) wrong() (lost, twice int) {
	for _, n := range y.acked {
		switch {
		case n == 0:
			lost++
		case n > 1:
			twice++
		}
	}
	return lost, twice
}

// panel sends alarms as premises equipment does: one at a time, the same again to the next receiver until it is acknowledged.
func (y *yard) panel(ctx context.Context, line int) {
	at := line % 2
	for n := 1; ctx.Err() == nil; n++ {
		payload, err := signal.NewContactID("4816", signal.New, "110", line, n%999)
		if err != nil {
			panic(err)
		}
		raw, err := signal.Frame{ID: signal.IDContactID, Sequence: n%9999 + 1, Prefix: fmt.Sprintf("L%d", line), Account: "4816", Data: payload.String()}.Encode()
		if err != nil {
			panic(err)
		}
		y.rest.RLock()
		for try := 0; ctx.Err() == nil; try++ {
			y.mu.Lock()
			addr := y.addrs[at]
			y.mu.Unlock()
			if exchange(addr, raw) {
				y.mu.Lock()
				y.acked[hex.EncodeToString(raw)] = 0
				if try > 0 {
					y.again++
				}
				y.mu.Unlock()
				break
			}
			at = 1 - at
		}
		y.rest.RUnlock()
		if rand.IntN(8) == 0 {
			at = 1 - at
		}
	}
}

// exchange sends a frame over a connection of its own and says whether it was acknowledged.
func exchange(addr string, raw []byte) bool {
	conn, err := net.Dial("tcp", addr)
	if err != nil {
		return false
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(5 * time.Second))
	if _, err := conn.Write(raw); err != nil {
		return false
	}
	reply, err := bufio.NewReader(conn).ReadString('\r')
	return err == nil && strings.Contains(reply, `"ACK"`)
}
