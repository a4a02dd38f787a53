package main

import (
	"bufio"
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// halfHour is one row of the Bondville record; NaN is missing.
type halfHour struct {
	day, hhmm        int // local standard time at the end of the half hour
	wind10, air, rh  float64
	pressureKPa      float64
	solar            float64
	parIn, parOut    float64
	net, ground      float64
	rainMmH          float64
	surface          float64    // infrared thermometer, degC
	soil             [6]float64 // degC, at probeM
	wind6, uw        float64
	sensible, latent float64
	longwave         float64
	water            [3]float64 // m3/m3 at 0.05, 0.20, 0.60 m
}

// probeM are the depths at which the record says its soil probes lie.
var probeM = [6]float64{0.02, 0.04, 0.08, 0.16, 0.32, 0.64}

// screening counts what was set aside or changed on reading.
type screening struct {
	Rows, NegativeRain, OverSaturated int
	MissingSurface, Stuck             int // half hours without infrared thermometer
	StuckSpring                       int
}

const (
	sentinel = -6000 // anything below is missing
	stuckRun = 3     // equal readings in a row of a thermometer that resolves 0.01 K
)

// bondville reads and screens the record. Field and line are named in errors.
func bondville(dir string) ([]halfHour, screening, error) {
	path := filepath.Join(dir, "bondville_1998.csv.gz")
	f, err := os.Open(path)
	if err != nil {
		return nil, screening{}, err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, screening{}, fmt.Errorf("%s: %w", path, err)
	}
	r := csv.NewReader(bufio.NewReader(z))
	r.FieldsPerRecord = 27
	all, err := r.ReadAll()
	if err != nil {
		return nil, screening{}, fmt.Errorf("%s: %w", path, err)
	}
	var sc screening
	rows := make([]halfHour, 0, len(all)-1)
	for i, fields := range all[1:] {
		v := make([]float64, len(fields))
		for j, s := range fields {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return nil, sc, fmt.Errorf("%s:%d: %s is %q, want a number", path, i+2, all[0][j], s)
			}
			if x < sentinel {
				x = math.NaN()
			}
			v[j] = x
		}
		rows = append(rows, sc.row(v))
	}
	sc.Rows = len(rows)
	sc.stuck(rows)
	return rows, sc, nil
}

func (sc *screening) row(v []float64) halfHour {
	h := halfHour{
		day: int(v[0]), hhmm: int(v[1]), wind10: v[2], air: v[3], rh: v[4], pressureKPa: v[5] / 10, solar: v[6],
		parIn: v[7], parOut: v[8], net: v[9], ground: v[10], rainMmH: v[11] * 25.4 * 2, surface: v[12],
		wind6: v[19], uw: v[20], sensible: v[21], latent: v[22], longwave: v[23],
	}
	copy(h.soil[:], v[13:19])
	copy(h.water[:], v[24:27])
	if !(h.rainMmH >= 0) {
		h.rainMmH = 0
		sc.NegativeRain++
	}
	if h.rh > 100 {
		h.rh = 100
		sc.OverSaturated++
	}
	if math.IsNaN(h.surface) {
		sc.MissingSurface++
	}
	h.solar = math.Max(0, h.solar)
	return h
}

// stuck sets aside runs of equal readings of the infrared thermometer.
func (sc *screening) stuck(rows []halfHour) {
	for i := 0; i < len(rows); {
		j := i + 1
		for j < len(rows) && rows[j].surface == rows[i].surface {
			j++
		}
		if j-i >= stuckRun {
			for k := i; k < j; k++ {
				sc.Stuck++
				if rows[k].day >= springFrom && rows[k].day <= springTo {
					sc.StuckSpring++
				}
				rows[k].surface = math.NaN()
			}
		}
		i = j
	}
}

// Periods by day of the year. The first two are for fitting, the third is for
// the test and nothing is fitted on it.
const (
	winterFrom, winterTo = 10, 58   // 10 January to 27 February
	autumnFrom, autumnTo = 285, 323 // after harvest, 12 October to 19 November, the day before the soil probes were moved
	springFrom, springTo = 60, 130  // 1 March to 10 May
)

