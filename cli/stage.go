package cli

import (
	"fmt"
	"math"
	"strings"
	"time"

	"budward/store"
	"budward/vineyard/vine"
)

type stageCmd struct {
	Record   stageRecordCmd   `cmd:"" help:"Record a look at a block: 'EL 3=60%, EL 7=40%' or 'woolly=30, first leaf=20'."`
	Show     stageShowCmd     `cmd:"" help:"What was seen, newest last."`
	Fit      stageFitCmd      `cmd:"" help:"Fit the degree-day model to a block's own bud-break dates and readings."`
	Withdraw stageWithdrawCmd `cmd:"" help:"Make one record stop counting; it is kept."`
}

type stageRecordCmd struct {
	Block string `help:"Block." placeholder:"B" required:""`
	Seen  string `arg:"" help:"Shares ('EL 3=60%, EL 7=40%') or shoots counted ('woolly=30, first leaf=20'); a stage alone is all of the block. Stages need their scale (EL, EL 1977, BBCH) or words."`
	At    string `help:"When it was seen (else now)." placeholder:"TIME"`
	Who   string `help:"Who looked."`
	Note  string `help:"Anything else."`
}

// Run records a stage.
func (c *stageRecordCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	f, err := o.Farm(r.ctx)
	if err != nil {
		return err
	}
	b, err := findBlock(f, c.Block)
	if err != nil {
		return err
	}
	at, zone, err := o.Moment(r.ctx)
	if err != nil {
		return err
	}
	if c.At != "" {
		if at, err = ParseMoment(c.At, zone); err != nil {
			return err
		}
	}
	rec, err := StageRecord(b.ID, c.Seen, at, c.Who)
	if err != nil {
		return usage("%v", err)
	}
	rec.Note = c.Note
	if rec, err = o.RecordStage(r.ctx, rec); err != nil {
		return err
	}
	m, err := rec.Mixture()
	if err != nil {
		return err
	}
	return r.say("budward.stage/1", object{{"record", rec.ID}, {"block_id", b.ID}, {"mixture", m}},
		"Block %s, %s, record %d: %s.", b.ID, dayClock(at, zone), rec.ID, m)
}

// StageRecord reads what was seen, as ParseMixture of package vine does, into a
// record that keeps the scale each stage was given in.
func StageRecord(blockID, seen string, at time.Time, who string) (store.StageRecord, error) {
	m, err := vine.ParseMixture(seen, at, who)
	if err != nil {
		return store.StageRecord{}, err
	}
	rec := store.StageRecord{BlockID: blockID, At: at.Truncate(time.Millisecond), Who: who, Unit: store.Shares}
	if m.Counted > 0 {
		rec.Unit = store.Shoots
	}
	for _, s := range m.Shares {
		n := s.Share
		if m.Counted > 0 {
			n = math.Round(n * float64(m.Counted))
		}
		rec.Counts = append(rec.Counts, store.StageCount{Stage: s.Stage, Amount: n})
	}
	return rec, nil
}

type stageShowCmd struct {
	Block     string `help:"Of one block." placeholder:"B"`
	Withdrawn bool   `help:"Also what was withdrawn."`
}

// Run shows stage records.
func (c *stageShowCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	f, err := o.Farm(r.ctx)
	if err != nil {
		return err
	}
	q := store.StageQuery{Withdrawn: c.Withdrawn}
	if c.Block != "" {
		b, err := findBlock(f, c.Block)
		if err != nil {
			return err
		}
		q.BlockID = b.ID
	}
	list, err := o.Stages(r.ctx, q)
	if err != nil {
		return err
	}
	_, zone, err := o.Moment(r.ctx)
	if err != nil {
		return err
	}
	var out []object
	p := r.page()
	seen := map[string]bool{}
	for _, x := range list {
		m, err := x.Mixture()
		if err != nil {
			return err
		}
		seen[x.BlockID] = true
		o := object{{"record", x.ID}, {"block_id", x.BlockID}, {"at", x.At}, {"who", x.Who}, {"note", x.Note}, {"mixture", m}}
		lead := fmt.Sprintf("%s  %s  #%d  ", left(x.BlockID, 6), x.At.In(zone).Format("2 Jan 06"), x.ID)
		text := m.String()
		if !x.Withdrawn.At.IsZero() {
			o = append(o, member{"withdrawn_at", x.Withdrawn.At}, member{"withdrawn_why", x.Withdrawn.Why})
			text = "withdrawn (" + x.Withdrawn.Why + "): " + text
		}
		out = append(out, o)
		p.para(lead, strings.Repeat(" ", 18), text)
	}
	if r.g.JSON {
		return r.json("budward.stages/1", object{{"stages", append([]object{}, out...)}})
	}
	var none []string
	for _, b := range f.Blocks {
		if !seen[b.ID] && (q.BlockID == "" || q.BlockID == b.ID) {
			none = append(none, b.ID)
		}
	}
	if len(none) > 0 {
		p.para("", "", "Nothing on record for "+and(none)+": what they can stand is unknown until somebody looks.")
	}
	return r.print(p)
}

type stageWithdrawCmd struct {
	Record int64  `arg:"" help:"Number of the record, as stage show writes it."`
	Why    string `help:"Why." required:""`
}

// Run withdraws a record.
func (c *stageWithdrawCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	if err := o.WithdrawStage(r.ctx, c.Record, c.Why); err != nil {
		return err
	}
	return r.say("budward.withdrawn/1", object{{"record", c.Record}}, "Record %d no longer counts.", c.Record)
}

type stageFitCmd struct {
	Block string   `help:"Block." placeholder:"B" required:""`
	Burst []string `help:"Day on which half of the shoots had burst; once for each season." placeholder:"DAY" required:""`
}

// Run fits the bud-break model.
func (c *stageFitCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	f, err := o.Farm(r.ctx)
	if err != nil {
		return err
	}
	b, err := findBlock(f, c.Block)
	if err != nil {
		return err
	}
	_, zone, err := o.Moment(r.ctx)
	if err != nil {
		return err
	}
	var burst []time.Time
	for _, d := range c.Burst {
		t, err := parseDate(d, zone)
		if err != nil {
			return err
		}
		burst = append(burst, t)
	}
	got, err := o.FitStage(r.ctx, b.ID, burst)
	if err != nil {
		return err
	}
	if r.g.JSON {
		return r.json("budward.fit/1", object{{"block_id", b.ID}, {"station_id", got.Station.ID}, {"fit", got.Fit}, {"left_out", append([]string{}, got.Left...)}})
	}
	p, x := r.page(), got.Fit
	p.line("Bud burst of %s from %s at station %s:", b.ID, plural(x.Seasons, "season", "seasons"), got.Station.ID)
	p.line("  %.0f degree-days (C) over a base of %.1f °C from the start of the season", x.SumDD, float64(x.BaseC))
	p.line("  each season foretold from the others: off by %.1f days, at worst %.1f", x.ErrorDays, x.WorstDays)
	p.line("  with the usual base of 5 °C: off by %.1f days", x.PriorDays)
	for _, l := range got.Left {
		p.para("  left out: ", "    ", l)
	}
	for _, n := range x.Flags {
		p.para("  note: ", "    ", n.Text)
	}
	return r.print(p)
}
