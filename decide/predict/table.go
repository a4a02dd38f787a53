package predict

import "math"

// effect is what is believed of a feature before any night of a station is
// known: its effect on the minimum still to come, in K for one unit of x, when
// eight hours are left to sunrise, and how far from that it may be (one standard
// deviation). Effects fade as the night runs out: with h hours left they are
// (h/8)^power of that, h at least one hour, since weather goes on past sunrise.
type effect struct {
	meanK, sdK float64
	power      float64
}

func (e effect) fade(leftH float64) float64 {
	return math.Pow(math.Max(leftH, 1)/8, e.power)
}

// priorSpread is the stated spread, in K, of the remaining minimum about its
// prediction with leftH hours to sunrise, before any night is known.
func priorSpread(leftH float64) float64 {
	return 0.9 + 0.2*math.Max(leftH, 0)
}

// The features, in the order of a row's x. Each is a number that the physics of a
// night gives a meaning to; docs of each in the table below.
const (
	fOne = iota
	fAir
	fHoursLeft
	fSeasonSin
	fSeasonCos
	fRate1
	fRate2
	fRate3
	fRate36
	fCooled
	fBelowMax
	fMean24
	fMean48
	fLastMin
	fClear6
	fClear3
	fRain2
	fRain6
	fGap
	fGapRate1
	fGapRate2
	fGapLow
	fDepression
	fNearDew
	fDewRate
	fSoilGap
	fMoisture
	fWind
	fPressureRate
	numFeatures
)

// feature is one row of the table: x = (raw - centre) / scale.
type feature struct {
	name          string // for JSON and tests
	label         string // plain words
	unit          string // of the raw value
	group         Group
	centre, scale float64
	// prior is the effect on the remaining minimum, in K for one unit of x, that
	// is believed in before any night of a station is known.
	prior effect
}

var features = [numFeatures]feature{
	fOne:          {"level", "level of the station", "", Air, 0, 1, effect{-3.5, 2, 0.9}},
	fAir:          {"air_now", "air temperature now", "degC", Air, 5, 10, effect{-0.7, 0.7, 0.7}},
	fHoursLeft:    {"hours_left", "hours to sunrise", "h", Air, 5, 2, effect{-0.3, 0.5, 0}},
	fSeasonSin:    {"season_sin", "season, spring against autumn", "", Air, 0, 1, effect{0, 0.7, 0.5}},
	fSeasonCos:    {"season_cos", "season, summer against winter", "", Air, 0, 1, effect{0, 0.7, 0.5}},
	fRate1:        {"rate_last_hour", "change in the last hour", "K", Trend, 0, 1, effect{0.3, 0.4, 0}},
	fRate2:        {"rate_hour_before", "change in the hour before", "K", Trend, 0, 1, effect{0, 0.4, 0}},
	fRate3:        {"rate_third_hour", "change in the third hour back", "K", Trend, 0, 1, effect{0, 0.4, 0}},
	fRate36:       {"rate_3_to_6_h", "change per hour, three to six hours back", "K", Trend, 0, 1, effect{0.1, 0.5, 0.5}},
	fCooled:       {"cooled", "change since sunset", "K", Afternoon, 0, 3, effect{0.2, 0.5, 1}},
	fBelowMax:     {"below_day_max", "below the day's highest", "K", Afternoon, 0, 5, effect{0, 0.5, 0.5}},
	fMean24:       {"mean_24h", "last 24 hours warmer than now", "K", Yesterday, 0, 5, effect{-1.2, 0.7, 1.2}},
	fMean48:       {"mean_24h_before", "day before warmer than the last", "K", Yesterday, 0, 5, effect{0.2, 0.5, 1}},
	fLastMin:      {"last_minimum", "last night's minimum above now", "K", Yesterday, 0, 5, effect{0.3, 0.7, 1}},
	fClear6:       {"clear_afternoon", "sunshine of the afternoon, share of a clear sky", "", Sunshine, 0.6, 0.5, effect{0.4, 0.7, 0.5}},
	fClear3:       {"clear_evening", "sunshine of the last hours, share of a clear sky", "", Sunshine, 0.6, 0.5, effect{-0.5, 0.7, 0.5}},
	fRain2:        {"rain_2h", "rain of two hours, ln(1+mm)", "", Rainfall, 0, 1, effect{-0.3, 0.7, 0.5}},
	fRain6:        {"rain_6h", "rain of six hours, ln(1+mm)", "", Rainfall, 0, 1, effect{0, 0.7, 0.5}},
	fGap:          {"surface_gap", "surface above air", "K", Surface, 0, 2, effect{0.1, 0.5, 0.5}},
	fGapRate1:     {"surface_gap_rate", "change of surface above air in an hour", "K", Surface, 0, 2, effect{0.7, 0.7, 0.7}},
	fGapRate2:     {"surface_gap_rate_2h", "change of surface above air in two hours", "K", Surface, 0, 2, effect{0.2, 0.5, 0.5}},
	fGapLow:       {"surface_gap_low", "surface above air, lowest this night", "K", Surface, 0, 2, effect{0.5, 0.5, 0.8}},
	fDepression:   {"dew_depression", "air above dew point", "K", Humidity, 0, 5, effect{0, 0.7, 0.5}},
	fNearDew:      {"near_dew", "distance from the dew point, ln(1+K)", "", Humidity, 1, 1, effect{-1.2, 0.7, 1}},
	fDewRate:      {"dew_rate", "change of dew point in three hours", "K", Humidity, 0, 2, effect{0.3, 0.5, 0.5}},
	fSoilGap:      {"soil_gap", "soil at 5 cm above air", "K", Soil, 0, 5, effect{0.1, 0.5, 0.5}},
	fMoisture:     {"soil_moisture", "soil moisture", "m3/m3", Moisture, 0.3, 0.1, effect{0.1, 0.4, 0.5}},
	fWind:         {"wind", "wind of two hours, ln(1+m/s)", "", WindSpeed, 0.9, 0.5, effect{0.5, 0.7, 0.7}},
	fPressureRate: {"pressure_rate", "change of pressure in three hours", "kPa", Barometer, 0, 0.1, effect{-0.2, 0.5, 0.7}},
}
