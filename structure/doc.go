// Package structure holds the tests that keep the tree in shape: which package
// may import which, what the pure layers may not ask for, how long files and
// functions may be, which words and units names are made of. It has no code of
// its own; every rule is stated with its reason in the test that holds it.
package structure
