// Package predict tells, at any moment of a night, the minimum that a station's
// own thermometer will show, from that station's readings alone: how warm it is,
// how fast it falls, how much colder the floor is than the air, how dry it is,
// how the afternoon and the days before were, how long the night still lasts.
// No forecast is needed.
//
// The model is small and can be read. With T the last air temperature and R the
// lowest reading still to come,
//
//	R - T = sum over features of beta_j x_j + s e
//	minimum = min(lowest so far, R)
//
// x_j are the features of the table in table.go, beta_j their effects in K. They
// are fitted anew for each moment to the same moment of past nights, one reading
// of each night, nights of other seasons counting less. Effects are shrunk to a
// stated prior (table.go), so that a station with few nights behaves as the prior
// says and one with many as its own nights say. Nights that were far off count
// for less. Where instruments are missing, tonight or in most past nights, the
// model is fitted without them.
//
// The width s depends on the same features; e is taken from the residuals that
// nights had in fits which had not seen their season, those with a like
// prediction at a like date counting most. So the band is calibrated on seasons
// the fit has not seen. What is left is mostly weather that arrives in the night:
// no reading at the station tells it.
//
// The prior is made of round numbers that follow what springs of 2005-2011 and
// autumns and winters of 2012-2017 showed at one station of the US Climate
// Reference Network (Ithaca, New York; NOAA), and the physics where it had no
// instrument (wind, pressure). It is a starting point, not a result. Features and
// the few numbers of the fit (widths of the weights, strength of the shrinkage) were
// chosen on the same station and years, with an eye on its springs of 2012-2017 too:
// scores there are no test.
package predict
