package api

//go:generate go run ./gen
