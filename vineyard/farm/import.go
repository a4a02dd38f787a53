package farm

import (
	"fmt"
	"sort"
	"strings"
)

// The files of a farm. strips.csv is needed only where blocks.csv has no floor
// columns; defaults.csv is what an export writes so that values once taken for
// want of better stay marked: delete a line there when you give the value.
const (
	FarmFile      = "farm.csv"
	StationsFile  = "stations.csv"
	BlocksFile    = "blocks.csv"
	StripsFile    = "strips.csv"
	SourcesFile   = "sources.csv"
	EquipmentFile = "equipment.csv"
	PeopleFile    = "people.csv"
	DefaultsFile  = "defaults.csv"
)

// Files lists the names ImportCSV reads, in the order in which it reads them.
func Files() []string {
	return []string{FarmFile, StationsFile, SourcesFile, EquipmentFile, PeopleFile, BlocksFile, StripsFile, DefaultsFile}
}

type loc struct {
	file string
	line int
}

type cellKey struct {
	kind  string
	index int
	field string
}

type importer struct {
	files    map[string][]byte
	problems []Problem
	dropped  int // problems beyond maxProblems
	lines    map[string][]loc
	bad      map[cellKey]bool // cells already reported
	defaults []Default
	noFarm   bool // farm.csv could not be read, and that was reported
}

// ImportCSV reads a farm from its CSV files (by file name) and checks it. Every
// problem is listed at once, errors first, each with file, line, field, value
// and what was expected; with an error among them the farm must not be used.
// Units are written in the cells ("12ac", "10gpm/ac"). Column names may be in
// any case, with spaces or hyphens. Nothing is filled in silently: every
// default taken is in Farm.Defaults with its source. It never panics on any
// input and reads at most MaxFileBytes per file and the Max counts of rows.
func ImportCSV(files map[string][]byte, known Known) (Farm, []Problem) {
	imp := &importer{files: map[string][]byte{}, lines: map[string][]loc{}, bad: map[cellKey]bool{}}
	imp.take(files)
	var f Farm
	farms := readTable(imp, FarmFile, "farm", farmColumns(), 1, func(p *Farm) string { return "" }, true)
	if len(farms) == 1 {
		f = farms[0]
	}
	id := func(s string) string { return " " + s }
	stations := readTable(imp, StationsFile, "station", stationColumns(), MaxStations, func(p *stationRow) string { return id(p.s.ID) }, false)
	for i := range stations {
		imp.station(&f, i, &stations[i])
		f.Stations = append(f.Stations, stations[i].s)
	}
	f.Sources = readTable(imp, SourcesFile, "source", sourceColumns(), MaxSources, func(p *Source) string { return id(p.ID) }, false)
	f.Equipment = readTable(imp, EquipmentFile, "equipment", equipmentColumns(), MaxEquipment, func(p *Equipment) string { return id(p.ID) }, false)
	f.People = readTable(imp, PeopleFile, "person", personColumns(), MaxPeople, func(p *Person) string { return id(p.ID) }, false)
	blocks := readTable(imp, BlocksFile, "block", blockColumns(), MaxBlocks, func(p *blockRow) string { return id(p.b.ID) }, true)
	imp.blocks(&f, blocks)
	imp.mergeDefaults(&f)
	imp.noFarm = len(farms) != 1
	c := &checker{known: known, locate: imp.locate, skip: imp.skip}
	c.farm(f)
	for _, p := range c.problems {
		imp.report(p.Severity, p.File, p.Line, p.Where, p.Field, p.Value, p.Want, p.Means)
	}
	if imp.dropped > 0 {
		imp.problems = append(imp.problems, Problem{Severity: SeverityError, Where: "import", Field: "problems",
			Value: fmt.Sprintf("%d more", imp.dropped), Want: fmt.Sprintf("fewer than %d; put these right and read again", maxProblems)})
	}
	SortProblems(imp.problems)
	return f, imp.problems
}

func (imp *importer) take(files map[string][]byte) {
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		low := strings.ToLower(n)
		wanted := false
		for _, k := range Files() {
			wanted = wanted || low == k
		}
		if !wanted {
			imp.report(SeverityWarning, n, 0, "", "file", n, "one of "+strings.Join(Files(), ", "), "it was not read")
			continue
		}
		if _, twice := imp.files[low]; twice {
			imp.report(SeverityError, n, 0, "", "file", n, "each file once, whatever its capitals", "")
			continue
		}
		imp.files[low] = files[n]
	}
}

