package feed

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"budward/vineyard/farm"
)

// Formats of blocks.
const (
	GeoJSON Format = "geojson" // outlines with properties, RFC 7946
	XLSX    Format = "xlsx"    // a sheet with the columns of blocks.csv
)

// Bounds of files of blocks.
const (
	MaxBlockBytes  = 20 << 20 // as sent
	maxUnzipped    = 64 << 20 // a workbook unpacked
	MaxBlockItems  = 2000     // listed one by one; the rest are counted
	maxRingTested  = 2000     // points of an outline that is tested for crossing itself
	maxBlockValues = 400_000  // bytes of one value, as farm.ImportCSV takes
)

// BlockItem is one thing that was taken, worked out, or refused, and why.
type BlockItem struct {
	Where string `json:"where"` // "feature 3", "row 5"
	ID    string `json:"id"`    // of the block, where known
	Field string `json:"field"`
	Value string `json:"value"`
	Taken bool   `json:"taken"`
	Why   string `json:"why"`
}

// BlockRow is one block as the file describes it: some columns of blocks.csv,
// each with its text, units included.
type BlockRow struct {
	ID    string
	Where string
	Cells map[string]string
}

// BlockFile is what one file of blocks delivered. It is partial: a map has
// outlines and areas, but no floors. Merge joins it to what is known by the
// blocks' ids; farm.ImportCSV then checks the whole.
type BlockFile struct {
	Origin    string
	Rows      []BlockRow
	Items     []BlockItem // the first MaxBlockItems
	ItemTotal int
	Refused   int // of the items, those that were not taken
	Rewound   int // outlines whose points ran the wrong way round; turned
}

func (b *BlockFile) item(i BlockItem) {
	b.ItemTotal++
	if !i.Taken {
		b.Refused++
	}
	i.Value = short(i.Value)
	if len(b.Items) < MaxBlockItems {
		b.Items = append(b.Items, i)
	}
}

// BlockOptions say what a file cannot say of itself.
type BlockOptions struct {
	Format Format // Unknown: found out
	// Names maps the file's own names of properties or columns to columns of
	// blocks.csv, such as {"VARIETY": "cultivar", "ACRES": "area_ac"}. A unit may
	// stand at the end of the column; "notes" leaves a name out. Without an entry,
	// names are compared as they are.
	Names map[string]string
	Sheet string // of a workbook; "": "blocks", or the only one
}

// DecodeBlocks reads blocks from GeoJSON or XLSX. Every block and value that was
// taken, worked out or refused is listed with its reason. An error is an *Error;
// it means nothing was taken.
func DecodeBlocks(name string, r io.Reader, opts BlockOptions) (BlockFile, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBlockBytes+1))
	switch {
	case err != nil:
		return BlockFile{}, &Error{Origin: name, Value: "cannot be read: " + err.Error(), Want: "a readable file", Err: err}
	case len(raw) > MaxBlockBytes:
		return BlockFile{}, tooBig(name, MaxBlockBytes)
	}
	format := opts.Format
	if format == Unknown {
		format = detectBlocks(raw)
	}
	b := BlockFile{Origin: name}
	m := mapper{file: &b, names: opts.Names, unused: map[string]bool{}, ids: map[string]string{}}
	if err := m.check(); err != nil {
		return BlockFile{}, err
	}
	switch format {
	case GeoJSON:
		err = decodeGeoJSON(&m, raw)
	case XLSX:
		err = decodeXLSX(&m, raw, opts.Sheet)
	default:
		err = &Error{Origin: name, Value: fmt.Sprintf("begins with %.40q", raw[:min(len(raw), 40)]), Want: "GeoJSON or an XLSX workbook", Err: ErrUnknownFormat}
	}
	if err != nil {
		return BlockFile{}, err
	}
	if len(b.Rows) == 0 {
		e := &Error{Origin: name, Value: fmt.Sprintf("no block could be taken (%d items refused)", b.Refused), Want: "at least one block with an id"}
		if i := slices.IndexFunc(b.Items, func(i BlockItem) bool { return !i.Taken }); i >= 0 {
			e.Value += "; first: " + b.Items[i].Where + ": " + b.Items[i].Why
		}
		return BlockFile{}, e
	}
	return b, nil
}

func detectBlocks(raw []byte) Format {
	if bytes.HasPrefix(raw, []byte("PK\x03\x04")) {
		return XLSX
	}
	if head := bytes.TrimLeft(bytes.TrimPrefix(raw, utf8BOM), " \t\r\n"); len(head) > 0 && head[0] == '{' {
		return GeoJSON
	}
	return Unknown
}

// blockColumns lists the columns of blocks.csv in their order, as the farm
// package writes and explains them.
var blockColumns = func() []string {
	var out []string
	add := func(header string) {
		line, _, _ := strings.Cut(header, "\n")
		for _, c := range strings.Split(strings.TrimSpace(line), ",") {
			if !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	add(farm.ExportCSV(farm.Farm{})[farm.BlocksFile])
	add(farm.Template()[farm.BlocksFile])
	for _, strip := range []string{"undervine_moisture", "middle_moisture"} {
		for _, c := range []string{"_spread", "_source", "_at"} {
			add(strip + c)
		}
	}
	return out
}()

// notesColumn may hold anything; the farm does not read it.
const notesColumn = "notes"

// columnAlias are other plain names of a column.
var columnAlias = map[string]string{"block": "id", "block_id": "id", "blockid": "id", "variety": "cultivar", "block_name": "name",
	"latitude": "lat", "longitude": "lon", "texture": "soil", "soil_texture": "soil", "station_id": "station", "source_id": "source"}

// unitEndings are units as a column name carries them, and as a cell does.
var unitEndings = map[string]string{"ha": "ha", "ac": "ac", "acres": "ac", "m": "m", "cm": "cm", "ft": "ft", "in": "in", "k": "K", "f": "F",
	"mm_h": "mm/h", "gpm_ac": "gpm/ac", "h": "h", "min": "min", "lph": "L/h", "gph": "gph", "t_ha": "t/ha", "ton_ac": "ton/ac", "per_t": "/t", "per_ton": "/ton",
	"per_h": "/h", "pct": "%"}

// foldColumn writes a name as columns are written: lower case, one _ for other
// signs.
func foldColumn(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '-' || r == '_' || r == '\t' || r == '.' }), "_")
}

