package app

import "io/fs"

// pages are the files of the pages.
func pages() fs.FS { return nil }
