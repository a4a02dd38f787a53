package main

import (
	"fmt"
	"path/filepath"
	"sync"
)

// pages makes the page and its plots from the records in testdata.
func pages(root string) ([]page, error) {
	data := filepath.Join(root, "validation", "testdata")
	bv, err := runBondville(data)
	if err != nil {
		return nil, err
	}
	two, err := twoLevels(data)
	if err != nil {
		return nil, err
	}
	hours, err := tower(data)
	if err != nil {
		return nil, err
	}
	clear, err := clearNights(root)
	if err != nil {
		return nil, err
	}
	nights, err := evenings(root)
	if err != nil {
		return nil, err
	}
	// The sections know nothing of one another and are made side by side.
	sections := []func(*writer){
		func(w *writer) { w.bondville(bv) }, func(w *writer) { w.skyFormulas(clear) }, func(w *writer) { w.heights(two, hours) },
		func(w *writer) { w.ithaca(nights) }, (*writer).floors, (*writer).waterHeat, (*writer).starts,
	}
	parts := make([]writer, len(sections))
	var wait sync.WaitGroup
	for i, make := range sections {
		wait.Go(func() { make(&parts[i]) })
	}
	wait.Wait()
	var w writer
	var want []target
	var plots []page
	for i := range parts {
		want, plots = append(want, parts[i].want...), append(plots, parts[i].plots...)
	}
	w.head(want)
	for i := range parts {
		w.printf("%s", parts[i].b.String())
	}
	return append([]page{{"validation.md", w.b.String()}}, plots...), nil
}

func (w *writer) head(want []target) {
	w.printf("# Validation\n\n")
	w.printf("What budward's physics says, held against what others measured or wrote down. Made by\n`go run ./validation` from the records in [validation/testdata](../validation/testdata/SOURCE.md);\n`go run ./validation -check` and the tests fail if this page is not what they give. Failures\nstand beside successes. Nothing that a section calls a test was used to set a number; each says what\nhad been looked at before.\n\n")
	missed := 0
	rows := [][]string{{"held against", "asked", "reached", ""}}
	for _, t := range want {
		mark := "met"
		if !t.met {
			mark = "**missed**"
			missed++
		}
		rows = append(rows, []string{t.name, t.asked, t.reached, mark})
	}
	w.printf("## At a glance\n\nBias / RMSE where two figures stand. %s\n", missedText(missed, len(want)))
	w.table(rows...)
}

func missedText(missed, all int) string {
	if missed == 0 {
		return "All were met."
	}
	return fmt.Sprintf("%d of %d were missed; the sections say why.", missed, all)
}
