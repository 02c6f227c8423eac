# The commands of the README, in one place.
#
#   make demo    the main job on a small synthetic data set that the tool makes
#   make test    all tests
#   make test-purego  the tests of packages with assembly, built without it
#   make bench   whole runs beside SciPy's front end, stages per second of audio, scale
#   make microbench  the benchmarks of the packages
#   make lint    formatting, go vet (also of the inner loops without assembly), staticcheck
#   make fuzz    each fuzz target for FUZZTIME
#   make cluster a run shared by a Slurm job array and by GNU parallel (root on Debian)

GO ?= go
FUZZTIME ?= 10s
BENCH_DATA ?= $(wildcard ../shared/data/circor)
BENCH_MOST ?= 1000
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2

.PHONY: build demo test test-purego race bench microbench lint fuzz cluster

build:
	$(GO) build -o bin/phonocycle ./cmd/phonocycle

demo: build
	rm -rf demo-out
	./bin/phonocycle demo --out demo-out

test:
	$(GO) test ./...

test-purego:
	$(GO) test -tags purego ./pipeline/simd ./pipeline/signal ./pipeline/segment/... ./features

race:
	$(GO) test -race ./...

bench: build
	$(GO) run ./testdata/bench -data "$(BENCH_DATA)" -most $(BENCH_MOST) ./bin/phonocycle

microbench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

lint:
	@bad=$$(gofmt -l $$(git ls-files '*.go')); if [ -n "$$bad" ]; then echo "gofmt would change:"; echo "$$bad"; exit 1; fi
	$(GO) vet ./...
	$(GO) vet -tags purego ./...
	GOARCH=arm64 $(GO) vet ./pipeline/simd ./features
	$(GO) run $(STATICCHECK) ./...

fuzz:
	@for pkg in $$($(GO) list ./...); do \
		for target in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz'); do \
			echo "$$pkg $$target"; \
			$(GO) test -run '^$$' -fuzz "^$$target\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 20x $$pkg || exit 1; \
		done; \
	done

cluster:
	./testdata/cluster/run.sh
