package sheet

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// Table is a table that can be written.
type Table string

// The tables.
const (
	Tonight Table = "tonight" // a row for each block
	Nights  Table = "nights"  // a row for each block and night
	Tasks   Table = "tasks"   // what to do, in order of time
	Notes   Table = "notes"   // what the answer rests on
)

// table is a table in memory. A cell is nil (not known), a string, a float64, an
// int or a time.Time.
type table struct {
	header []string
	rows   [][]any
}

// number is a cell of a value that may not be known, rounded to so many digits
// after the point.
func number(x float64, digits int) any {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	p := math.Pow(10, float64(digits))
	return math.Round(x*p)/p + 0 // never -0
}

func moment(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t
}

// unitNames are the endings of the columns. A difference of temperatures in
// Fahrenheit degrees is _delta_f: it never takes the 32-degree offset.
type unitNames struct{ temp, diff, area, crop string }

func (v *view) unitNames() unitNames {
	if v.o.Units == quantity.US {
		return unitNames{"_f", "_delta_f", "_ac", "_ton"}
	}
	return unitNames{"_c", "_k", "_ha", "_t"}
}

func (v *view) temp(c *quantity.Celsius) any {
	switch {
	case c == nil:
		return nil
	case v.o.Units == quantity.US:
		return number(c.Fahrenheit(), 2)
	}
	return number(float64(*c), 2)
}

func (v *view) diff(k *quantity.Kelvin) any {
	switch {
	case k == nil:
		return nil
	case v.o.Units == quantity.US:
		return number(k.Fahrenheit(), 2)
	}
	return number(float64(*k), 2)
}

func (v *view) area(ha float64) any {
	if v.o.Units == quantity.US {
		return number(quantity.Hectare(ha).Acres(), 3)
	}
	return number(ha, 3)
}

// crop is a mass, in short tons or tonnes.
func (v *view) crop(t float64) any {
	if v.o.Units == quantity.US {
		return number(t*1000/quantity.ShortTonKg, 3)
	}
	return number(t, 3)
}

// table builds one of the tables.
func (v *view) table(which Table) (table, error) {
	switch which {
	case Tonight:
		return v.tonightTable(), nil
	case Nights:
		return v.nightsTable(), nil
	case Tasks:
		return v.tasksTable(), nil
	case Notes:
		return v.notesTable(), nil
	}
	return table{}, &InputError{"table", string(which), "tonight, nights, tasks or notes"}
}

// nightHeader are the columns of a night; nightCells fills them.
func (v *view) nightHeader() []string {
	u := v.unitNames()
	return []string{"min_p10" + u.temp, "min_p50" + u.temp, "min_p90" + u.temp, "cold_spot_p50" + u.temp, "min_at", "critical_t10" + u.temp, "critical_t50" + u.temp,
		"margin" + u.diff, "below_h", "damage_share", "loss_share", "loss" + u.crop, "loss_money"}
}

func (v *view) nightCells(n *nights.BlockNight) []any {
	out := make([]any, 13)
	if n == nil || !n.Covered {
		return out
	}
	if n.Min != nil {
		out[0], out[1], out[2] = v.temp(&n.Min.P10C), v.temp(&n.Min.P50C), v.temp(&n.Min.P90C)
	}
	out[3], out[4], out[5], out[6], out[7] = v.temp(n.ColdSpotC), moment(n.MinAt), v.temp(n.CriticalC), v.temp(n.Critical50C), v.diff(n.MarginK)
	if n.CriticalC != nil {
		out[8] = number(n.HoursBelow, 2)
	}
	if r := n.Risk; r != nil {
		out[9], out[10], out[11], out[12] = number(r.Probability, 3), number(r.LossShare, 4), v.crop(r.LossT), number(r.LossMoney, 0)
	}
	return out
}

func (v *view) tonightTable() table {
	u := v.unitNames()
	t := table{header: append([]string{"block_id", "name", "area" + u.area, "cultivar", "station_id", "urgency", "night"}, v.nightHeader()...)}
	t.header = append(t.header, "floor_gain"+u.diff, "stage", "advice", "start_at", "stop_at", "start_air"+u.temp, "avoided_money", "cost_money", "currency", "reason", "unknown")
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		row := []any{b.BlockID, b.Name, v.area(b.AreaHa), b.Cultivar, b.StationID, string(b.Urgency), v.a.Nights[0].Label}
		n := tonight(b)
		row = append(row, v.nightCells(n)...)
		var gain, start, stop, air, avoided, cost any
		if n != nil {
			gain = v.diff(&n.FloorGain.CentralK)
		}
		for k := range b.Choices {
			if c := &b.Choices[k]; c.Chosen && !c.Ahead && c.Kind != nights.Nothing {
				start, stop, air = moment(c.StartAt), moment(c.StopAt), v.temp(c.StartAirC)
				avoided, cost = number(c.Avoided, 0), number(c.Cost, 0)
			}
		}
		t.rows = append(t.rows, append(row, gain, b.Stage.Text, v.doing(b), start, stop, air, avoided, cost, v.a.Currency, b.Reason, b.Unknown))
	}
	return t
}

