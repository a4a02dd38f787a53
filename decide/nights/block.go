package nights

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"time"

	"budward/decide/method"
	"budward/decide/weather"
	"budward/physics/floor"
	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// Uncertainty that is not the forecast's. Stated priors.
const (
	gainSpread    = 0.4   // one standard deviation of a floor gain, as a share of it: no open record of paired floors exists to narrow it
	nightOffsetK  = 0.5   // block minus station differs from night to night by this, apart from what the floor explains
	coldTenthSD   = 1.755 // the mean of the coldest tenth of a normal spread lies this many standard deviations below its mean
	cordonWind    = 0.8   // wind among the vines as a share of that at 2 m (a guess)
	outsideWindMS = 3.0
	smallBlockHa  = 1.0
	closedFogDewK = 0.3
)

// fifths are the means of five equal parts of a normal spread, in standard
// deviations: where within the block buds hang.
var fifths = [...]float64{-1.400, -0.532, 0, 0.532, 1.400}

// block is a block made ready.
type block struct {
	def      farm.Block
	st       *station
	site     *method.Site // at the present
	scratch  *method.Site // two copies to try things on
	second   *method.Site
	trace    method.Trace
	offset   Offset
	expose   []*vine.Exposure // by night; nil without a stage
	full     []float64        // crop share with no frost, by night
	standing []float64        // by member, standard normal: what is not known of the block and stays
	nightly  [][]float64      // by night and member: what differs from night to night
	gainZ    []float64        // by member: a choice's own gain
	base     *gainTable
	in       *Input
	nights   []weather.Night
	ans      BlockAnswer
	night0   BlockNight // tonight, with nothing done
	limit    vine.Limit // what practice says of the stage
	shift0   []float64  // block less station tonight, by member
}

// makeBlock runs a block's floor to the present and looks up its vines.
func makeBlock(b farm.Block, st *station, in *Input, nights []weather.Night) (*block, error) {
	k := &block{def: b, st: st, in: in, nights: nights}
	k.ans = BlockAnswer{BlockID: b.ID, Name: b.Name, AreaHa: b.AreaHa, Cultivar: b.Cultivar, StationID: b.StationID}
	site, err := method.NewSite(b, st.start, st.past.soil)
	if err != nil {
		return nil, err
	}
	in.mix(site)
	k.site, k.scratch, k.second = site, site.Clone(), site.Clone()
	past := k.runPast()
	k.offset = k.learnOffset(past)
	k.floorState()
	k.base = k.tabulate(nil, nil, len(nights))
	k.draw()
	if err := k.vines(); err != nil {
		return nil, err
	}
	return k, nil
}

// runPast drives the site through the station's past, taking in each look at
// the soil when it was made (or at the end, for looks newer than the past or
// without a date), and returns the minima of past nights.
func (k *block) runPast() []pastNight {
	p := &k.st.hist
	type look struct{ step, strip int }
	var looks []look
	for i, s := range k.def.Strips {
		step := len(p.Steps)
		if !s.Moisture.At.IsZero() && s.Moisture.At.Before(k.st.ens.Start) {
			step = p.Index(s.Moisture.At)
			if step < 0 { // older than the past: it stands at the start of the run
				k.note("old-moisture", fmt.Sprintf("Strip %s: the last look at its moisture (%s) is older than the readings; rain and drying between are not known.", s.Name, s.Moisture.At.In(k.in.Zone).Format("2 Jan")))
				continue
			}
		}
		looks = append(looks, look{step, i})
	}
	sort.Slice(looks, func(i, j int) bool { return looks[i].step < looks[j].step })
	var t method.Trace
	cordon, gain := make([]float64, len(p.Steps)), make([]float64, len(p.Steps))
	from := 0
	upTo := func(to int) {
		if to > from {
			k.site.Drive(p.Steps[from:to], k.st.histRef[k.site.Height][from:to], &t)
			copy(cordon[from:to], t.CordonC)
			copy(gain[from:to], t.GainK)
			from = to
		}
	}
	for _, l := range looks {
		upTo(min(l.step, len(p.Steps)))
		if k.site.SetMoisture(l.strip, k.def.Strips[l.strip].Moisture.Value) {
			k.note("moisture-above-porosity", fmt.Sprintf("Strip %s: the moisture given is more than the soil can hold; it is taken as saturated.", k.def.Strips[l.strip].Name))
		}
	}
	upTo(len(p.Steps))
	return k.pastNights(cordon, gain)
}

