# lampwise: two commands are all a newcomer needs.
#   make run     install what is missing, build, make the example and do the whole job on it
#   make test    install what is missing, run every check
#   make run SERVE=1   the same, then the page with the example opened
SHELL := /bin/bash
.DELETE_ON_ERROR:

GO      ?= go
OUT     ?= out
SIZE    ?= 1080
export CGO_ENABLED = 0
TOOL    := $(GO) tool -modfile=tools/go.mod

.PHONY: run test web web-need web-test build need need-test vet lint unit cross fuzz bench clean

run: need build
	bin/lampwise doctor
	bin/lampwise demo --size $(SIZE) --out $(OUT)
ifneq ($(SERVE),)
	bin/lampwise serve $(OUT)
endif

build:
	$(GO) build -trimpath -o bin/lampwise ./cmd/lampwise

need:
	@scripts/need ffmpeg

need-test:
	@scripts/need ffmpeg mediainfo postgresql povray python3-pyopencolorio python3-skimage

# The page is built without node; what was built is kept with its sources.
web: web/node_modules
	$(GO) run -C tools ./bundle ../web

web/node_modules: web/package-lock.json
	@scripts/need nodejs npm
	cd web && npm ci --no-audit --no-fund
	@touch $@

web-need:
	@scripts/need ffmpeg nodejs npm chromium

# Types, style, freshness, and the page in a real browser (screenshots go to
# web/shots).
web-test: web-need web/node_modules
	cd web && npx tsc --noEmit && npx tsc --noEmit -p src/core && npx biome check src test
	$(GO) run -C tools ./bundle -check ../web
	LAMPWISE_BROWSER=1 $(GO) test -timeout 12m -count 1 ./web

test: need-test vet lint cross unit web-test

vet:
	$(GO) vet ./...

lint:
	@unformatted="$$($(TOOL) gofumpt -l cmd internal *.go)"; \
	if [ -n "$$unformatted" ]; then echo "not formatted (gofumpt -w):"; echo "$$unformatted"; exit 1; fi
	$(TOOL) staticcheck ./...

# The program must build where its users are, without cgo.
cross:
	GOOS=linux GOARCH=arm64 $(GO) build -o /dev/null ./cmd/lampwise
	GOOS=darwin GOARCH=arm64 $(GO) build -o /dev/null ./cmd/lampwise
	GOOS=windows GOARCH=amd64 $(GO) build -o /dev/null ./cmd/lampwise

unit:
	$(GO) test -timeout 12m ./...

# A longer look for crashes in what reads files: FUZZTIME=2m make fuzz
FUZZTIME ?= 20s
fuzz:
	@scripts/fuzz $(FUZZTIME)

bench:
	$(GO) test -run '^$$' -bench . ./internal/picture

clean:
	rm -rf bin $(OUT)
