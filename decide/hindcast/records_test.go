package hindcast

import (
	"bufio"
	"compress/gzip"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
)

// testNow lies after all records.
var testNow = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)

// columns of hourly02 (1-based) as used here; see testdata/SOURCE.md.
var testColumns = map[weather.Variable][2]int{ // column, flag column or 0
	weather.AirTemp: {9, 0}, weather.AirTempMin: {12, 0}, weather.Rain: {13, 0}, weather.Solar: {14, 15}, weather.SurfaceTemp: {21, 22},
	weather.RelHumidity: {27, 28}, weather.SoilMoist5: {29, 0}, weather.SoilMoist10: {30, 0}, weather.SoilTemp5: {34, 0}, weather.SoilTemp20: {36, 0},
}

// spring reads one spring of the record. The feed package has the real decoder;
// this layer may not use it.
func spring(t testing.TB, year int) weather.Batch {
	t.Helper()
	b, err := readSpring(year)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func readSpring(year int) (weather.Batch, error) {
	name := fmt.Sprintf("testdata/hourly02_spring_%d.txt.gz", year)
	f, err := os.Open(name)
	if err != nil {
		return weather.Batch{}, err
	}
	defer f.Close()
	zr, err := gzip.NewReader(f)
	if err != nil {
		return weather.Batch{}, err
	}
	b := weather.Batch{StationID: "test", Kind: weather.Reading, Origin: name, LatDeg: 42.44, LonDeg: -76.25, HasPlace: true}
	lines := bufio.NewScanner(zr)
	for lines.Scan() {
		col := strings.Fields(lines.Text())
		at, err := time.Parse("200601021504", col[1]+col[2])
		if err != nil {
			return weather.Batch{}, err
		}
		for v := range weather.NumVariables {
			c, ok := testColumns[v]
			if !ok || (c[1] > 0 && col[c[1]-1] != "0") {
				continue
			}
			x, err := strconv.ParseFloat(col[c[0]-1], 64)
			if err != nil {
				return weather.Batch{}, err
			}
			if x > -90 {
				b.Samples = append(b.Samples, weather.Sample{At: at, Var: v, Value: x})
			}
		}
	}
	return b, lines.Err()
}

func springs(t testing.TB, years ...int) []weather.Batch {
	t.Helper()
	var out []weather.Batch
	for _, y := range years {
		out = append(out, spring(t, y))
	}
	return out
}

// change applies f to every sample of one variable and drops those for which it
// returns false.
func change(b weather.Batch, v weather.Variable, f func(*weather.Sample) bool) weather.Batch {
	out := b
	out.Samples = nil
	for _, s := range b.Samples {
		if s.Var != v || f(&s) {
			out.Samples = append(out.Samples, s)
		}
	}
	return out
}
