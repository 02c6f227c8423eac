# make build       build bin/phonocycle
# make demo        run the whole pipeline on synthetic recordings
# make test        run all tests
# make test-purego run the tests of the packages with assembly, built without it
# make race        run all tests with the race detector
# make lint        check formatting, go vet (also without assembly), staticcheck, unused functions
# make fuzz        run each fuzz target for FUZZTIME
# make bench       compare whole runs with a SciPy front end; time the stages; runs of growing size
# make results     run the published studies on the data sets in DATA, and write their figures into README and the model cards
# make microbench  run the benchmarks of the packages
# make mutate      change PKG in MUTANTS places, one at a time, and print the changes that no test notices
# make dist        build the program for Linux, macOS and Windows into dist/, with SHA-256 sums
# make dist-same   build one of these twice and compare the bytes
# make cluster     share a run with a Slurm job array and with GNU parallel (needs root on Debian)

GO ?= go
# A number of inputs: with a time, go test can fail with "context deadline exceeded" when the time is over.
FUZZTIME ?= 5000x
# Of make mutate: the package, the number of changes, the seed of their draw, and the
# packages whose tests are run, by default the package alone.
PKG ?= ./eval
MUTANTS ?= 100
SEED ?= 1
TESTS ?= $(PKG)
BENCH_DATA ?= $(wildcard ../shared/data/circor)
BENCH_MOST ?= 1000
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
DEADCODE := golang.org/x/tools/cmd/deadcode@v0.52.0
# What make dist builds, each as a program without C that needs no other file. The same
# commit and the same Go give the same bytes, wherever they are built.
PLATFORMS ?= linux/amd64 linux/arm64 darwin/amd64 darwin/arm64 windows/amd64 windows/arm64
DIST ?= dist
REVISION ?= $(shell git describe --tags --always --dirty)
VERSION := $(shell sed -n 's/^const Version = "\(.*\)"/\1/p' pipeline/rundir/doc.go)
DIST_BUILD := CGO_ENABLED=0 GOFLAGS= GOAMD64=v1 GOARM64=v8.0 $(GO) build -trimpath -buildvcs=false \
	-ldflags '-s -w -buildid= -X main.revision=$(REVISION)'
# Published studies: built-in ones by name, others by their files.
STUDIES := readme robustness testdata/methods/python.yaml
# Programs in testdata, which ./... leaves out.
PROGRAMS := ./testdata/bench ./testdata/mutate ./testdata/readers/columns ./testdata/readers/go ./testdata/readers/sample ./testdata/results ./testdata/results/update

.PHONY: dist dist-same build demo test test-purego race bench results microbench mutate lint fuzz cluster

build:
	$(GO) build -o bin/phonocycle ./cmd/phonocycle

demo: build
	rm -rf demo-out
	./bin/phonocycle demo

test:
	$(GO) test ./...

test-purego:
	$(GO) test -tags purego ./pipeline/simd ./pipeline/signal ./pipeline/segment/... ./features

race:
	$(GO) test -race ./...

bench: build
	$(GO) run ./testdata/bench -data "$(BENCH_DATA)" -most $(BENCH_MOST) ./bin/phonocycle

# The studies share cells in one folder; what is there is not made again.
results: build
	@test -n "$(DATA)" || { echo "give the folder of the data sets: make results DATA=…"; exit 1; }
	for study in $(STUDIES); do \
		./bin/phonocycle study $$study --data "$(DATA)" --out results-out && \
		cp results-out/study.json testdata/results/$$(basename $$study .yaml).json || exit 1; \
	done
	$(GO) run ./testdata/results/update

microbench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# A changed loop may take memory without end: it gets 16 GB of addresses and no more.
mutate:
	ulimit -v 16000000; $(GO) run ./testdata/mutate -n $(MUTANTS) -seed $(SEED) -tests "$(TESTS)" $(PKG)

lint:
	@bad=$$(gofmt -l $$(git ls-files '*.go')); if [ -n "$$bad" ]; then echo "gofmt would change:"; echo "$$bad"; exit 1; fi
	$(GO) vet ./... $(PROGRAMS)
	$(GO) vet -tags purego ./...
	GOARCH=arm64 $(GO) vet ./pipeline/simd ./features ./pipeline/segment/...
	GOOS=windows $(GO) vet ./...
	GOOS=darwin GOARCH=arm64 $(GO) vet ./...
	$(GO) run $(STATICCHECK) ./... $(PROGRAMS)
	@dead=$$($(GO) run $(DEADCODE) -test ./... $(PROGRAMS)) || exit 1; \
		if [ -n "$$dead" ]; then echo "functions that nothing calls:"; echo "$$dead"; exit 1; fi

fuzz:
	@for pkg in $$($(GO) list ./...); do \
		for target in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz'); do \
			echo "$$pkg $$target"; \
			$(GO) test -run '^$$' -fuzz "^$$target\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 20x $$pkg || exit 1; \
		done; \
	done

dist:
	rm -rf $(DIST)
	@for platform in $(PLATFORMS); do \
		os=$${platform%/*}; arch=$${platform#*/}; exe=; if [ $$os = windows ]; then exe=.exe; fi; \
		name=phonocycle-$(VERSION)-$$os-$$arch$$exe; echo $(DIST)/$$name; \
		GOOS=$$os GOARCH=$$arch $(DIST_BUILD) -o $(DIST)/$$name ./cmd/phonocycle || exit 1; \
	done
	cd $(DIST) && sha256sum phonocycle-* > SHA256SUMS && cat SHA256SUMS

# From another folder and without the cache of what was compiled before.
dist-same:
	@copy=$$(mktemp -d); trap 'chmod -R u+w $$copy; rm -rf $$copy' EXIT; \
	$(MAKE) dist PLATFORMS=linux/amd64 DIST=$$copy/here >/dev/null && \
	mkdir $$copy/tree && git archive HEAD | tar -x -C $$copy/tree && \
	GOCACHE=$$copy/cache $(MAKE) -C $$copy/tree dist PLATFORMS=linux/amd64 DIST=$$copy/there REVISION=$(REVISION) >/dev/null && \
	cmp $$copy/here/SHA256SUMS $$copy/there/SHA256SUMS && echo "the same bytes from another folder"

cluster:
	./testdata/cluster/run.sh
