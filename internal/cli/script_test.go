package cli

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	ossignal "os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"proofbell/demo"
	"proofbell/evidence"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"proofbell": func() {
		ctx, stop := ossignal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		context.AfterFunc(ctx, stop) // as cmd/proofbell has it: a second signal kills
		os.Exit(Main(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}})
}

// TestScripts runs testdata/script: one behaviour of the command line in each file.
func TestScripts(t *testing.T) {
	ladder, err := os.ReadFile("../../panel/profiles/ladder.yaml")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", RequireExplicitExec: true, RequireUniqueNames: true,
		Setup: func(env *testscript.Env) error {
			for name, raw := range map[string][]byte{"mill.yaml": demo.Corrected, "draft.yaml": demo.Draft, "mill-history.csv": demo.History, "ladder.yaml": ladder} {
				if err := os.WriteFile(filepath.Join(env.WorkDir, name), raw, 0o600); err != nil {
					return err
				}
			}
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "home"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "replace": replace, "forge": forge, "signer": signer, "bomb": bomb,
		},
	})
}

// exits CODE ARGS... runs proofbell and tests its exit code; stdout and stderr can be looked at afterwards.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE ARGS...")
	}
	err := ts.Exec("proofbell", args[1:]...)
	code := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		code = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if strconv.Itoa(code) != args[0] {
		ts.Fatalf("exit %d, want %s", code, args[0])
	}
}

// replace FILE OLD NEW changes the first place of OLD in FILE.
func replace(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: replace FILE OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s holds no %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], args[2], 1)), 0o600))
}

// forge FILE SEQ changes the writer of an entry, makes every hash from there on anew, and signs with a key of its own.
func forge(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: forge FILE SEQ")
	}
	x, err := evidence.ReadExport(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	seq, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	key, err := evidence.NewSigningKey(rand.Reader)
	ts.Check(err)
	var b bytes.Buffer
	var newest *evidence.Entry
	_, err = evidence.WriteExport(&b, key, x.Header().Job, "", time.Now(), func(yield func(evidence.Entry, error) bool) {
		for e, err := range x.Entries() {
			ts.Check(err)
			c := e.Content
			if e.Seq == seq {
				c.By = "forger"
			}
			again, err := evidence.Append(newest, c, e.Received.Time)
			ts.Check(err)
			newest = &again
			if !yield(again, nil) {
				return
			}
		}
	})
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o600))
}

// signer FILE NAME puts the fingerprint in a book's header, and its newest head as SEQ:HASH, into $NAME and $NAME_HEAD.
func signer(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: signer FILE NAME")
	}
	lines := strings.Split(strings.TrimSpace(ts.ReadFile(args[0])), "\n")
	var head struct {
		Key, Hash string
		Seq       int64
	}
	ts.Check(json.Unmarshal([]byte(lines[len(lines)-1]), &head))
	ts.Setenv(args[1], head.Key)
	ts.Setenv(args[1]+"_HEAD", strconv.FormatInt(head.Seq, 10)+":"+head.Hash)
}

// bomb FILE writes a YAML file of few bytes that would unfold to very many.
func bomb(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: bomb FILE")
	}
	var b strings.Builder
	b.WriteString("a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 12; i++ {
		n, before := strconv.Itoa(i), "*a"+strconv.Itoa(i-1)
		b.WriteString("a" + n + ": &a" + n + " [" + strings.Repeat(before+", ", 9) + before + "]\n")
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(b.String()), 0o600))
}
