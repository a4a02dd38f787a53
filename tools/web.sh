#!/bin/sh
# Checks the pages: types, unit tests, the committed web/dist against its source,
# and the pages in Chromium, served by the real program. `make web` runs this.
set -eu

for tool in npm chromium; do
	if ! command -v "$tool" >/dev/null 2>&1; then
		echo "web: left out, $tool is not installed; the Go tests still use the committed pages"
		[ "${CI:-}" != true ]
		exit
	fi
done
cd web
npm ci --no-audit --no-fund
npm test
