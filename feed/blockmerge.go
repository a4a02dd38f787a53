package feed

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"budward/vineyard/farm"
)

// Merge joins the blocks of a file to a farm's CSV files, as farm.ExportCSV writes
// them, and returns the files for farm.ImportCSV to check, with what was done to
// each block. A block whose id is there gets the columns the file gives and keeps
// the rest; another is added. A value that is now given is no longer listed as a
// default. Where a block's floor is in strips.csv, the floor columns of the file
// replace it only if they describe both strips. The input is not changed.
func (b *BlockFile) Merge(files map[string][]byte) (map[string][]byte, []BlockItem, error) {
	out := make(map[string][]byte, len(files))
	for name, data := range files {
		out[strings.ToLower(name)] = data
	}
	blocks, err := readGrid(farm.BlocksFile, out[farm.BlocksFile])
	if err != nil {
		return nil, nil, err
	}
	strips, err := readGrid(farm.StripsFile, out[farm.StripsFile])
	if err != nil {
		return nil, nil, err
	}
	defaults, err := readGrid(farm.DefaultsFile, out[farm.DefaultsFile])
	if err != nil {
		return nil, nil, err
	}
	if len(blocks.header) == 0 {
		blocks.header = []string{"id"}
	}
	idAt := slices.Index(blocks.header, "id")
	if idAt < 0 {
		return nil, nil, &Error{Origin: farm.BlocksFile, Line: 1, Field: "header", Value: short(strings.Join(blocks.header, ",")), Want: "a column id"}
	}
	var items []BlockItem
	for _, r := range b.Rows {
		i := slices.IndexFunc(blocks.rows, func(x []string) bool { return strings.EqualFold(strings.TrimSpace(x[idAt]), r.ID) })
		added := i < 0
		if added {
			i = len(blocks.rows)
			blocks.rows = append(blocks.rows, make([]string, len(blocks.header)))
		}
		item := BlockItem{Where: r.Where, ID: r.ID, Field: "block", Taken: true, Why: "added: not in the farm until now"}
		cells := r.Cells
		if !added {
			item.Why = "changed"
			cells = floorsTogether(r, &strips, &items)
		}
		changed := blocks.write(i, cells, added)
		if !added {
			if item.Why += ": " + strings.Join(changed, ", "); len(changed) == 0 {
				item.Why = "nothing new"
			}
			defaults.drop(func(row map[string]string) bool {
				return strings.EqualFold(row["where"], "block "+r.ID) && givenNow(row["field"], cells)
			})
		}
		items = append(items, item)
	}
	for name, g := range map[string]*csvGrid{farm.BlocksFile: &blocks, farm.StripsFile: &strips, farm.DefaultsFile: &defaults} {
		if len(g.header) > 0 {
			out[name] = writeCSV(append([][]string{g.header}, g.rows...))
		}
	}
	return out, items, nil
}

// floorColumns are the columns that describe a floor.
func floorColumn(name string) bool {
	return strings.HasPrefix(name, "undervine_") || strings.HasPrefix(name, "middle_")
}

// floorsTogether returns the cells of a row without its floor columns where those
// would lose a strip, and takes the strips away where they replace them.
func floorsTogether(r BlockRow, strips *csvGrid, items *[]BlockItem) map[string]string {
	given := false
	for c := range r.Cells {
		given = given || floorColumn(c)
	}
	mine := func(row map[string]string) bool { return strings.EqualFold(row["block"], r.ID) }
	if !given || !strips.has(mine) {
		return r.Cells
	}
	_, under := r.Cells["undervine_floor"]
	_, middle := r.Cells["middle_floor"]
	if under && middle {
		strips.drop(mine)
		*items = append(*items, BlockItem{Where: r.Where, ID: r.ID, Field: "floor", Taken: true, Why: "its strips were replaced by the floor columns"})
		return r.Cells
	}
	*items = append(*items, BlockItem{Where: r.Where, ID: r.ID, Field: "floor", Why: "its strips stay as they are: undervine_floor and middle_floor must both be given to replace them"})
	kept := map[string]string{}
	for c, v := range r.Cells {
		if !floorColumn(c) {
			kept[c] = v
		}
	}
	return kept
}

// givenNow says whether a default's field is among the cells.
func givenNow(field string, cells map[string]string) bool {
	for _, f := range strings.Split(field, ",") {
		if _, ok := cells[strings.TrimSpace(f)]; !ok {
			return false
		}
	}
	return true
}

// csvGrid is a CSV file as header and rows of equal width.
type csvGrid struct {
	header []string
	rows   [][]string
}

// readGrid reads a file; one that is not there has no header.
func readGrid(name string, data []byte) (csvGrid, error) {
	var g csvGrid
	data = bytes.TrimPrefix(data, utf8BOM)
	if len(bytes.TrimSpace(data)) == 0 {
		return g, nil
	}
	all, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return g, &Error{Origin: name, Value: err.Error(), Want: "rows of equal width with commas between, as `farm export` writes them", Err: err}
	}
	for _, h := range all[0] {
		g.header = append(g.header, foldColumn(h))
	}
	g.rows = all[1:]
	return g, nil
}

// write puts cells into a row, widening the grid for new columns, and returns the
// columns whose text changed.
func (g *csvGrid) write(i int, cells map[string]string, added bool) (changed []string) {
	for _, c := range blockColumns {
		v, ok := cells[c]
		if !ok || c == "id" && !added {
			continue
		}
		at := slices.Index(g.header, c)
		if at < 0 {
			at = len(g.header)
			g.header = append(g.header, c)
			for k := range g.rows {
				g.rows[k] = append(g.rows[k], "")
			}
		}
		if g.rows[i][at] != v {
			g.rows[i][at] = v
			changed = append(changed, c)
		}
	}
	return changed
}

func (g *csvGrid) named(row []string) map[string]string {
	m := make(map[string]string, len(row))
	for i, v := range row {
		m[g.header[i]] = strings.TrimSpace(v)
	}
	return m
}

func (g *csvGrid) has(match func(map[string]string) bool) bool {
	return slices.ContainsFunc(g.rows, func(r []string) bool { return match(g.named(r)) })
}

func (g *csvGrid) drop(match func(map[string]string) bool) {
	g.rows = slices.DeleteFunc(g.rows, func(r []string) bool { return match(g.named(r)) })
}

// String says in one line what a file of blocks came to.
func (b *BlockFile) String() string {
	s := fmt.Sprintf("%d blocks, %d items refused", len(b.Rows), b.Refused)
	if b.Rewound > 0 {
		s += fmt.Sprintf(", %d outlines turned round (RFC 7946 wants outer rings anticlockwise)", b.Rewound)
	}
	return s
}