// between returns the rows of the days from..to.
func between(rows []halfHour, from, to int) []halfHour {
	a, b := -1, len(rows)
	for i := range rows {
		if rows[i].day >= from && a < 0 {
			a = i
		}
		if rows[i].day > to {
			b = i
			break
		}
	}
	return rows[a:b]
}

// snowDays finds the days on which the ground was white: more than 0.4 of the
// photosynthetic light came back over the day. Bare and stubble ground here
// returns 0.06-0.13.
func snowDays(rows []halfHour) map[int]bool {
	in, out := map[int]float64{}, map[int]float64{}
	for i := range rows {
		if r := &rows[i]; r.parIn > 100 && !math.IsNaN(r.parOut) {
			in[r.day] += r.parIn
			out[r.day] += r.parOut
		}
	}
	white := map[int]bool{}
	for d := range in {
		if out[d] > 0.4*in[d] {
			white[d] = true
		}
	}
	return white
}

// levels is one half hour of the two-level record; NaN is missing.
type levels struct {
	time                     string
	top, bottom, rh          float64 // degC; share, mean of the two levels, at most 1
	net, pressure, soilFlux  float64
	sensible, latent         float64 // positive towards the surface
	wind, soilTempC, gravPct float64 // means of five sensors for the soil
}

func twoLevels(dir string) ([]levels, error) {
	path := filepath.Join(dir, "sgp30ebbrE32_selected.csv")
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	var out []levels
	for i, fields := range all[1:] {
		v := make([]float64, 22)
		for j := 1; j < 22; j++ {
			v[j] = math.NaN()
			if fields[j] == "" {
				continue
			}
			if v[j], err = strconv.ParseFloat(fields[j], 64); err != nil {
				return nil, fmt.Errorf("%s:%d: %s is %q, want a number or nothing", path, i+2, all[0][j], fields[j])
			}
		}
		out = append(out, levels{
			time: fields[0], top: v[1], bottom: v[2], rh: math.Min(1, (v[3]+v[4])/2), net: v[5], pressure: v[6],
			soilFlux: v[7], sensible: v[8], latent: v[9], wind: v[10], soilTempC: mean(v[12:17]), gravPct: mean(v[17:22]),
		})
	}
	return out, nil
}

// towerHour is one hour of the tower record.
type towerHour struct {
	day, hhmm                          int
	wind10, air10, step60, net, vapour float64 // step60 is 60 m less 10 m
	rhPct, pressure, soil10            float64
}

func tower(dir string) ([]towerHour, error) {
	path := filepath.Join(dir, "anltwr_mar19met.data")
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var out []towerHour
	for i, line := range strings.Split(strings.TrimSpace(string(b)), "\n") {
		f := strings.Fields(line)
		if len(f) != 24 {
			return nil, fmt.Errorf("%s:%d: %d fields, want 24", path, i+1, len(f))
		}
		v := make([]float64, len(f))
		for j, s := range f {
			if j == 4 {
				continue
			}
			if v[j], err = strconv.ParseFloat(s, 64); err != nil {
				return nil, fmt.Errorf("%s:%d: field %d is %q, want a number", path, i+1, j+1, s)
			}
		}
		if v[3] == 2400 {
			continue // summary of the day
		}
		out = append(out, towerHour{day: int(v[0]), hhmm: int(v[3]), wind10: v[10], air10: v[12], step60: v[15],
			net: v[18], rhPct: v[14], pressure: v[19], vapour: v[20], soil10: v[21]})
	}
	return out, nil
}

// clearSky is one half hour of a steadily clear night.
type clearSky struct{ air, rh, longwave float64 }

// clearNights reads the selection kept beside package sky.
func clearNights(root string) ([]clearSky, error) {
	path := filepath.Join(root, "physics", "sky", "testdata", "bondville_clear_nights.csv")
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	var out []clearSky
	for i, fields := range all[1:] {
		var v [3]float64
		for j := range v {
			if v[j], err = strconv.ParseFloat(fields[3+j], 64); err != nil {
				return nil, fmt.Errorf("%s:%d: %s is %q, want a number", path, i+2, all[0][3+j], fields[3+j])
			}
		}
		out = append(out, clearSky{v[0], v[1], v[2]})
	}
	return out, nil
}
