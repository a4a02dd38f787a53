#!/bin/sh
# Runs every fuzz target of the tree, one after another, each for FUZZTIME
# (default 60s). The committed corpus alone runs in `make test`. A failure leaves
# its input under testdata/fuzz beside the target: commit it with the repair.
set -eu

time="${FUZZTIME:-60s}"
list=$(git ls-files --cached --others --exclude-standard '*_test.go' |
	xargs grep -n '^func Fuzz[A-Za-z0-9_]*(' /dev/null |
	sed 's/^\([^:]*\):[0-9]*:func \(Fuzz[A-Za-z0-9_]*\)(.*/\1 \2/')
if [ -z "$list" ]; then
	echo "fuzz: no targets found" >&2
	exit 1
fi
count=$(echo "$list" | wc -l)
i=0
echo "$list" | while read -r file name; do
	i=$((i + 1))
	dir=$(dirname "$file")
	echo "== fuzz $i/$count: $name in $dir for $time"
	go test -run '^$' -fuzz "^$name\$" -fuzztime "$time" "./$dir"
done
