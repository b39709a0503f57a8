package main

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	_ "modernc.org/sqlite"

	"proofbell/internal/app"
	"proofbell/internal/receiver"
	"proofbell/internal/store"
	"proofbell/signal"
)

// keeper is a way of storing before the answer. keep returns when the frame would outlive a power cut, as far as the disk
// keeps its word.
type keeper struct {
	keep  func(ctx context.Context, r signal.Received) error
	close func() error
}

var keepers = map[string]struct {
	what string
	open func(ctx context.Context, dir string) (keeper, error)
}{
	"inbox":     {"Proofbell's inbox: SQLite, one commit for all that wait", openInbox},
	"none":      {"nothing stored: the network's share", openNone},
	"insert":    {"SQLite, one INSERT a transaction", openInsert},
	"file":      {"a bare file, one fsync for all that wait", openFile},
	"jetstream": {"an embedded message broker's file store, every message synced", openBroker},
}

// serve is the server's process: it prints its address, and ends with its standard input.
func serve(kind, dir string) error {
	ctx := context.Background()
	k, err := keepers[kind].open(ctx, dir)
	if err != nil {
		return err
	}
	deliver := func(ctx context.Context, r signal.Received) (signal.Verdict, error) {
		if err := k.keep(ctx, r); err != nil {
			return signal.StaySilent, err
		}
		return r.Proposed, nil
	}
	r, err := receiver.New(receiver.Config{ID: "bench", Deliver: deliver, Limits: limits})
	if err != nil {
		return err
	}
	addr, err := r.Listen(ctx, "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Println(addr)
	if _, err := io.Copy(io.Discard, os.Stdin); err != nil {
		return err
	}
	grace, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	return errors.Join(r.Shutdown(grace), k.close())
}

func openInbox(ctx context.Context, dir string) (keeper, error) {
	inbox, err := store.OpenInbox(ctx, dir, store.Options{})
	if err != nil {
		return keeper{}, err
	}
	return keeper{close: inbox.Close, keep: func(ctx context.Context, r signal.Received) error {
		_, err := inbox.Put(ctx, app.InboxRow{At: r.At, Remote: r.Remote, Transport: r.Transport, Account: r.Frame.Account, Repeat: signal.DuplicateKey(r.Frame), Answered: true, Raw: r.Raw})
		return err
	}}, nil
}

func openNone(context.Context, string) (keeper, error) {
	return keeper{
		keep:  func(context.Context, signal.Received) error { return nil },
		close: func() error { return nil },
	}, nil
}

func openInsert(ctx context.Context, dir string) (keeper, error) {
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "insert.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate")
	if err != nil {
		return keeper{}, err
	}
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(ctx, `CREATE TABLE frame (row INTEGER PRIMARY KEY, at BIGINT, remote TEXT, account TEXT, raw BLOB)`); err != nil {
		return keeper{}, err
	}
	return keeper{close: db.Close, keep: func(ctx context.Context, r signal.Received) error {
		_, err := db.ExecContext(ctx, `INSERT INTO frame (at, remote, account, raw) VALUES (?, ?, ?, ?)`, r.At.UnixMilli(), r.Remote, r.Frame.Account, r.Raw)
		return err
	}}, nil
}

func openFile(_ context.Context, dir string) (keeper, error) {
	f, err := os.Create(filepath.Join(dir, "frames"))
	if err != nil {
		return keeper{}, err
	}
	type put struct {
		raw  []byte
		done chan error
	}
	puts := make(chan put, 1000)
	go func() { // ends with the process
		w := bufio.NewWriterSize(f, 1<<20)
		var waiting []chan error
		for p := range puts {
			_, err := w.Write(p.raw)
			waiting = append(waiting[:0], p.done)
			for more := true; more && len(waiting) < 1000; {
				select {
				case p := <-puts:
					_, e := w.Write(p.raw)
					err = errors.Join(err, e)
					waiting = append(waiting, p.done)
				default:
					more = false
				}
			}
			err = errors.Join(err, w.Flush(), f.Sync())
			for _, done := range waiting {
				done <- err
			}
		}
	}()
	return keeper{close: f.Close, keep: func(_ context.Context, r signal.Received) error {
		done := make(chan error, 1)
		puts <- put{r.Raw, done}
		return <-done
	}}, nil
}

func openBroker(_ context.Context, dir string) (keeper, error) {
	ns, err := server.NewServer(&server.Options{JetStream: true, StoreDir: dir, SyncAlways: true, DontListen: true, NoSigs: true})
	if err != nil {
		return keeper{}, err
	}
	go ns.Start()
	if !ns.ReadyForConnections(10 * time.Second) {
		return keeper{}, errors.New("the broker does not start")
	}
	conn, err := nats.Connect("", nats.InProcessServer(ns))
	if err != nil {
		return keeper{}, err
	}
	js, err := conn.JetStream(nats.PublishAsyncMaxPending(4096))
	if err != nil {
		return keeper{}, err
	}
	if _, err := js.AddStream(&nats.StreamConfig{Name: "frames", Subjects: []string{"frames"}, Storage: nats.FileStorage}); err != nil {
		return keeper{}, err
	}
	return keeper{
		close: func() error { conn.Close(); ns.Shutdown(); return nil },
		keep: func(_ context.Context, r signal.Received) error {
			ack, err := js.PublishAsync("frames", r.Raw)
			if err != nil {
				return err
			}
			select {
			case <-ack.Ok():
				return nil
			case err := <-ack.Err():
				return err
			}
		},
	}, nil
}
