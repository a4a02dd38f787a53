#!/bin/sh
# Finds or installs what `make test` needs: Go, a C compiler (the race detector
# links with it), git, Node with npm (reference tables, pages), Chromium (pages and
# the printed sheet in a browser), pdfinfo and xmllint (the sheet is one page, the
# warnings are valid). As root on a machine
# with apt-get it installs what is missing; elsewhere it says in one line what to
# install. With CI=true a missing tool is an error; otherwise only Go and git are
# indispensable, and the step that wants the missing tool says that it is left out.
set -eu

missing=""
packages=""
want() { # want COMMAND PACKAGE
	if ! command -v "$1" >/dev/null 2>&1; then
		missing="$missing $1"
		packages="$packages $2"
	fi
}
look() {
	missing=""
	packages=""
	want git git
	want gcc "gcc libc6-dev"
	want node nodejs
	want npm npm
	want chromium "chromium fonts-noto-core fonts-dejavu-core"
	want pdfinfo poppler-utils
	want xmllint libxml2-utils
}

if ! command -v go >/dev/null 2>&1; then
	echo "setup: install Go, version $(sed -n 's/^go //p' go.mod) or later" >&2
	exit 1
fi

look
if [ -n "$missing" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
	echo "setup: installing$packages"
	apt-get update -q
	# shellcheck disable=SC2086 # a list of package names
	DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $packages
	look
fi
if [ -n "$missing" ]; then
	echo "setup: please install:$missing" >&2
	if [ "${CI:-}" = true ]; then
		exit 1
	fi
	case "$missing" in *" git"*) exit 1 ;; esac
fi
echo "setup: $(go version | cut -d' ' -f3), node $(node --version 2>/dev/null || echo none)"
