// Package web carries the pages: the built files of the Svelte source beside it,
// committed so that Go alone builds and runs the program.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// Assets returns the built files of the pages, index.html at the top.
func Assets() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		panic("web: " + err.Error()) // dist is a constant name that is embedded above
	}
	return sub
}
