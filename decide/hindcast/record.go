package hindcast

import (
	"fmt"
	"math"
	"slices"
	"time"

	"budward/decide/predict"
	"budward/decide/weather"
	"budward/physics/sky"
)

// record is a station's readings, looked over and cut into nights.
type record struct {
	place     predict.Place
	placeFrom string
	zone      *time.Location
	season    Season
	training  Training
	batches   []weather.Batch // screened
	h         weather.Hourly
	nights    []night
	findings  []Finding
	badAir    []interval // hours whose air temperature was taken out
	badClock  []interval
	pairs     []weather.ForecastPair // past forecasts of scored nights
	firstDay  DayScore               // of these, those of the last 24 hours
}

// night is one night of the record.
type night struct {
	weather.Night
	date   sky.Date
	year   int     // season it belongs to
	minC   float64 // NaN with why set
	why    string  // why it is not used; "" = it is
	inside bool    // inside the season that is scored
}

func (n *night) scored() bool { return n.inside && n.why == "" }

// interval is a stretch of time with a reason, both ends included.
type interval struct {
	from, to time.Time
	why      string
}

// Why a night of the record is not used.
const (
	whyGap   = "hours without an air temperature"
	whyClock = "clock shifted"
	whyDrift = "air thermometer drifted"
)

func prepare(in *Input) (*record, error) {
	if len(in.Records) == 0 {
		return nil, &InputError{"records", "none", "at least one file of readings"}
	}
	rec := &record{}
	for i := range in.Records {
		if k := in.Records[i].Kind; k != weather.Reading {
			return nil, &InputError{"record " + in.Records[i].Origin, string(k), "readings"}
		}
	}
	if err := rec.where(in); err != nil {
		return nil, err
	}
	var from, to time.Time
	for i := range in.Records {
		b, rep := weather.Screen(in.Records[i], in.Now, nil)
		rec.screened(&in.Records[i], &rep)
		rec.batches = append(rec.batches, b)
		for _, s := range b.Samples {
			if from.IsZero() || s.At.Before(from) {
				from = s.At
			}
			if s.At.After(to) {
				to = s.At
			}
		}
	}
	if !from.Before(to) {
		return nil, &InputError{"records", "without readings that can be used", "readings of air temperature over some nights"}
	}
	h, grid, err := weather.Grid(rec.batches, weather.GridStart(from), to.Add(time.Hour))
	if err != nil {
		return nil, err
	}
	rec.h = h
	rec.gridded(&grid)
	if err := rec.cut(); err != nil {
		return nil, err
	}
	rec.checkClock()
	rec.checkDrift()
	rec.useNights()
	rec.missingSeasons()
	rec.training = in.Training
	if rec.training == "" {
		rec.training = OtherYears
		if len(rec.years()) < 2 {
			rec.training = PastOnly
		}
	}
	return rec, nil
}

// where settles place, zone and season.
func (rec *record) where(in *Input) error {
	rec.placeFrom = "as told"
	if in.Place != nil {
		rec.place = *in.Place
	} else {
		known := false
		for i := range in.Records {
			b := &in.Records[i]
			if !b.HasPlace {
				continue
			}
			p := predict.Place{LatDeg: b.LatDeg, LonDeg: b.LonDeg}
			// A hundredth of a degree is a kilometre: rounding in the files.
			if known && (math.Abs(p.LatDeg-rec.place.LatDeg) > 0.05 || math.Abs(p.LonDeg-rec.place.LonDeg) > 0.05) {
				return &InputError{"place of " + b.Origin, fmt.Sprintf("%g, %g", p.LatDeg, p.LonDeg), fmt.Sprintf("that of the files before, %g, %g", rec.place.LatDeg, rec.place.LonDeg)}
			}
			if !known {
				rec.place, known = p, true
			}
		}
		if !known {
			return &InputError{"place", "unknown", "latitude and longitude of the station (the record does not state them)"}
		}
		rec.placeFrom = "as the record states"
	}
	rec.zone = in.Zone
	if rec.zone == nil {
		hours := int(math.Round(rec.place.LonDeg / 15))
		rec.zone = time.FixedZone(fmt.Sprintf("UTC%+d", hours), hours*3600)
	}
	rec.season = in.Season
	if rec.season == (Season{}) {
		rec.season = DefaultSeason(rec.place.LatDeg)
	}
	if !rec.season.valid() {
		return &InputError{"season", rec.season.String(), "two days that come every year"}
	}
	return nil
}

// cut lists the nights of the record.
func (rec *record) cut() error {
	first := sky.DateOf(rec.h.Start.In(rec.zone))
	last := sky.DateOf(rec.h.End().In(rec.zone))
	missing := 0
	for d := first; !last.Before(d); d = d.AddDays(1) {
		n, err := weather.NightOn(d, rec.place.LatDeg, rec.place.LonDeg, rec.zone)
		if err != nil {
			var never *weather.NoNightError
			if !asNever(err, &never) {
				return err
			}
			missing++
			continue
		}
		rec.nights = append(rec.nights, night{Night: n, date: d, year: rec.season.year(d), inside: rec.season.has(d)})
	}
	if missing > 0 {
		rec.find(Finding{Kind: "no-night", Count: missing, Text: fmt.Sprintf("%d evenings without a night: the sun does not set, or does not rise again.", missing)})
	}
	return nil
}

// useNights decides of each night whether it can be used.
func (rec *record) useNights() {
	for k := range rec.nights {
		n := &rec.nights[k]
		n.minC = math.NaN()
		if w := overlap(rec.badClock, n.Sunset, n.End); w != "" {
			n.why = w
			continue
		}
		if m, _, ok := weather.NightMin(&rec.h, n.Night, n.Sunset); ok {
			n.minC = m
			continue
		}
		n.why = whyGap
		if w := overlap(rec.badAir, n.Sunset, n.End); w != "" {
			n.why = w
		}
	}
}

// overlap returns the reason of the first interval that touches from..to.
func overlap(list []interval, from, to time.Time) string {
	for _, v := range list {
		if !v.from.After(to) && !v.to.Before(from) {
			return v.why
		}
	}
	return ""
}

// scored lists the nights that are scored, by place in rec.nights.
func (rec *record) scored() []int {
	var out []int
	for k := range rec.nights {
		if rec.nights[k].scored() {
			out = append(out, k)
		}
	}
	return out
}

// years lists the seasons with nights that are scored.
func (rec *record) years() []int {
	var out []int
	for k := range rec.nights {
		if n := &rec.nights[k]; n.scored() && !slices.Contains(out, n.year) {
			out = append(out, n.year)
		}
	}
	return out
}

// nothing is the error of a record without a night to score: it tells what was
// wrong with those that were looked at.
func (rec *record) nothing() error {
	why := map[string]int{}
	asked := 0
	for k := range rec.nights {
		if n := &rec.nights[k]; n.inside {
			asked++
			why[n.why]++
		}
	}
	text := fmt.Sprintf("none usable of %d in the season %s", asked, rec.season)
	for _, w := range sortedKeys(why) {
		text += fmt.Sprintf("; %d: %s", why[w], w)
	}
	return &InputError{"nights", text, "at least one whole night"}
}
