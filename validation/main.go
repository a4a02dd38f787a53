// Command validation holds what budward computes against what others measured
// or wrote down, and writes docs/validation.md with its plots: one page that a
// grower or a scientist can check, with the failures as plain as the successes.
// Run it from anywhere within the tree: go run ./validation [-check].
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	check := flag.Bool("check", false, "write nothing; fail if the committed page or a plot is not what would be written")
	flag.Parse()
	if err := run(*check); err != nil {
		fmt.Fprintln(os.Stderr, "validation:", err)
		os.Exit(1)
	}
}

func run(check bool) error {
	root, err := moduleRoot()
	if err != nil {
		return err
	}
	files, err := pages(root)
	if err != nil {
		return err
	}
	for _, f := range files {
		path := filepath.Join(root, "docs", filepath.FromSlash(f.name))
		if check {
			old, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			if where := differs(string(old), f.text); where != "" {
				return fmt.Errorf("%s is not what the records give now: %s; run go run ./validation", path, where)
			}
			continue
		}
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, []byte(f.text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// moduleRoot walks up to the folder of go.mod.
func moduleRoot() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir, nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", fmt.Errorf("no go.mod above the working folder: run it within the tree")
		}
		dir = up
	}
}

// page is a file below docs.
type page struct{ name, text string }
