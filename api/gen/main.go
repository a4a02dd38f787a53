// Command gen writes what is generated from the API into the tree: its OpenAPI
// document and the TypeScript client of the pages. Run it with go generate ./api.
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"budward/api"
	"budward/api/client"
)

func main() {
	if err := write(".."); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

// write writes both files below the top folder of the tree, as seen from api.
func write(top string) error {
	doc := api.Document()
	text, err := client.Generate(doc)
	if err != nil {
		return err
	}
	for name, data := range map[string][]byte{"api/openapi.json": doc, "web/src/api/client.ts": text} {
		name = filepath.Join(top, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(name, data, 0o644); err != nil {
			return err
		}
	}
	return nil
}
