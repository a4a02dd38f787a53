# Everything a contributor or a build machine runs. `make test` is the whole
# check; it needs Go and make, and finds or installs the rest (tools/setup.sh).
# Nothing is needed to run the program but Go: go run ./cmd/budward demo

# Race detection costs about ten times the run time, so it runs where more than
# one goroutine touches the same data, with a fifth of the random cases (-short).
RACE_PACKAGES = ./store/... ./feed/... ./app/... ./api/...

# Time given to each fuzz target by `make fuzz`.
FUZZTIME ?= 60s

STATICCHECK = go tool -modfile=tools/go.mod staticcheck

.PHONY: build test setup fmt vet lint tidy reference web race unit fuzz bench api clean

build: ## the one binary, static, in bin/
	@mkdir -p bin
	CGO_ENABLED=0 go build -trimpath -ldflags='-s -w' -o bin/budward ./cmd/budward

# Plain recursive calls, in order, so that the first failure stops the run and
# go test's own lines come last.
test: ## the whole check, as run on every change
	@$(MAKE) --no-print-directory setup
	@$(MAKE) --no-print-directory fmt
	@$(MAKE) --no-print-directory vet
	@$(MAKE) --no-print-directory lint
	@$(MAKE) --no-print-directory tidy
	@$(MAKE) --no-print-directory reference
	@$(MAKE) --no-print-directory web
	@$(MAKE) --no-print-directory race
	@$(MAKE) --no-print-directory unit

setup: ## install or name what the checks need
	@echo "== setup: what the checks need"
	@sh tools/setup.sh

fmt: ## gofmt has nothing to change
	@echo "== fmt: gofmt"
	@out=$$(git ls-files -z --cached --others --exclude-standard '*.go' | xargs -0 gofmt -l) || exit 1; \
	if [ -n "$$out" ]; then echo "run gofmt -w on:"; echo "$$out"; exit 1; fi

tidy: ## go.mod and go.sum list what is imported, no more
	@echo "== tidy: go.mod, tools/go.mod"
	@go mod tidy -diff
	@cd tools && go mod tidy -diff

vet: ## go vet
	@echo "== vet: go vet"
	@go vet ./...

lint: ## staticcheck, at the version in tools/go.mod
	@echo "== lint: staticcheck (its first build takes about a minute)"
	@$(STATICCHECK) ./...

reference: ## reference tables, made again and compared with those committed
	@echo "== reference: tables made by independent programs"
	@sh tools/reference.sh

web: ## the pages: types, units, built files against source, and in a browser
	@echo "== web: the pages"
	@sh tools/web.sh

race: ## the tests where goroutines meet, under the race detector
	@echo "== race: go test -race -short $(RACE_PACKAGES)"
	@CGO_ENABLED=1 go test -race -short $(RACE_PACKAGES)
	@CGO_ENABLED=1 go test -race -short -run 'TestSameSeedSameAnswer|TestOneBadStation' ./decide/nights

unit: ## all Go tests
	@echo "== unit: go test ./..."
	@go test ./...

fuzz: ## every fuzz target for FUZZTIME (60s), beyond its corpus
	@FUZZTIME=$(FUZZTIME) sh tools/fuzz.sh

bench: ## all benchmarks
	go test -run '^$$' -bench . -benchmem ./...

api: ## the OpenAPI document and the TypeScript client, written anew
	go generate ./api

clean: ## remove what was built
	rm -rf bin
