// Package web holds the built front end: the pages, the service worker and the engine as WebAssembly.
//
// The sources beside this file are built into dist, which is not committed; a clone that was never
// built still compiles, and Built says so. Beside each file that is worth it lie NAME.gz and NAME.br, the
// same bytes compressed, for a server to send to those who accept them.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// BuildCommand is what a person types to build the front end into the program.
const BuildCommand = "./run"

// Files returns the built front end, rooted so that "index.html" is the page and "sw.js" the service
// worker. Names under "assets/" carry a digest of their content and never change. The result is read-only
// and safe for concurrent use.
func Files() fs.FS {
	files, err := fs.Sub(dist, "dist")
	if err != nil {
		panic(err) // only for an invalid name, and "dist" is not one
	}
	return files
}

// Built reports whether the front end, with its engine, was built before this program was.
// If it was not, say to the person that BuildCommand does it.
func Built() bool {
	for _, name := range []string{"index.html", "files.js", "engine.wasm"} {
		if _, err := fs.Stat(Files(), name); err != nil {
			return false
		}
	}
	return true
}
