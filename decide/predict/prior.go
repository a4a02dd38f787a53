package predict

import "math"

// effect is what is believed of a feature before any night of a station is
// known: its effect on the minimum still to come, for one unit of x, when eight
// hours are left to sunrise, and how far from that it may be. Effects fade as
// the night runs out: with h hours left they are (h/8)^power of that, h at least
// one hour, since weather goes on past sunrise.
type effect struct {
	meanK, sdK float64
	power      float64
}

func (e effect) fade(leftH float64) float64 {
	return math.Pow(math.Max(leftH, 1)/8, e.power)
}
