# The commands of the README, in one place.
#
#   make demo    the main job on a small synthetic data set that the tool makes
#   make test    all tests
#   make bench   benchmarks of every stage, per second of audio
#   make lint    formatting, go vet, staticcheck
#   make fuzz    each fuzz target for FUZZTIME
#   make cluster a run shared by a Slurm job array and by GNU parallel (root on Debian)

GO ?= go
FUZZTIME ?= 10s
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2

.PHONY: build demo test race bench lint fuzz cluster

build:
	$(GO) build -o bin/phonocycle ./cmd/phonocycle

demo: build
	rm -rf demo-out
	./bin/phonocycle demo --out demo-out

test:
	$(GO) test ./...

race:
	$(GO) test -race ./...

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

lint:
	@bad=$$(gofmt -l $$(git ls-files '*.go')); if [ -n "$$bad" ]; then echo "gofmt would change:"; echo "$$bad"; exit 1; fi
	$(GO) vet ./...
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
