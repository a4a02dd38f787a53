package calc

import (
	"time"

	"budward/physics/air"
	"budward/physics/quantity"
	"budward/physics/sky"
)

var (
	keyDate = Key{"date", "day of the calendar", "2026-04-08"}
	keyLat  = Key{"lat", "latitude, north positive", "38.5N"}
	keyLon  = Key{"lon", "longitude, east positive", "122.1W"}
	keyZone = Key{"zone", "time zone of the clock", "America/Los_Angeles"}
	keySun  = Key{"sun", "hours of bright sunshine", "9.25h"}
)

func skyFormulas() []Formula {
	return []Formula{
		{
			Name: "et0", Title: "reference evapotranspiration, a day or (with time) an hour",
			Range:  "well-watered short grass; a day good to about 10 %; latitudes to 55 degrees without loss",
			Source: "FAO-56 Penman-Monteith, eq. 6 (day) and 53 (hour) with eq. 7-47",
			Keys: []Key{keyDate, keyLat, keyElev, {"tmin", "lowest temperature", "12.3C"}, {"tmax", "highest temperature", "21.5C"},
				{"rhmin", "lowest relative humidity", "63%"}, {"rhmax", "highest relative humidity", "84%"}, keyTd,
				{"wind", "wind", "10km/h"}, {"windheight", "height of the wind reading", "10m"}, keySun,
				{"rs", "short wave of the day or the hour", "22.1MJ/m2"},
				{"time", "hourly: when the hour begins, by the clock", "14:00"}, {"t", "hourly: mean temperature", "38C"},
				{"rh", "hourly: mean relative humidity", "52%"}, keyLon, keyZone,
				{"nightratio", "hourly, sun low: Rs/Rso two to three hours before sunset", "0.8"}},
			Sets: "day: date, lat, elev, tmin, tmax, rhmin and rhmax (or td), wind, windheight, sun (or rs); " +
				"hour: date, time, lat, lon, zone, elev, t, rh (or td), wind, windheight, rs",
			run: et0,
		}, {
			Name: "daylength", Title: "sunrise, sunset and the time between",
			Range:  "years 1900 to 2100; within 60 s over a level horizon, latitudes -55 to 60",
			Source: "Meeus, Astronomical Algorithms, ch. 25 and 28; sun's upper limb with 34 minutes of refraction",
			Keys:   []Key{keyDate, keyLat, keyLon, keyZone}, Sets: "date, lat, lon and zone", run: dayLength,
		}, {
			Name: "skyradiation", Title: "short wave above the atmosphere, under a clear sky, and with the sunshine there was",
			Range: "latitudes to 55 degrees without loss; clear sky good to 5 %", Source: "FAO-56 eq. 21, 35 and 37",
			Keys: []Key{keyDate, keyLat, keyElev, keySun}, Sets: "date, lat, elev and sun", run: skyRadiation,
		}, {
			Name: "emissivity", Title: "emissivity of the sky and its long wave",
			Range: "-40 to 50 degC, vapour up to saturation; a single clear night is off by 5-15 W/m2",
			Source: "the formula named, as collected after Flerchinger et al. (2009); clouds after Unsworth & Monteith " +
				"(1975)",
			Keys: []Key{keyT, keyTd, {"vp", "vapour pressure", "0.5kPa"}, {"cloud", "share of the sky covered", "20%"},
				{"formula", "one of " + formulaNames(), sky.Default.String()}},
			Sets: "t, with td or vp; cloud and formula if wanted", run: emissivity,
		},
	}
}

func formulaNames() string {
	s := ""
	for i, f := range sky.Formulas() {
		if i > 0 {
			s += ", "
		}
		s += f.String()
	}
	return s
}

func et0(in *inputs, a *Answer) {
	in.or("windheight", "2m", "the height the formula is made for")
	if in.has("time") {
		et0Hour(in, a)
		return
	}
	w := sky.DailyWeather{Date: in.date(), Lat: in.lat(), Elevation: in.metres("elev"), TMin: in.celsius("tmin"), TMax: in.celsius("tmax"),
		Wind: in.wind("wind"), WindHeight: in.metres("windheight")}
	if in.has("td") {
		w.Vapour = in.vapour(w.TMin, "td")
	} else {
		lo, hi := in.percent("rhmin"), in.percent("rhmax")
		if in.err == nil {
			var err error
			w.Vapour, err = sky.VapourFromExtremes(w.TMin, w.TMax, lo, hi)
			in.fail(err)
		}
	}
	if in.has("rs") {
		w.Solar = in.energy("rs")
	} else {
		_, w.Solar = in.sunshine(w.Date, w.Lat)
	}
	if in.err != nil {
		return
	}
	r, err := sky.ReferenceDaily(w)
	in.fail(err)
	a.Result = et0Items(r, true)
	if r.Limited {
		a.Notes = append(a.Notes, "Rs/Rso lay outside 0.3-1; the nearer end was taken")
	}
}

func (in *inputs) energy(key string) quantity.MegajoulePerSquareMetre {
	return parsed(in, key, key+"_mj_m2", quantity.ParseEnergy)
}

// sunshine reads sun and returns the short wave above and under the sky.
func (in *inputs) sunshine(date sky.Date, lat quantity.Degree) (ra, rs quantity.MegajoulePerSquareMetre) {
	n := in.hours("sun")
	if in.err != nil {
		return
	}
	ra, err := sky.Extraterrestrial(date, lat)
	in.fail(err)
	long, err := sky.DaylightHours(date, lat)
	in.fail(err)
	if in.err != nil {
		return
	}
	rs, err = sky.SolarFromSunshine(n, long, ra)
	in.fail(err)
	return ra, rs
}

