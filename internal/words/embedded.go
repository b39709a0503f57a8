//go:build !js

package words

import (
	"embed"
	"io/fs"
)

//go:embed de/*.json
var files embed.FS

// embedded returns the catalogues of German by the names of their files.
func embedded() map[string][]byte {
	out := map[string][]byte{}
	names, _ := fs.Glob(files, "de/*.json") // fails on a bad pattern only
	for _, name := range names {
		raw, err := files.ReadFile(name)
		if err != nil {
			panic("words: " + name + ": " + err.Error()) // it was listed just now
		}
		out[name] = raw
	}
	return out
}