func (imp *importer) report(s Severity, file string, line int, where, field, value, want, means string) {
	if len(imp.problems) >= maxProblems {
		imp.dropped++
		return
	}
	if len(value) > maxName {
		value = strings.ToValidUTF8(value[:maxName], "") + "..."
	}
	imp.problems = append(imp.problems, Problem{s, file, line, where, field, value, want, means})
}

// cell reports a cell and marks it, so that Check does not report it again.
func (imp *importer) cell(kind string, index int, where, field, value, want string) {
	l := imp.lines[kind][index]
	imp.bad[cellKey{kind, index, field}] = true
	imp.report(SeverityError, l.file, l.line, where, field, value, want, "")
}

func (imp *importer) note(where, field, value, why string) {
	imp.defaults = append(imp.defaults, Default{where, field, value, why})
}

func (imp *importer) locate(kind string, index int) (string, int) {
	if ls := imp.lines[kind]; index < len(ls) {
		return ls[index].file, ls[index].line
	}
	return "", 0
}

func (imp *importer) skip(kind string, index int, field string) bool {
	return imp.bad[cellKey{kind, index, field}] || (imp.noFarm && kind == "farm")
}

// readTable reads one file into rows of T. The line of each row is kept under
// kind; empty cells take their default, which is listed.
func readTable[T any](imp *importer, file, kind string, cols []column[T], maxRows int, id func(*T) string, need bool) []T {
	data, ok := imp.files[file]
	if !ok {
		if need {
			imp.report(SeverityError, file, 0, "", "file", "", "the file "+file, "")
		}
		return nil
	}
	t := parseTable(file, data, maxRows, func(line int, field, value, want string) {
		imp.report(SeverityError, file, line, "", field, value, want, "")
	})
	if t.header == nil {
		return nil
	}
	place := bind(imp, t, cols)
	if len(t.rows) == 0 && need {
		imp.report(SeverityError, file, 0, "", "rows", "0", "at least one row below the header", "")
	}
	var out []T // no rows: nil, as in a farm made by hand
	for i, r := range t.rows {
		imp.lines[kind] = append(imp.lines[kind], loc{file, r.line})
		out = append(out, readRow(imp, kind, i, r, cols, place, id))
	}
	return out
}

// bind finds the place of each column in the header, and reports columns that
// are unknown, doubled or missing.
func bind[T any](imp *importer, t table, cols []column[T]) map[string]int {
	place := map[string]int{}
	known := map[string]bool{"notes": true} // may hold anything, is not read
	for _, c := range cols {
		known[c.name] = true
	}
	for i, h := range t.header {
		switch {
		case h == "" && emptyColumn(t, i):
		case !known[h]:
			imp.report(SeverityWarning, t.file, 1, "", "column", h, "one of the columns of "+t.file+nearest(h, known), "it was not read")
		case hasKey(place, h):
			imp.report(SeverityError, t.file, 1, "", "column", h, "each column once", "")
		default:
			place[h] = i
		}
	}
	for _, c := range cols {
		if _, ok := place[c.name]; c.need && !ok {
			imp.report(SeverityError, t.file, 1, "", "column", "", "the column "+c.name, "")
		}
	}
	return place
}

func hasKey(m map[string]int, k string) bool { _, ok := m[k]; return ok }

func emptyColumn(t table, i int) bool {
	for _, r := range t.rows {
		if r.cells[i] != "" {
			return false
		}
	}
	return true
}

// nearest suggests the known name that shares the longest beginning, if that
// is most of it.
func nearest(h string, known map[string]bool) string {
	best, most := "", 0
	for k := range known {
		n := 0
		for n < len(k) && n < len(h) && k[n] == h[n] {
			n++
		}
		if n > most || (n == most && k < best) {
			best, most = k, n
		}
	}
	if most >= 4 {
		return fmt.Sprintf(" (%q?)", best)
	}
	return ""
}

func readRow[T any](imp *importer, kind string, index int, r record, cols []column[T], place map[string]int, id func(*T) string) T {
	var row T
	where := func() string { return kind + id(&row) }
	for _, c := range cols {
		cell := ""
		p, there := place[c.name]
		if there {
			cell = r.cells[p]
		}
		switch {
		case cell != "":
			if err := c.read(&row, cell); err != nil {
				imp.cell(kind, index, where(), c.name, cell, wantOf(err))
			}
		case c.need && there:
			imp.cell(kind, index, where(), c.name, "", "a value")
		case c.need:
			imp.bad[cellKey{kind, index, c.name}] = true // the missing column is reported once
		case c.def != "":
			if err := c.read(&row, c.def); err != nil {
				panic("farm: default of column " + c.name + " cannot be read: " + err.Error())
			}
			imp.note(where(), c.name, c.def, c.why)
		}
	}
	return row
}
