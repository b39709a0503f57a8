package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var embedded embed.FS

// migrations are the schema's steps as SQLite reads them.
var migrations = func() fs.FS {
	files, err := fs.Sub(embedded, "migrations")
	if err != nil {
		panic(err) // the path is a constant
	}
	return files
}()

// migrate brings a database up to date. One that a newer program has changed is refused: this one would not know its rules.
func migrate(ctx context.Context, db *sql.DB, dialect goose.Dialect, files fs.FS) error {
	p, err := goose.NewProvider(dialect, db, files, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	has, err := p.GetDBVersion(ctx)
	if err != nil {
		return err
	}
	sources := p.ListSources()
	if knows := sources[len(sources)-1].Version; has > knows {
		return fmt.Errorf("it was made by a newer version of this program (schema %d, this one knows %d): bring the program up to date", has, knows)
	}
	_, err = p.Up(ctx)
	return err
}
