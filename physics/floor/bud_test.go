package floor_test

import (
	"errors"
	"math"
	"testing"

	"budward/physics/floor"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// On clear, calm nights exposed tissue runs 0.5-2 K colder than the air
// (common practice; design range). Under overcast it runs with the air.
func TestBudDepression(t *testing.T) {
	for _, wind := range []float64{0.2, 0.5, 1} {
		d, err := floor.Bud{AirC: -1, WindMS: wind, LongWave: sky.LongwaveDown(-1, 0.45, 0, sky.Default), GroundC: -2}.Depression()
		if err != nil || d < 0.5 || d > 2.5 {
			t.Errorf("clear, %.1f m/s: %.2f K, %v", wind, d, err)
		}
	}
	d, err := floor.Bud{AirC: 2, WindMS: 1, LongWave: sky.LongwaveDown(2, 0.65, 1, sky.Default), GroundC: 2}.Depression()
	if err != nil || math.Abs(float64(d)) > 0.3 {
		t.Errorf("overcast: %.2f K, %v", d, err)
	}
	// Worked by hand: 0.5 m/s, D 7 mm, Re = 263.2, 0.683 Re^0.466 = 9.169, h =
	// 31.83; air and ground 273.15 K, sky 240 W/m2: lost = 0.95 (315.64 - 120 -
	// 157.82) = 35.93; 4 x 0.95 sigma T^3 = 4.391; 35.93/36.22 = 0.992.
	d, err = floor.Bud{AirC: 0, WindMS: 0.5, LongWave: 240, GroundC: 0}.Depression()
	if err != nil || math.Abs(float64(d)-0.992) > 0.003 {
		t.Errorf("worked example: %.4f K, %v; want 0.992", d, err)
	}
	if _, err := (floor.Bud{AirC: math.NaN(), LongWave: 240}).Depression(); !errors.As(err, new(*quantity.RangeError)) {
		t.Errorf("NaN air: %v", err)
	}
}

// Want: log-linear profile by hand. H = -15 W/m2, wind 1 m/s, z0 0.012 m, 0
// degC, 100 kPa: rho cp = 1292.0; u* = 0.41/ln(166.7) = 0.08015; theta* =
// 0.14486 K; L = 1292.0 x 273.15 x 5.148e-4 / (0.41 x 9.81 x 15) = 3.0117 m;
// 1 to 2 m: 0.14486/0.41 x (0.69315 + 5/3.0117) = 0.8315 K.
func TestTransferWorkedExample(t *testing.T) {
	d, spread, err := floor.Transfer{FromM: 1, ToM: 2, Sensible: -15, WindMS: 1, AirC: 0, RoughnessM: 0.012, Pressure: 100}.Difference()
	if err != nil || math.Abs(float64(d)-0.8315) > 0.002 {
		t.Errorf("%.4f K, %v; want 0.8315", d, err)
	}
	if math.Abs(float64(spread)-(0.5*0.8315+0.1)) > 0.002 {
		t.Errorf("spread %.3f K", spread)
	}
}

// Going up and coming down again must return, and a height already right
// needs nothing.
func TestTransferIsReversible(t *testing.T) {
	for _, h := range []float64{-40, -15, -2, 0, 30} {
		up := floor.Transfer{FromM: 0.8, ToM: 1.5, Sensible: h, WindMS: 1.3, AirC: 1, RoughnessM: 0.01, Pressure: 98}
		down := up
		down.FromM, down.ToM = up.ToM, up.FromM
		a, _, err1 := up.Difference()
		b, _, err2 := down.Difference()
		if err1 != nil || err2 != nil || math.Abs(float64(a+b)) > 1e-12 {
			t.Errorf("H %v: %v and %v (%v, %v)", h, a, b, err1, err2)
		}
		if h < 0 && a <= 0 || h > 0 && a >= 0 {
			t.Errorf("H %v: %v K upward", h, a)
		}
	}
}