// findColumn reads a name as a column of blocks.csv, with or without a unit at its
// end. Acres and hectares by themselves are areas.
func findColumn(name string) (column, unit string, ok bool) {
	s := foldColumn(name)
	if to, found := columnAlias[s]; found {
		s = to
	}
	switch s {
	case "acres":
		return "area", "ac", true
	case "hectares":
		return "area", "ha", true
	}
	if slices.Contains(blockColumns, s) {
		return s, "", true
	}
	best := ""
	for end := range unitEndings {
		if base, found := strings.CutSuffix(s, "_"+end); found && slices.Contains(blockColumns, base) && len(end) > len(best) {
			column, unit, ok, best = base, unitEndings[end], true, end
		}
	}
	return column, unit, ok
}

// mapper turns the names and values of a file into cells.
type mapper struct {
	file   *BlockFile
	names  map[string]string
	unused map[string]bool   // names already told of
	ids    map[string]string // of the rows taken, in lower case, and where they stood
}

func (m *mapper) check() error {
	for from, to := range m.names {
		if _, _, ok := findColumn(to); !ok && foldColumn(to) != notesColumn {
			return &Error{Origin: m.file.Origin, Field: "names", Value: short(from + "=" + to), Want: "for each name a column of blocks.csv: " + short2(strings.Join(blockColumns, ", "), 900)}
		}
	}
	return nil
}

// column finds the column for a name of the file; a name without one is told of
// once.
func (m *mapper) column(name string) (column, unit string, ok bool) {
	to, mapped := m.names[name]
	if !mapped {
		to = name
	}
	if column, unit, ok = findColumn(to); !ok && !m.unused[name] && foldColumn(to) != notesColumn {
		m.unused[name] = true
		m.file.item(BlockItem{Where: "all blocks", Field: name, Why: "not a column of blocks.csv; not used"})
	}
	return column, unit, ok
}

// cell writes a value with the unit its name carries. Text that has its own unit
// keeps it.
func cell(value, unit string) string {
	value = strings.TrimSpace(value)
	if unit == "" || value == "" {
		return value
	}
	if _, why := parseNumber(value, false); why != "" {
		return value
	}
	return value + unit
}

// put adds a value to a row, or says why not.
func (m *mapper) put(row *BlockRow, name, value string) {
	column, unit, ok := m.column(name)
	if !ok || strings.TrimSpace(value) == "" {
		return
	}
	refuse := func(why string) {
		m.file.item(BlockItem{Where: row.Where, ID: row.ID, Field: name, Value: value, Why: why})
	}
	switch _, twice := row.Cells[column]; {
	case twice:
		refuse("column " + column + " was given already; the first counts")
	case len(value) > maxBlockValues:
		refuse(fmt.Sprintf("longer than %d bytes", maxBlockValues))
	case strings.ContainsFunc(value, func(r rune) bool { return r < ' ' && r != '\t' }):
		refuse("not text in one line")
	default:
		row.Cells[column] = cell(value, unit)
	}
}

// take adds a row, unless its id is missing or was there before.
func (m *mapper) take(row BlockRow) bool {
	row.ID = row.Cells["id"]
	b := m.file
	refuse := func(value, why string) bool {
		b.item(BlockItem{Where: row.Where, ID: row.ID, Field: "id", Value: value, Why: why})
		return false
	}
	if row.ID == "" {
		return refuse("", "a block has an id")
	}
	if len(b.Rows) >= farm.MaxBlocks {
		return refuse(row.ID, fmt.Sprintf("more than %d blocks", farm.MaxBlocks))
	}
	if first, twice := m.ids[strings.ToLower(row.ID)]; twice {
		return refuse(row.ID, "the id of "+first+" again; the first counts")
	}
	m.ids[strings.ToLower(row.ID)] = row.Where
	b.Rows = append(b.Rows, row)
	var given []string
	for _, c := range blockColumns {
		if _, ok := row.Cells[c]; ok && c != "id" {
			given = append(given, c)
		}
	}
	b.item(BlockItem{Where: row.Where, ID: row.ID, Field: "block", Taken: true, Why: fmt.Sprintf("taken with %d columns: %s", len(given), strings.Join(given, ", "))})
	return true
}

// CSV writes the rows as a blocks.csv with the columns that were given.
func (b *BlockFile) CSV() []byte {
	var header []string
	for _, c := range blockColumns {
		if slices.ContainsFunc(b.Rows, func(r BlockRow) bool { _, ok := r.Cells[c]; return ok }) {
			header = append(header, c)
		}
	}
	rows := [][]string{header}
	for _, r := range b.Rows {
		cells := make([]string, len(header))
		for i, c := range header {
			cells[i] = r.Cells[c]
		}
		rows = append(rows, cells)
	}
	return writeCSV(rows)
}

func writeCSV(rows [][]string) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	if err := w.WriteAll(rows); err != nil {
		panic("feed: writing CSV to memory failed: " + err.Error())
	}
	return out.Bytes()
}

func plainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
