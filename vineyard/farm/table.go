package farm

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Hard bounds on what is read.
const (
	MaxFileBytes  = 10 << 20
	maxColumns    = 200
	maxCellBytes  = 400_000 // a polygon of ten thousand points
	maxProblems   = 2000    // of one import; the rest are counted
	maxHeaderText = 100
)

// record is one data row of a CSV file.
type record struct {
	line  int
	cells []string
}

// table is a CSV file that has been cut into cells.
type table struct {
	file   string
	header []string // folded names
	rows   []record
}

// foldHeader writes a column name as the importer knows it: lower case, one _
// for spaces and hyphens.
func foldHeader(s string) string {
	s = strings.ToLower(strings.TrimSpace(s))
	s = strings.NewReplacer(" ", "_", "-", "_", "\t", "_").Replace(s)
	for strings.Contains(s, "__") {
		s = strings.ReplaceAll(s, "__", "_")
	}
	return strings.Trim(s, "_")
}

// parseTable cuts a file into rows. Byte-order marks, CRLF and comma, semicolon
// or tab are taken as they come. Anything that is not UTF-8, a row that is
// shorter or longer than the header, or a quote that never closes is a problem
// with its line; the rows that can be read are returned all the same.
func parseTable(file string, data []byte, maxRows int, report func(line int, field, value, want string)) table {
	t := table{file: file}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	switch {
	case len(data) > MaxFileBytes:
		report(0, "size", fmt.Sprintf("%d bytes", len(data)), fmt.Sprintf("at most %d bytes", MaxFileBytes))
		return t
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) || bytes.IndexByte(data, 0) >= 0:
		report(1+bytes.Count(data[:max(0, bytes.IndexByte(data, 0))], []byte{'\n'}), "encoding", "UTF-16 or binary", "UTF-8 text; save it as CSV UTF-8")
		return t
	case !utf8.Valid(data):
		line := 1
		for _, l := range bytes.SplitAfter(data, []byte{'\n'}) {
			if !utf8.Valid(l) {
				break
			}
			line++
		}
		report(line, "encoding", "not UTF-8", "UTF-8 text; save it as CSV UTF-8")
		return t
	case len(bytes.TrimSpace(data)) == 0:
		report(0, "file", "empty", "a header line and rows")
		return t
	}
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	comma, ok := separator(data)
	if !ok {
		report(1, "separator", firstLine(data), "commas, semicolons or tabs between the columns, only one of them in the header")
		return t
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace = comma, -1, comma != '\t'
	t.read(r, comma, maxRows, report)
	return t
}

func (t *table) read(r *csv.Reader, comma rune, maxRows int, report func(line int, field, value, want string)) {
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			report(pe.StartLine, "row", pe.Err.Error(), "complete cells; a quoted cell must be closed")
			return
		}
		line, _ := r.FieldPos(0)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if t.header == nil {
			if len(cells) > maxColumns {
				report(line, "header", fmt.Sprintf("%d columns", len(cells)), fmt.Sprintf("at most %d columns", maxColumns))
				return
			}
			for _, c := range cells {
				t.header = append(t.header, foldHeader(c))
			}
			continue
		}
		if strings.Join(cells, "") == "" {
			continue // spreadsheets leave blank rows
		}
		if len(t.rows) == maxRows {
			report(line, "rows", fmt.Sprintf("more than %d", maxRows), fmt.Sprintf("at most %d rows", maxRows))
			return
		}
		if !t.fits(cells, line, comma, report) {
			continue
		}
		t.rows = append(t.rows, record{line, cells})
	}
}

func (t *table) fits(cells []string, line int, comma rune, report func(line int, field, value, want string)) bool {
	if n, want := len(cells), len(t.header); n != want {
		hint := "a row cut short?"
		if n > want {
			hint = "one cell too many"
			if comma == ',' {
				hint = "a decimal comma? Write decimals with a point"
			}
		}
		report(line, "row", fmt.Sprintf("%d cells", n), fmt.Sprintf("%d cells, as the header has (%s)", want, hint))
		return false
	}
	for i, c := range cells {
		if len(c) > maxCellBytes {
			report(line, t.header[i], fmt.Sprintf("%d bytes", len(c)), fmt.Sprintf("at most %d bytes", maxCellBytes))
			return false
		}
	}
	return true
}

func firstLine(data []byte) string {
	line, _, _ := bytes.Cut(bytes.TrimLeft(data, "\n"), []byte{'\n'})
	if len(line) > maxHeaderText {
		line = line[:maxHeaderText]
	}
	return strings.ToValidUTF8(string(line), "")
}

// separator finds which of comma, semicolon and tab cuts the header. Two of
// them outside quotes leave it open, and the file is refused. A header of one
// column has none, and any will do.
func separator(data []byte) (rune, bool) {
	line, _, _ := bytes.Cut(bytes.TrimLeft(data, "\n"), []byte{'\n'})
	quoted := false
	counts := map[rune]int{}
	for _, r := range string(line) {
		switch r {
		case '"':
			quoted = !quoted
		case ',', ';', '\t':
			if !quoted {
				counts[r]++
			}
		}
	}
	found := ','
	for r := range counts {
		found = r
	}
	return found, len(counts) <= 1
}
