package app

import (
	"io/fs"

	"budward/web"
)

// pages are the files of the pages.
func pages() fs.FS { return web.Assets() }
