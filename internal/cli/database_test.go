package cli

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/store/pgtest"
)

// A team's books: two machines with the same installation.key work on one database, a third without it is refused.
func TestBooksOfATeamInADatabase(t *testing.T) {
	t.Setenv("PROOFBELL_DATABASE", pgtest.Database(t))
	first, second, third, site := t.TempDir(), t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "mill.yaml")
	if err := os.WriteFile(site, demo.Corrected, 0o600); err != nil {
		t.Fatal(err)
	}
	try := func(want int, args ...string) (string, string) {
		t.Helper()
		var out, errs strings.Builder
		if got := Main(context.Background(), args, strings.NewReader(""), &out, &errs); got != want {
			t.Fatalf("%v: exit %d, want %d\n%s%s", args, got, want, &out, &errs)
		}
		return strings.TrimSpace(out.String()), errs.String()
	}
	job, _ := try(Good, "import", site, "--data", first)
	if _, err := os.Stat(filepath.Join(first, "books.db")); err == nil {
		t.Error("books were made in the folder as well")
	}
	key, err := os.ReadFile(filepath.Join(first, "installation.key"))
	if err == nil {
		err = os.WriteFile(filepath.Join(second, "installation.key"), key, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(second, "mill.pbook")
	try(Good, "export", job, "--out", book, "--data", second)
	try(Good, "verify", book, "--data", first)
	_, said := try(Unusable, "export", job, "--data", third)
	if want := filepath.Join(third, "installation.key"); !strings.Contains(said, want) {
		t.Errorf("%s\nit does not name %s", said, want)
	}
	server := runServer(t, second)
	if line := strings.Join(server.said, "\n"); strings.Contains(line, "password") {
		t.Error(line)
	}
	server.wait(`^Books +database "t`)
}
