package main

import (
	"math"
	"sort"

	"budward/physics/air"
	"budward/physics/floor"
	"budward/physics/ground"
	"budward/physics/sky"
)

// site is one set of parameters for the Bondville floor.
type site struct {
	surface  floor.Surface
	soil     ground.Soil
	stepS    float64
	toldSnow bool // lay snow on the days on which the record's own light shows it
	snowM    float64
	annualC  float64
}

// What the site is taken for, none of it from March, April or May.
const (
	stubbleM      = 0.02  // thickness that the stubble is taken for
	siteRoughM    = 0.009 // from the fitting months' own eddy correlation
	siteAlbedo    = 0.18  // from the fitting months' own radiation
	annualMeanC   = 11.0  // of central Illinois, from memory
	annualSwingK  = 13.0  // half the range of the yearly wave at the surface, from memory
	coldestDay    = 20    // of the year, from memory
	yearDampingM  = 2.2   // damping depth of the yearly wave, k/C = 0.5e-6 m2/s
	columnLayers  = 30
	columnBottomM = 6.0
)

// bondvilleSite is the set that the report tests: the shipped residue and
// texture class, with the site's own roughness and albedo.
func bondvilleSite() site {
	s, err := floor.Residue(stubbleM)
	if err != nil {
		panic("validation: " + err.Error())
	}
	s.RoughnessM, s.AlbedoDry, s.AlbedoWet = siteRoughM, siteAlbedo, siteAlbedo
	soil, ok := ground.ByTexture("silty clay loam")
	if !ok {
		panic("validation: no silty clay loam")
	}
	return site{surface: s, soil: soil, stepS: 600, snowM: 0.02, annualC: annualMeanC}
}

// snowCover lays snow at 0.15 W m-1 K-1 (wind-packed new snow, from memory) on
// the stubble, which it does not bury: the gauge caught some 2 mm of water. It
// neither melts nor grows.
func (p site) snowCover() floor.Surface {
	conductWM2K := 0.15 / p.snowM
	s := p.surface
	s.Emissivity, s.AlbedoDry, s.AlbedoWet, s.Passes = 0.98, 0.75, 0.75, 0
	s.CoverWM2K = conductWM2K * s.CoverWM2K / (conductWM2K + s.CoverWM2K)
	return s
}

// modelled is what the columns say of one half hour, means over it.
type modelled struct {
	surface, net, sensible, latent, ground float64
	plate                                  [len(plateM)]float64 // heat passing downward at plateM
	soil                                   [6]float64
	topSat                                 float64 // water of the top 5 cm over porosity
	white                                  bool
}

// plateM are depths at which the flux is compared with the heat flux plate.
var plateM = [...]float64{0, 0.05, 0.08, 0.10}

// run drives the column through rows, free from the first on.
func (p site) run(rows []halfHour, white map[int]bool) []modelled {
	st := floor.NewStrip(p.surface, p.column(&rows[0]), 3, floor.DefaultExchange())
	out := make([]modelled, len(rows))
	steps := int(math.Round(1800 / p.stepS))
	none := floor.Supply{}
	laid := false
	for k := range rows {
		snow := p.toldSnow && white[rows[k].day]
		if snow != laid {
			if snow {
				st.Resurface(p.snowCover(), 3)
			} else {
				st.Resurface(p.surface, 3)
			}
			laid = snow
		}
		before, after := &rows[max(k-1, 0)], &rows[min(k+1, len(rows)-1)]
		o := &out[k]
		for i := range steps {
			w := weatherAt(before, &rows[k], after, (float64(i)+1)/float64(steps), st.Surface.RoughnessM)
			f := st.Step(&w, &none, p.stepS)
			share := 1 / float64(steps)
			o.surface += share * f.SurfaceC
			o.net += share * f.Net
			o.sensible += share * f.Sensible
			o.latent += share * f.Latent
			o.ground += share * f.Ground
			for j := range plateM {
				o.plate[j] += share * fluxAt(st, f.Ground, plateM[j])
			}
		}
		for j, z := range probeM {
			o.soil[j] = st.Col.At(z)
		}
		o.topSat = st.Col.MeanWater(0.05) / p.soil.Porosity
		o.white = white[rows[k].day]
	}
	return out
}

// weatherAt is the weather at fraction f of the half hour b: the record holds
// means, so air, humidity and wind run on straight lines between the middles,
// while rain and radiation keep the half hour's mean.
func weatherAt(a, b, c *halfHour, f, roughM float64) floor.Weather {
	mix := func(get func(*halfHour) float64) float64 {
		if f < 0.5 {
			return get(a) + (f+0.5)*(get(b)-get(a))
		}
		return get(b) + (f-0.5)*(get(c)-get(b))
	}
	t := mix(func(h *halfHour) float64 { return h.air })
	rh := mix(func(h *halfHour) float64 { return h.rh })
	return floor.Weather{
		AirC: t, VapourKPa: air.SatVapKPa(t) * rh / 100,
		WindMS:    mix(func(h *halfHour) float64 { return h.wind10 }) * math.Log(2/roughM) / math.Log(10/roughM),
		ShortWave: b.solar, LongWave: b.longwave, RainMmH: b.rainMmH,
		Pressure: mix(func(h *halfHour) float64 { return h.pressureKPa }),
	}
}

