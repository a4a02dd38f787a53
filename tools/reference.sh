#!/bin/sh
# Makes the reference tables in reference/ again from independent npm packages
# and compares them with the committed ones. `make reference` runs this.
set -eu

if ! command -v npm >/dev/null 2>&1; then
	echo "reference: left out, npm is not installed; the Go tests still use the committed tables"
	[ "${CI:-}" != true ]
	exit
fi
cd reference
npm ci --no-audit --no-fund
node generate.mjs --check
