package feed

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"budward/vineyard/farm"
)

// blockSheet is the name of the sheet that is looked for.
const blockSheet = "blocks"

// decodeXLSX reads a sheet with the columns of blocks.csv; units stand in the
// cells as text (12ac) or at the end of a column's name (area_ac) over plain
// numbers. The first row that is not empty is the header. Cells with a formula
// count as they were last calculated.
func decodeXLSX(m *mapper, raw []byte, sheet string) (err error) {
	origin := m.file.Origin
	defer func() {
		// The reader of workbooks is not ours and a workbook may be hostile: what
		// breaks it is a file that cannot be read.
		if broken := recover(); broken != nil {
			err = &Error{Origin: origin, Value: fmt.Sprintf("the workbook cannot be read: %v", broken), Want: "a workbook saved as XLSX"}
		}
	}()
	f, err := excelize.OpenReader(bytes.NewReader(raw), excelize.Options{UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxUnzipped})
	if err != nil {
		return &Error{Origin: origin, Value: short("cannot be opened: " + err.Error()), Want: "a workbook saved as XLSX, without a password", Err: err}
	}
	defer func() {
		if failed := f.Close(); failed != nil && err == nil {
			err = &Error{Origin: origin, Value: "closing the workbook: " + failed.Error(), Want: "room for its temporary files", Err: failed}
		}
	}()
	if sheet, err = pickSheet(origin, f, sheet); err != nil {
		return err
	}
	return m.sheet(f, sheet)
}

func pickSheet(origin string, f *excelize.File, sheet string) (string, error) {
	all := f.GetSheetList()
	want := sheet
	if want == "" {
		want = blockSheet
	}
	for _, s := range all {
		if strings.EqualFold(s, want) {
			return s, nil
		}
	}
	if sheet == "" && len(all) == 1 {
		return all[0], nil
	}
	return "", &Error{Origin: origin, Field: "sheet", Value: short2(fmt.Sprintf("%q", all), 200), Want: fmt.Sprintf("one named %q", want)}
}

// sheetReader reads a sheet row by row, as kept and as shown.
type sheetReader struct {
	m          *mapper
	f          *excelize.File
	sheet      string
	header     []string
	calculated int  // cells with a formula
	from1904   bool // days are counted from 1904
}

const maxSheetColumns = 200

func (m *mapper) sheet(f *excelize.File, sheet string) error {
	kept, err := f.Rows(sheet)
	if err != nil {
		return sheetError(m.file.Origin, err)
	}
	shown, err := f.Rows(sheet)
	if err != nil {
		return sheetError(m.file.Origin, err)
	}
	defer kept.Close()
	defer shown.Close()
	s := &sheetReader{m: m, f: f, sheet: sheet}
	if props, err := f.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		s.from1904 = *props.Date1904
	}
	for n := 1; kept.Next() && shown.Next(); n++ {
		if n > farm.MaxBlocks+100 {
			m.file.item(BlockItem{Where: fmt.Sprintf("row %d", n), Why: "too many rows; this and what follows was not read"})
			break
		}
		raw, err := kept.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return sheetError(m.file.Origin, err)
		}
		text, err := shown.Columns()
		if err != nil {
			return sheetError(m.file.Origin, err)
		}
		if err := s.row(n, raw, text); err != nil {
			return err
		}
	}
	if s.header == nil {
		return &Error{Origin: m.file.Origin, Field: "sheet", Value: strconv.Quote(short(sheet)) + " is empty", Want: "a header row and blocks below it"}
	}
	if s.calculated > 0 {
		m.file.item(BlockItem{Where: "sheet " + sheet, Value: fmt.Sprintf("%d cells", s.calculated), Taken: true, Why: "cells with a formula count as they were last calculated"})
	}
	return nil
}

func sheetError(origin string, err error) error {
	return &Error{Origin: origin, Value: short("the sheet cannot be read: " + err.Error()), Want: "a whole workbook", Err: err}
}

func (s *sheetReader) row(n int, raw, text []string) error {
	if !slices.ContainsFunc(raw, func(c string) bool { return strings.TrimSpace(c) != "" }) {
		return nil
	}
	if len(raw) > maxSheetColumns {
		return &Error{Origin: s.m.file.Origin, Line: n, Value: fmt.Sprintf("%d columns", len(raw)), Want: fmt.Sprintf("at most %d", maxSheetColumns)}
	}
	if s.header == nil {
		s.header = raw
		if !slices.ContainsFunc(raw, func(h string) bool { c, _, ok := s.m.column(h); return ok && c == "id" }) {
			return &Error{Origin: s.m.file.Origin, Line: n, Field: "header", Value: short(strings.Join(raw, ", ")), Want: "a column id"}
		}
		return nil
	}
	row := BlockRow{Where: "row " + strconv.Itoa(n), Cells: map[string]string{}}
	for i, value := range raw {
		shown := ""
		if i < len(text) {
			shown = text[i]
		}
		name := ""
		if i < len(s.header) {
			name = strings.TrimSpace(s.header[i])
		}
		if name == "" {
			if strings.TrimSpace(value) != "" {
				s.refuse(&row, i, value, "the column has no name")
			}
			continue
		}
		if v, ok := s.value(&row, n, i, name, value, shown); ok {
			s.m.put(&row, name, v)
		}
	}
	row.ID = row.Cells["id"]
	s.m.take(row)
	return nil
}

func (s *sheetReader) refuse(row *BlockRow, i int, value, why string) {
	name := ""
	if i < len(s.header) {
		name = s.header[i]
	}
	s.m.file.item(BlockItem{Where: row.Where, ID: row.Cells["id"], Field: name, Value: value, Why: why})
}

// sheetErrors are what spreadsheets write for a formula that failed.
var sheetErrors = map[string]bool{"#DIV/0!": true, "#N/A": true, "#NAME?": true, "#NULL!": true, "#NUM!": true, "#REF!": true, "#VALUE!": true,
	"#SPILL!": true, "#CALC!": true, "#GETTING_DATA": true}

// value reads one cell: text as it is, numbers in full, percentages and dates as
// they are meant.
func (s *sheetReader) value(row *BlockRow, n, i int, name, raw, shown string) (string, bool) {
	at, err := excelize.CoordinatesToCellName(i+1, n)
	if err != nil {
		return "", false
	}
	formula, err := s.f.GetCellFormula(s.sheet, at)
	if err != nil {
		s.refuse(row, i, raw, "the cell cannot be read: "+err.Error())
		return "", false
	}
	if formula != "" {
		if s.calculated++; strings.TrimSpace(raw) == "" {
			s.refuse(row, i, "="+formula, "a formula without a value: open the workbook, let it calculate, and save it")
			return "", false
		}
	}
	if sheetErrors[strings.TrimSpace(raw)] {
		s.refuse(row, i, raw, "an error of the spreadsheet")
		return "", false
	}
	x, why := parseNumber(strings.TrimSpace(raw), false)
	if why != "" {
		return raw, true
	}
	column, _, _ := findColumn(name)
	switch {
	case strings.HasSuffix(strings.TrimSpace(shown), "%"):
		return strconv.FormatFloat(x*100, 'f', -1, 64) + "%", true
	case strings.HasSuffix(column, "_at"):
		t, err := excelize.ExcelDateToTime(x, s.from1904)
		if err != nil {
			s.refuse(row, i, raw, "not a date")
			return "", false
		}
		return t.Format(time.DateOnly), true
	case column == "id" || column == "name":
		return strings.TrimSpace(shown), true
	}
	return plainNumber(x), true
}
