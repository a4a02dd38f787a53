package sheet

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"budward/decide/nights"
	"budward/vineyard/farm"
)

// XLSX writes all tables as a workbook: Tonight, Nights, Tasks, Notes. Columns are
// those of the CSV, but times are dates of the spreadsheet in the farm's own
// clock, and their columns end in _local. Texts are kept as texts, never as
// formulas.
func XLSX(w io.Writer, a *nights.Answer, f *farm.Farm, o Options) (err error) {
	v, err := newView(a, f, o)
	if err != nil {
		return err
	}
	book := excelize.NewFile()
	defer func() {
		if failed := book.Close(); failed != nil && err == nil {
			err = fmt.Errorf("sheet: closing the workbook: %w", failed)
		}
	}()
	styles, err := newStyles(book)
	if err != nil {
		return fmt.Errorf("sheet: workbook: %w", err)
	}
	for i, which := range []Table{Tonight, Nights, Tasks, Notes} {
		t, err := v.table(which)
		if err != nil {
			return err
		}
		name := capital(string(which))
		if i == 0 {
			err = book.SetSheetName("Sheet1", name)
		} else {
			_, err = book.NewSheet(name)
		}
		if err == nil {
			err = v.writeSheet(book, name, &t, styles)
		}
		if err != nil {
			return fmt.Errorf("sheet: workbook, sheet %s: %w", name, err)
		}
	}
	if err := book.SetDocProps(&excelize.DocProperties{Title: plainText("Frost, " + a.FarmName), Creator: "budward", Created: a.At.UTC().Format(time.RFC3339), Modified: a.At.UTC().Format(time.RFC3339)}); err != nil {
		return fmt.Errorf("sheet: workbook: %w", err)
	}
	if err := book.Write(w); err != nil {
		return fmt.Errorf("sheet: writing the workbook: %w", err)
	}
	return nil
}

type sheetStyles struct{ head, when int }

func newStyles(book *excelize.File) (s sheetStyles, err error) {
	if s.head, err = book.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}}); err != nil {
		return s, err
	}
	format := "ddd d mmm yyyy hh:mm"
	s.when, err = book.NewStyle(&excelize.Style{CustomNumFmt: &format})
	return s, err
}

// writeSheet writes one table, its header fixed at the top.
func (v *view) writeSheet(book *excelize.File, name string, t *table, styles sheetStyles) error {
	at := func(col, row int) string {
		s, err := excelize.CoordinatesToCellName(col+1, row+1)
		if err != nil {
			panic("sheet: " + err.Error())
		}
		return s
	}
	for i, h := range t.header {
		if err := book.SetCellStr(name, at(i, 0), localHeader(h)); err != nil {
			return err
		}
	}
	if err := book.SetCellStyle(name, at(0, 0), at(len(t.header)-1, 0), styles.head); err != nil {
		return err
	}
	for r, row := range t.rows {
		for i, c := range row {
			if err := v.writeCell(book, name, at(i, r+1), c, styles); err != nil {
				return err
			}
		}
	}
	if err := book.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	return widths(book, name, t)
}

func (v *view) writeCell(book *excelize.File, name, cell string, c any, styles sheetStyles) error {
	switch x := c.(type) {
	case nil:
		return nil
	case string:
		return book.SetCellStr(name, cell, plainText(x))
	case float64:
		return book.SetCellFloat(name, cell, x, -1, 64)
	case time.Time:
		if err := book.SetCellValue(name, cell, wallClock(x, v.zone)); err != nil {
			return err
		}
		return book.SetCellStyle(name, cell, cell, styles.when)
	}
	panic(fmt.Sprintf("sheet: a cell of type %T", c))
}

// wallClock is what clocks in a zone show, as spreadsheets keep it: without a zone.
func wallClock(t time.Time, zone *time.Location) time.Time {
	l := t.In(zone)
	return time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), l.Second(), 0, time.UTC)
}

// localHeader renames a column of moments.
func localHeader(h string) string {
	if h == "at" {
		return "local"
	}
	if base, ok := strings.CutSuffix(h, "_at"); ok {
		return base + "_local"
	}
	return h
}

// widths sets columns to what they hold, within reason.
func widths(book *excelize.File, name string, t *table) error {
	for i, h := range t.header {
		most := 9.0
		for _, row := range t.rows {
			switch x := row[i].(type) {
			case string:
				most = max(most, float64(len([]rune(x))))
			case time.Time:
				most = max(most, 21)
			}
		}
		col, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := book.SetColWidth(name, col, col, min(60, max(most, float64(len(h))/2)+1)); err != nil {
			return err
		}
	}
	return nil
}