func et0Hour(in *inputs, a *Answer) {
	date, lat := in.date(), in.lat()
	var lon quantity.Degree
	zone := time.UTC
	if in.has("lon") || in.has("zone") {
		lon, zone = in.lon(), in.zone()
	} else {
		in.defaults = append(in.defaults, "lon and zone not given: the time is taken as local mean solar time")
	}
	clock := in.name("time")
	at, err := time.Parse("15:04", clock)
	if err != nil {
		in.refuse("time", "a time of day such as 14:00, when the hour begins")
	}
	w := sky.HourlyWeather{Lat: lat, Lon: lon, Elevation: in.metres("elev"), T: in.celsius("t"), Wind: in.wind("wind"),
		WindHeight: in.metres("windheight")}
	w.Vapour, w.Solar = in.vapour(w.T, "rh", "td"), in.energy("rs")
	if in.has("nightratio") {
		w.NightRatio = in.share("nightratio")
	}
	if in.err != nil {
		return
	}
	w.Start = date.At(at.Hour(), at.Minute(), zone)
	r, err := sky.ReferenceHourly(w)
	in.fail(err)
	a.Result = et0Items(r, false)
	if r.Carried {
		a.Notes = append(a.Notes, "the sun is low: Rs/Rso is the one given for the night")
	}
}

func et0Items(r sky.Evapotranspiration, day bool) []Item {
	out := []Item{
		{"et0_mm", "ET0", float64(r.ET0), func(s quantity.System) string { return s.Depth(r.ET0) }},
		{"u2_m_s", "wind at 2 m", float64(r.U2), func(s quantity.System) string { return s.Wind(r.U2) }},
		number("pressure_kpa", "pressure", float64(r.Pressure), "kPa"),
		number("psychrometric_constant_kpa_per_k", "psychrometric constant", r.GammaKPaK, "kPa/K"),
		number("slope_kpa_per_k", "slope of saturation", r.SlopeKPaK, "kPa/K"),
		number("saturation_kpa", "saturation", float64(r.Saturation), "kPa"),
		number("vapour_pressure_kpa", "vapour pressure", float64(r.Vapour), "kPa"),
		number("extraterrestrial_mj_m2", "Ra", float64(r.Extraterrestrial), "MJ/m2"),
	}
	if day {
		out = append(out, number("daylight_h", "daylight N", r.DaylightH, "h"))
	}
	return append(out,
		number("solar_mj_m2", "Rs", float64(r.Solar), "MJ/m2"),
		number("clear_sky_mj_m2", "Rso", float64(r.ClearSky), "MJ/m2"),
		number("solar_ratio", "Rs/Rso as used", r.Ratio, ""),
		number("net_shortwave_mj_m2", "Rns", float64(r.NetShort), "MJ/m2"),
		number("net_longwave_mj_m2", "Rnl", float64(r.NetLong), "MJ/m2"),
		number("net_radiation_mj_m2", "Rn", float64(r.Net), "MJ/m2"),
		number("soil_heat_mj_m2", "G", float64(r.Ground), "MJ/m2"))
}

func dayLength(in *inputs, a *Answer) {
	date, lat, lon, zone := in.date(), in.lat(), in.lon(), in.zone()
	if in.err != nil {
		return
	}
	d, err := sky.SunDay(date, lat, lon, zone)
	in.fail(err)
	hours := d.Length().Hours()
	a.Result = []Item{
		{"hours", "day length", hours, plain(significant(hours) + " h")},
		moment("sunrise_at", "sunrise", d.Sunrise), moment("sunset_at", "sunset", d.Sunset),
	}
}

func skyRadiation(in *inputs, a *Answer) {
	date, lat, z := in.date(), in.lat(), in.metres("elev")
	ra, rs := in.sunshine(date, lat)
	if in.err != nil {
		return
	}
	clear, err := sky.ClearSky(ra, z)
	in.fail(err)
	a.Result = []Item{
		number("extraterrestrial_mj_m2", "above the atmosphere", float64(ra), "MJ/m2"),
		number("solar_mj_m2", "with this sunshine", float64(rs), "MJ/m2"),
		number("clear_sky_mj_m2", "clear sky", float64(clear), "MJ/m2"),
	}
}

func emissivity(in *inputs, a *Answer) {
	in.or("cloud", "0%", "a clear sky")
	in.or("formula", sky.Default.String(), "least bias against measured clear nights")
	t := in.celsius("t")
	e, cloud, name := in.vapour(t, "td", "vp"), in.percent("cloud"), in.name("formula")
	if in.err != nil {
		return
	}
	f, err := sky.ParseFormula(name)
	if err != nil {
		in.refuse("formula", "one of "+formulaNames())
		return
	}
	if _, err := air.DewPoint(e); err != nil {
		in.fail(err)
		return
	}
	eps, err := sky.EmissivityUnder(t, e, cloud, f, sky.UnsworthMonteith)
	in.fail(err)
	l, err := sky.Longwave(t, e, cloud, f, sky.UnsworthMonteith)
	in.fail(err)
	a.Result = []Item{number("emissivity", "emissivity", eps, ""), number("longwave_w_m2", "long wave from the sky", float64(l), "W/m2")}
}