func (v *view) nightsTable() table {
	t := table{header: append([]string{"block_id", "name", "night", "sunset_at", "sunrise_at", "covered"}, v.nightHeader()...)}
	t.header = append(t.header, "currency", "why_not_covered")
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		for k := range v.a.Nights[:min(len(v.a.Nights), len(b.Nights))] {
			n := &b.Nights[k]
			row := []any{b.BlockID, b.Name, v.a.Nights[k].Label, moment(v.a.Nights[k].Sunset), moment(v.a.Nights[k].Sunrise), map[bool]string{true: "yes", false: "no"}[n.Covered]}
			t.rows = append(t.rows, append(append(row, v.nightCells(n)...), v.a.Currency, n.Why))
		}
	}
	return t
}

func (v *view) tasksTable() table {
	t := table{header: []string{"at", "until_at", "do", "kind", "what", "start_air" + v.unitNames().temp, "blocks", "for_night"}}
	for _, x := range v.tasks() {
		do := map[taskVerb]string{taskStart: "start", taskStop: "stop"}[x.verb]
		night := x.night
		if night == "" {
			night = v.a.Nights[0].Label
		}
		t.rows = append(t.rows, []any{moment(x.at), moment(x.until), do, string(x.kind), x.text(v), v.temp(x.airC), strings.Join(x.blocks, " "), night})
	}
	return t
}

// notesTable names what the answer rests on: sources, assumptions, defaults.
func (v *view) notesTable() table {
	t := table{header: []string{"about", "note"}}
	add := func(about, note string) { t.rows = append(t.rows, []any{about, note}) }
	add("farm", fmt.Sprintf("%s (%s)", v.a.FarmName, v.a.FarmID))
	add("made", "by budward, "+v.a.At.UTC().Format(time.RFC3339)+fmt.Sprintf(", %d scenarios, seed %d", v.a.Members, v.a.Seed))
	add("units", map[quantity.System]string{quantity.US: "degrees Fahrenheit, acres, short tons", quantity.Metric: "degrees Celsius, hectares, tonnes"}[v.o.Units]+"; money in "+v.a.Currency)
	for _, n := range v.a.Notes {
		add("all", n.Text)
	}
	for _, st := range v.a.Stations {
		if st.ForecastFrom != "" {
			add("station "+st.StationID, fmt.Sprintf("forecast from %s, issued %s", st.ForecastFrom, st.IssuedAt.UTC().Format(time.RFC3339)))
		} else {
			add("station "+st.StationID, "no forecast")
		}
		if !st.ReadingsTo.IsZero() {
			add("station "+st.StationID, "readings to "+st.ReadingsTo.UTC().Format(time.RFC3339))
		}
		for _, n := range st.Notes {
			add("station "+st.StationID, n.Text)
		}
	}
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		if b.Table.Name != "" {
			add("block "+b.BlockID, fmt.Sprintf("critical temperatures: table %s (%s), %s", b.Table.Name, b.Table.Basis, b.Table.Source))
		}
		for _, n := range b.Notes {
			add("block "+b.BlockID, n.Text)
		}
	}
	for _, d := range v.f.Defaults {
		add(d.Where, fmt.Sprintf("default: %s = %s, %s", d.Field, d.Value, d.Why))
	}
	return t
}

// CSV writes one table as CSV (RFC 4180) in UTF-8. A column's name ends in its
// unit; times are RFC 3339 in UTC; what is not known is an empty cell. A text that
// a spreadsheet would take for a formula gets an apostrophe in front.
func CSV(w io.Writer, which Table, a *nights.Answer, f *farm.Farm, o Options) error {
	v, err := newView(a, f, o)
	if err != nil {
		return err
	}
	t, err := v.table(which)
	if err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	rows := [][]string{t.header}
	for _, r := range t.rows {
		cells := make([]string, len(r))
		for i, c := range r {
			cells[i] = csvCell(c)
		}
		rows = append(rows, cells)
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("sheet: writing CSV: %w", err)
	}
	return nil
}

func csvCell(c any) string {
	switch x := c.(type) {
	case nil:
		return ""
	case string:
		return unformula(plainText(x))
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	case time.Time:
		return x.UTC().Truncate(time.Second).Format(time.RFC3339)
	}
	panic(fmt.Sprintf("sheet: a cell of type %T", c))
}

// unformula puts an apostrophe before a text that begins like a formula, blanks
// and invisible signs in front of it set aside.
func unformula(s string) string {
	head := strings.TrimLeftFunc(s, func(r rune) bool { return r <= ' ' || r == '\u00a0' || r == '\ufeff' || r == '\u200b' })
	if head != "" && strings.ContainsRune("=+-@\uff1d\uff0b\uff0d\uff20", []rune(head)[0]) {
		return "'" + s
	}
	return s
}
