package vine

import (
	"fmt"
	"math"

	"budward/physics/quantity"
)

// Curve is the share of exposed buds or shoots of one stage that a temperature
// kills, through three points. It is made of two halves of a logistic that
// meet at T50:
//
//	T >= T50: kill = 1 / (1 + exp[ln 9 (T - T50)/(T10 - T50)])
//	T <  T50: kill = 1 / (1 + exp[ln 9 (T - T50)/(T50 - T90)])
//
// It is exactly 0.1, 0.5 and 0.9 at the three points, falls with temperature
// and is continuous; where the halves differ its slope has a kink at T50. With
// T50 midway it is the one logistic with slope 4.394/(T10 - T90). At and above
// Safe (0 degC for tissue, which cannot freeze there) it is exactly zero.
type Curve struct {
	T10, T50, T90 quantity.Celsius
	Safe          quantity.Celsius
}

// ln9 is the logit of 0.9.
var ln9 = math.Log(9)

// NewCurve checks safe > T10 > T50 > T90, all of them between -60 and 5 degC
// (the range of the tables with room to spare).
func NewCurve(t10, t50, t90, safe quantity.Celsius) (Curve, error) {
	if !(t10 > t50 && t50 > t90 && safe > t10 && t90 >= -60 && safe <= 5) {
		return Curve{}, &InputError{"T10, T50, T90 (degC)", fmt.Sprintf("%g, %g, %g", float64(t10), float64(t50), float64(t90)),
			fmt.Sprintf("%g > T10 > T50 > T90 > -60: warmer kills fewer", float64(safe))}
	}
	return Curve{t10, t50, t90, safe}, nil
}

// Kill returns the killed share at temperature t, on the basis (tissue or air)
// the curve's table is meant for. NaN gives NaN.
func (c Curve) Kill(t quantity.Celsius) float64 {
	if t >= c.Safe {
		return 0
	}
	width := c.T50 - c.T90
	if t >= c.T50 {
		width = c.T10 - c.T50
	}
	return 1 / (1 + math.Exp(ln9*float64((t-c.T50)/width)))
}

// Temperature returns the temperature that kills share p (0 < p < 1): the
// inverse of Kill. Other shares are a programmer's error and panic. Where the
// answer would lie at or above Safe, Safe is returned.
func (c Curve) Temperature(p float64) quantity.Celsius {
	if !(p > 0 && p < 1) {
		panic(fmt.Sprintf("vine: share %g is not between 0 and 1", p))
	}
	width := c.T50 - c.T90
	if p <= 0.5 {
		width = c.T10 - c.T50
	}
	t := c.T50 + width*quantity.Celsius(math.Log(1/p-1)/ln9)
	return min(t, c.Safe)
}