// draw lays out the block's own luck: one draw for what stays as it is through
// the week (offset, height, gain), one a night for what does not.
func (k *block) draw() {
	n, seed := len(k.st.ens.Members), k.in.Seed^hash(k.def.ID)
	k.standing = stratified(n, seed)
	k.gainZ = stratified(n, seed^0x9e3779b97f4a7c15)
	k.nightly = make([][]float64, len(k.nights))
	for i := range k.nightly {
		k.nightly[i] = stratified(n, seed+uint64(i+1)*0xbf58476d1ce4e5b9)
	}
}

func (k *block) note(code, text string) { k.ans.Notes = append(k.ans.Notes, Note{code, text}) }

func (k *block) noteOnce(code, text string) {
	for _, n := range k.ans.Notes {
		if n.Code == code {
			return
		}
	}
	k.note(code, text)
}

func (k *block) floorState() {
	for i, s := range k.def.Strips {
		m := k.site.Moisture(i)
		refill, err := k.site.Soil.Refill(math.Min(m, k.site.Soil.Porosity), method.RootZoneM)
		if err != nil {
			refill = 0 // cannot happen: m is within the soil's porosity
		}
		k.ans.Floor = append(k.ans.Floor, StripState{
			Name: s.Name, Share: s.Share, Surface: s.State().String(), Moisture: m, Source: string(s.Moisture.Source),
			FieldCapacity: k.site.Soil.FieldCapacity, RefillMM: refill,
		})
	}
}

// vines moves the block's stages on to each night and holds its critical
// temperatures ready.
func (k *block) vines() error {
	seen := k.in.Stages[k.def.ID]
	if len(seen) == 0 {
		k.ans.Unknown = fmt.Sprintf("no stage on record, so what it can stand is unknown; walk the block and run `budward stage record`. Until then hold it against %s, the no-damage limit of green tissue.",
			k.in.Units.Temperature(vine.NoDamage(vine.FirstLeaf).WarmC))
		return nil
	}
	table, flags, err := vine.TableFor(k.def.CriticalTable, k.def.Species, k.in.Tables)
	if err != nil {
		return fmt.Errorf("block %s: %w", k.def.ID, err)
	}
	k.flags(flags)
	k.ans.Table = TableState{Name: table.Name, Basis: string(table.Basis), Source: table.Source}
	crop, flags := vine.CropInputFor(k.def)
	k.flags(flags)
	mix := latest(seen, k.in.Now)
	k.ans.Stage.Mixture = mix
	k.expose = make([]*vine.Exposure, len(k.nights))
	k.full = make([]float64, len(k.nights))
	for n := range k.nights {
		moved := k.advance(mix, k.nights[n].Sunset, n == 0)
		if n == 0 {
			k.ans.Stage.Tonight, k.ans.Stage.Text = moved, moved.String()
		}
		book, err := vine.NewLedger(moved)
		if err != nil {
			return fmt.Errorf("block %s: %w", k.def.ID, err)
		}
		e, err := vine.Expose(table, book, crop)
		if err != nil {
			return fmt.Errorf("block %s: %w", k.def.ID, err)
		}
		if n == 0 {
			k.flags(e.Flags)
		}
		warm, err := e.Night(15, 15)
		if err != nil {
			return fmt.Errorf("block %s: %w", k.def.ID, err)
		}
		k.expose[n], k.full[n] = &e, warm.Crop.Central
	}
	k.limit = vine.NoDamage(k.ans.Stage.Tonight.Mean())
	return nil
}