// fluxAt returns the heat passing down at depth z (W/m2): by conduction between
// the middles of the two layers that enclose it.
func fluxAt(st *floor.Strip, top, z float64) float64 {
	if z == 0 {
		return top
	}
	c := st.Col
	i := 1
	for i+1 < c.N && c.Depth[i] < z {
		i++
	}
	cond := func(i int) float64 {
		k, err := c.Soil[i].Conductivity(math.Max(0, c.Water[i]-c.Ice(i)), c.Ice(i))
		if err != nil {
			panic("validation: " + err.Error())
		}
		return k
	}
	return (c.Temp[i-1] - c.Temp[i]) / (c.DZ[i-1]/2/cond(i-1) + c.DZ[i]/2/cond(i))
}

// column starts from the first row's probes; below the deepest it goes over, by
// the yearly wave, to the annual mean.
func (p site) column(r *halfHour) *ground.Column {
	c, err := ground.NewColumn(ground.Layers(columnLayers, ground.DefaultTopM, columnBottomM), p.soil, 10, p.soil.FieldCapacity)
	if err != nil {
		panic("validation: " + err.Error())
	}
	wave := func(z float64) float64 {
		return p.annualC - annualSwingK*math.Exp(-z/yearDampingM)*math.Cos(2*math.Pi/365*(float64(r.day)-coldestDay)-z/yearDampingM)
	}
	last := probeM[5]
	off := r.soil[5] - wave(last)
	c.SetTemp(func(z float64) float64 {
		if z <= probeM[0] {
			return r.soil[0]
		}
		for i := 1; i < len(probeM); i++ {
			if z <= probeM[i] {
				return r.soil[i-1] + (r.soil[i]-r.soil[i-1])*(z-probeM[i-1])/(probeM[i]-probeM[i-1])
			}
		}
		return wave(z) + off*math.Exp(-(z-last)/(yearDampingM/4))
	})
	for i := range c.N {
		w := r.water[2]
		if c.Depth[i] < 0.1 {
			w = r.water[0]
		} else if c.Depth[i] < 0.4 {
			w = r.water[1]
		}
		if err := c.SetWater(i, math.Min(w, p.soil.Porosity)); err != nil {
			panic("validation: " + err.Error())
		}
	}
	c.Refresh()
	return c
}

// score is bias and RMSE of modelled less measured.
type score struct {
	N          int
	sum, sumSq float64
}

func (s *score) add(d float64) {
	if !math.IsNaN(d) {
		s.N++
		s.sum += d
		s.sumSq += d * d
	}
}

// Bias is the mean of the differences; NaN of none.
func (s score) Bias() float64 { return s.sum / float64(s.N) }

// RMSE is the root of their mean square.
func (s score) RMSE() float64 { return math.Sqrt(s.sumSq / float64(s.N)) }

// nightSun is the solar radiation (W/m2) below which it is night.
const nightSun = 1

func night(r *halfHour) bool { return r.solar < nightSun }

// frosty nights as the target words them, by the record's own net radiometer.
func frosty(r *halfHour) bool { return night(r) && r.air < 3 && r.net < -30 }

func day(r *halfHour) bool { return r.solar > 200 }

// scoreIf scores get over the half hours that which picks, leaving out the
// first skip rows.
func scoreIf(rows []halfHour, out []modelled, skip int, which func(*halfHour, *modelled) bool, get func(*halfHour, *modelled) float64) score {
	var s score
	for i := skip; i < len(rows); i++ {
		if which(&rows[i], &out[i]) {
			s.add(get(&rows[i], &out[i]))
		}
	}
	return s
}

func surfaceOff(r *halfHour, m *modelled) float64 { return m.surface - r.surface }

func soilOff(i int) func(*halfHour, *modelled) float64 {
	return func(r *halfHour, m *modelled) float64 { return m.soil[i] - r.soil[i] }
}

func atNight(r *halfHour, _ *modelled) bool  { return night(r) }
func byDay(r *halfHour, _ *modelled) bool    { return day(r) }
func isFrosty(r *halfHour, _ *modelled) bool { return frosty(r) }
func always(*halfHour, *modelled) bool       { return true }

// roughness returns the median roughness length (m) that the eddy correlation
// at 6 m gives in near-neutral air above 4 m/s, and its quartiles.
func roughness(periods ...[]halfHour) (median, lower, upper float64, n int) {
	const height, von = 6.0, 0.41
	var z []float64
	for _, rows := range periods {
		for i := range rows {
			r := &rows[i]
			if !(r.wind6 > 4 && r.uw < 0) || math.IsNaN(r.sensible) {
				continue
			}
			star := math.Sqrt(-r.uw)
			zL := -height * von * 9.81 * r.sensible / (1200 * (r.air + 273.15) * star * star * star)
			if math.Abs(zL) < 0.05 {
				z = append(z, height*math.Exp(-von*r.wind6/star))
			}
		}
	}
	sort.Float64s(z)
	n = len(z)
	return z[n/2], z[n/4], z[3*n/4], n
}

// longwaveNet is the net long wave by pyrgeometer and infrared thermometer.
func longwaveNet(r *halfHour) float64 {
	const emissivity = 0.97
	k := r.surface + 273.15
	return emissivity * (r.longwave - sky.StefanBoltzmann*k*k*k*k)
}

// albedo returns the median albedo of the days without snow that closes the net
// radiometer's balance, with the instruments' mean difference at night gap taken
// for all hours.
func albedo(gap float64, white map[int]bool, periods ...[]halfHour) float64 {
	var a []float64
	for _, rows := range periods {
		for i := range rows {
			r := &rows[i]
			x := 1 - (r.net-gap-longwaveNet(r))/r.solar
			if r.solar > 200 && !white[r.day] && !math.IsNaN(x) {
				a = append(a, x)
			}
		}
	}
	return median(a)
}

func median(x []float64) float64 {
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	return s[len(s)/2]
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}
