# A short front for meson. `make help` lists the targets.
#   CC=clang     build with another compiler (build/clang)
#   SAN=1        with AddressSanitizer and UndefinedBehaviorSanitizer (build/gcc-san)
#   OUT=folder   build there instead of in build/
CC := $(if $(filter default,$(origin CC)),gcc,$(CC))
# comma must come before SETUP, with nothing after it on its line
comma := ,
OUT ?= build
NAME := $(notdir $(CC))$(if $(SAN),-san)$(if $(FUZZ),-fuzz)
BUILD := $(OUT)/$(NAME)
# The plain build by gcc is the one that others use by name: build/tubwright and so on.
PLAIN := $(filter gcc,$(NAME))
SETUP := --prefix=$(or $(PREFIX),/usr/local) -Dwerror=$(or $(WERROR),true) \
  $(if $(SAN),-Db_sanitize=address$(comma)undefined -Db_lundef=false -Dwasm=disabled -Dwasm_file=$(abspath $(OUT))/gcc/tubwright.wasm) \
  $(if $(PLAIN)$(SAN)$(FUZZ),,-Dwasm=disabled) $(if $(TESTS),-Dtests=$(TESTS)) $(if $(FUZZ),-Dfuzz=true -Dwasm=disabled -Db_lundef=false)
export UBSAN_OPTIONS ?= halt_on_error=1:print_stacktrace=1
export PYTHONDONTWRITEBYTECODE := 1
QUIET := $(shell [ -t 1 ] || echo --quiet)
LOCK := flock $(OUT)/.lock

.PHONY: all build configure setup demo run check site pictures bench wasm same structure t fuzz golden install \
  torture calibrate validate clean help
all: build ; @$(if $(PLAIN),bash tools/publish.sh $(OUT))

$(BUILD)/build.ninja:
	@command -v meson >/dev/null && command -v ninja >/dev/null || { echo 'The build tools are missing: run "bash tools/setup.sh" first.' >&2; exit 1; }
	@mkdir -p $(BUILD)
	@CC=$(CC) meson setup $(BUILD) $(SETUP) >$(BUILD)/setup.log || { tail -n 20 $(BUILD)/setup.log; exit 1; }
configure: $(BUILD)/build.ninja ; @$(LOCK) python3 tools/found.py --refresh $(BUILD)
build: configure ; @$(LOCK) ninja -C $(BUILD) $(QUIET) $(TARGETS)

demo: ## install what is missing, build, replay the demonstration
	@bash tools/setup.sh $(or $(LEVEL),build)
	@$(MAKE) --no-print-directory build TARGETS="tubwright libtubwright_core.a"
	@bash tools/publish.sh $(OUT)
	$(OUT)/tubwright demo --no-pause
run: LEVEL := run
run: demo ## make demo, then on a terminal the guided prompt on your own logbook, then the server
	@if [ -t 0 ] && [ -t 1 ]; then $(OUT)/tubwright prompt && $(OUT)/tubwright serve; fi
check: ## install what is missing, run every test; SAN=1 with sanitizers
	@SAN=$(SAN) OUT=$(OUT) bash tools/check.sh
site: all ## the page as static files, for any https host: build/site
	@rm -rf $(OUT)/site && cp -r $(BUILD)/site $(OUT)/site && echo "$(OUT)/site: $$(ls $(OUT)/site | wc -l) files and $$(ls $(OUT)/site/app | wc -l) under app/, $$(du -sh $(OUT)/site | cut -f1)"
pictures: all ## a picture of every view and state of the page: build/pictures; the few beside the sketches: docs/pictures
	@python3 tools/one_test.py $(BUILD) web/views $(OUT)/pictures
	@python3 tools/one_test.py $(BUILD) web/states $(OUT)/pictures
	@python3 tools/one_test.py $(BUILD) web/readers $(OUT)/pictures
	@python3 tools/pictures.py $(OUT)/pictures docs/pictures
bench: all ## measure; writes build/bench.json
	@$(LOCK) ninja -C $(BUILD) bench
	@python3 bench/run.py $(BUILD) $(OUT)/bench.json
wasm: ## the core as WebAssembly: build/tubwright.wasm
	@$(MAKE) --no-print-directory build TARGETS=tubwright.wasm
	@bash tools/publish.sh $(OUT)
same: all ## the same bits from gcc, clang, a masked processor and WebAssembly
	@python3 tests/same/test_same.py --all $(BUILD)
structure: ## include direction, symbol names, imports of the core, documented headers
	@SRC=. python3 tests/house/test_structure.py
t: ## one test: T=dose/plan S=seed
	@$(MAKE) --no-print-directory configure
	@$(LOCK) python3 tools/one_test.py $(BUILD) "$(T)" $(S)
fuzz: ## one fuzzer for a while: T=logbook/line S=60 (seconds)
	@$(MAKE) --no-print-directory build FUZZ=1 CC=clang-14
	@python3 tests/fuzz/run.py --long $(OUT)/clang-14-fuzz "$(T)" $(or $(S),60)
golden: all ## show how the golden files of tests/cli would change; ACCEPT=1 writes them
	@TUBWRIGHT=$(abspath $(OUT))/tubwright SRC=$(CURDIR) python3 tests/cli/run.py $(if $(ACCEPT),--accept,--diff) $(T)
install: all ## DESTDIR= and PREFIX= as usual
	DESTDIR=$(DESTDIR) meson install -C $(BUILD) --no-rebuild
torture calibrate validate: all ## longer runs, in tests/torture, tests/calibrate, tests/*/validate.py
	@python3 tools/longer.py $@ $(OUT)/gcc
clean: ; rm -rf $(OUT)
help: ; @sed -n 's/^\([a-z ]*\):.*## \(.*\)/\1\t\2/p' Makefile | expand -t 28