func latest(seen []vine.Mixture, now time.Time) vine.Mixture {
	best := seen[0]
	for _, m := range seen[1:] {
		if !m.At.After(now) && m.At.After(best.At) || best.At.After(now) {
			best = m
		}
	}
	return best
}

func (k *block) flags(fs []vine.Flag) {
	for _, f := range fs {
		k.noteOnce(f.Code, f.Text)
	}
}

// advance moves a mixture on by degree-days to an evening; where days are
// missing it stays as seen, with a note.
func (k *block) advance(m vine.Mixture, to time.Time, say bool) vine.Mixture {
	days := k.st.dailyMeans(m.At.In(k.in.Zone), to.In(k.in.Zone))
	if len(days) == 0 {
		return m
	}
	burst := farm.BurstMid
	if c, ok := farm.LookupCultivar(k.def.Cultivar); ok {
		burst = c.Burst
	}
	moved, err := vine.DefaultThermal(burst).Advance(m, days)
	if err != nil {
		if say {
			why := err.Error()
			var gap *vine.GapError
			if errors.As(err, &gap) {
				why = "no temperature for " + gap.Day
			}
			k.note("stage-not-advanced", "Stages are those last seen, not moved on by degree-days: "+why+".")
		}
		return m
	}
	if say {
		k.flags(moved.Flags)
	}
	return moved
}

// dailyMeans returns the mean air temperature of each whole day after `from`
// up to `to`, from readings and, ahead, the scenarios' mean; NaN where hours
// are missing.
func (s *station) dailyMeans(from, to time.Time) []vine.Day {
	zone := from.Location()
	day := sky.DateOf(from).AddDays(1)
	last := sky.DateOf(to)
	var out []vine.Day
	for len(out) < 400 && !last.Before(day) {
		start := time.Date(day.Year, day.Month, day.Day, 0, 0, 0, 0, zone)
		sum, n, want := 0.0, 0, 0
		for t := start; t.Before(start.AddDate(0, 0, 1)); t = t.Add(time.Hour) {
			want++
			if v := s.airAt(t); !math.IsNaN(v) {
				sum += v
				n++
			}
		}
		mean := math.NaN()
		if n >= want-3 {
			mean = sum / float64(n)
		}
		out = append(out, vine.Day{Date: start, MeanC: quantity.Celsius(mean)})
		day = day.AddDays(1)
	}
	return out
}

func (s *station) airAt(t time.Time) float64 {
	if t.After(s.ens.Start) {
		if i := s.central.path.Index(t); i >= 0 && i < len(s.central.path.Steps) {
			return s.central.path.Steps[i].AirC
		}
		return math.NaN()
	}
	r := &s.in.Readings
	return r.At(weather.AirTemp, r.Index(t))
}

// member is one scenario's night at the block.
type member struct {
	air   float64 // block mean minimum, degC
	bud   float64 // buds colder by, K
	shift float64 // block less station, K
}

// memberAt returns scenario m's night n with the floor of table t and extra
// warmth (K) from an active method.
func (k *block) memberAt(t *gainTable, n, m int, extra float64) member {
	f := &k.st.features[n]
	w := t.at(n, f.wind[m], f.cloud[m])
	stays := math.Sqrt(sq(floor.TransferSpreadK(w.heightK)*boolTo(w.heightK != 0)) + sq(k.offset.SpreadK) + sq(gainSpread*w.gainK))
	shift := w.heightK + w.gainK + k.offset.MeanK + stays*k.standing[m] + nightOffsetK*k.nightly[n][m] + extra
	air := f.minC[m] + shift
	bud := k.budK(air, f, m, w.groundK)
	return member{air: air, bud: bud, shift: shift}
}

func (k *block) budK(air float64, f *nightFeatures, m int, groundK float64) float64 {
	dew := math.Min(f.dew[m], air)
	long := sky.LongwaveDown(air, satVap(dew), f.cloud[m], sky.Default)
	return floor.Bud{AirC: air, WindMS: cordonWind * f.wind[m], LongWave: long, GroundC: air + groundK}.DepressionK()
}

func sq(x float64) float64 { return x * x }

func boolTo(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
