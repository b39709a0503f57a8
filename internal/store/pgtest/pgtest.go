// Package pgtest gives tests PostgreSQL databases of their own.
package pgtest

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Variable is the environment variable with the address of a server that tests may make databases on. ./test starts one.
const Variable = "PROOFBELL_TEST_PG"

// Database makes an empty database and returns its address; it is dropped when the test ends. Without a server the test is
// skipped.
func Database(t testing.TB) string {
	t.Helper()
	return database(t, server(t))
}

func server(t testing.TB) string {
	t.Helper()
	s := os.Getenv(Variable)
	if s == "" {
		t.Skip("skipped: " + Variable + " names no PostgreSQL server; ./test starts one")
	}
	return s
}

func database(t testing.TB, server string) string {
	t.Helper()
	name := "t" + strings.ToLower(rand.Text())
	run(t, server, `CREATE DATABASE `+name)
	t.Cleanup(func() { run(t, server, `DROP DATABASE IF EXISTS `+name+` WITH (FORCE)`) })
	address, err := url.Parse(server)
	if err != nil {
		t.Fatal(err)
	}
	address.Path = "/" + name
	return address.String()
}

func run(t testing.TB, server, query string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	c, err := pgx.Connect(ctx, server)
	if err == nil {
		_, err = c.Exec(ctx, query)
		_ = c.Close(ctx)
	}
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
}

// Server is a server of one test alone, which may stop it. What it commits is on disk.
type Server struct {
	t      testing.TB
	folder string
}

// Start starts a server in a folder of its own, on a socket there. It is skipped where Database is.
func Start(t testing.TB) *Server {
	t.Helper()
	server(t)
	folder, err := os.MkdirTemp("", "pg") // short: a socket's path has a limit
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{t, folder}
	t.Cleanup(func() {
		_ = s.command("pg_ctl", "-D", s.data(), "-m", "immediate", "-w", "stop").Run() // it may be stopped already
		if err := os.RemoveAll(folder); err != nil {
			t.Error(err)
		}
	})
	if os.Getuid() == 0 { // the server does not run as root
		u, err := user.Lookup("postgres")
		if err != nil {
			t.Fatal(err)
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		if err := os.Chown(folder, uid, gid); err != nil {
			t.Fatal(err)
		}
	}
	s.run("initdb", "-D", s.data(), "-U", "proof", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
	s.Start()
	return s
}

func (s *Server) data() string { return filepath.Join(s.folder, "data") }

// Database makes an empty database and returns its address.
func (s *Server) Database() string {
	s.t.Helper()
	name := "t" + strings.ToLower(rand.Text())
	run(s.t, s.address("postgres"), `CREATE DATABASE `+name)
	return s.address(name)
}

func (s *Server) address(name string) string {
	return "postgres:///" + name + "?user=proof&host=" + url.QueryEscape(s.folder)
}

// Start starts a server that was stopped, and returns when it answers.
func (s *Server) Start() {
	s.t.Helper()
	s.run("pg_ctl", "-D", s.data(), "-l", filepath.Join(s.folder, "log"), "-o", "-c listen_addresses='' -k "+s.folder, "-w", "start")
}

// Kill ends the server at once, as a fault would: it recovers at the next start.
func (s *Server) Kill() {
	s.t.Helper()
	s.run("pg_ctl", "-D", s.data(), "-m", "immediate", "-w", "stop")
}

// Holds says whether a file of a table holds these bytes, after all that waits in memory was written.
func (s *Server) Holds(db *sql.DB, what []byte) bool {
	s.t.Helper()
	if _, err := db.Exec(`CHECKPOINT`); err != nil {
		s.t.Fatal(err)
	}
	found := false
	err := filepath.WalkDir(filepath.Join(s.data(), "base"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		found = found || bytes.Contains(raw, what)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return found
}

func (s *Server) run(name string, args ...string) {
	s.t.Helper()
	if out, err := s.command(name, args...).CombinedOutput(); err != nil {
		s.t.Fatalf("%s: %v\n%s", name, err, out)
	}
}

// command is a program of the newest installed server, not run as root.
func (s *Server) command(name string, args ...string) *exec.Cmd {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	slices.SortFunc(found, func(a, b string) int { return version(a) - version(b) })
	if len(found) > 0 {
		name = found[len(found)-1]
	}
	args = append([]string{name}, args...)
	if os.Getuid() == 0 {
		args = append([]string{"runuser", "-u", "postgres", "--"}, args...)
	}
	c := exec.Command(args[0], args[1:]...)
	c.Dir = s.folder
	return c
}

func version(path string) int {
	n, _ := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(path))))
	return n
}
