// Package web holds the built page. Its sources are in src; make web builds
// them anew. The built files are kept with the sources, so that the program
// builds without node; a test fails when they are stale.
package web

import (
	"embed"
	"io/fs"
)

//go:embed dist
var dist embed.FS

// Assets are the built files: index.html, app.js, app.css.
func Assets() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		panic(err) // the folder is embedded
	}
	return sub
}
