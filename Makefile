# Breakangle. `make` alone prints what there is.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
.DEFAULT_GOAL := help
.PHONY: help run test docs bench mutants prove words locks supply clean

help: ## show this list
	@awk -F':.*## ' '/^[a-z]+:.*## /{printf "  make %-8s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

SCREENS := $(shell find src/breakangle/web/frontend -name node_modules -prune -o -type f -print 2>/dev/null) \
  $(shell find src/breakangle/web/pages -name '*.js' -o -name '*.css' 2>/dev/null)

# What is installed is locked: every package by its hash, this one by itself with what is locked to build it.
# Bytecode is written when a module is first used: most of what scientific packages bring never is.
PIP := $(BIN)/python -m pip install -q --disable-pip-version-check --no-compile
LOCKED = $(PIP) --require-hashes
OWN = $(PIP) --no-deps --no-build-isolation -e .
# A compiler from a package where the machine has none (hatch_build.py says which are tried).
COMPILER = $(if $(BREAKANGLE_NO_KERNEL)$(shell command -v $(firstword $(CC)) || command -v cc || command -v gcc || command -v clang),,-r requirements/compiler.txt)

# The stamp is touched last: an install that broke half way is done again.
.installed-run: pyproject.toml hatch_build.py requirements/run.txt requirements/build.txt $(SCREENS)
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "Installing (about a minute the first time) ..."
	@$(LOCKED) -r requirements/build.txt
	@# What is built, and the compiler for it, beside what is only fetched; they have no package in common.
	@( $(if $(COMPILER),$(LOCKED) $(COMPILER) &&) $(BIN)/python hatch_build.py ) & parts=$$!; \
	  $(LOCKED) -r requirements/run.txt; fetched=$$?; wait $$parts && exit $$fetched
	@$(OWN)
	@touch $@

.installed-test: .installed-run requirements/test.txt
	@$(LOCKED) -r requirements/test.txt
	@touch $@

.installed-bench: .installed-run requirements/bench.txt
	@$(LOCKED) -r requirements/bench.txt
	@touch $@

.installed-mutants: .installed-test requirements/mutants.txt
	@$(LOCKED) -r requirements/mutants.txt
	@touch $@

.installed-supply: .installed-run requirements/supply.txt
	@$(LOCKED) -r requirements/supply.txt
	@touch $@

run: .installed-run ## open the bench app in a browser, with the example workshop the first time
	@$(BIN)/breakangle serve --open --example-first

test: .installed-test ## everything that CI runs: format, lint, types, rooms, tests
	@PATH="$(CURDIR)/$(BIN):$$PATH" tests/run

docs: .installed-test ## build the documentation site and open it
	@$(BIN)/python tools/make_site.py --open

bench: .installed-bench ## measure: closed loop, speed, listening, contact, as ratios in the same run
	@$(BIN)/python -m bench

mutants: .installed-mutants ## change a thousand places of the code, one at a time, and count how many the tests notice
	@$(BIN)/python -m bench.mutants

prove: .installed-test ## prove what takes hours: every key on every page, and what else bench/prove.py names
	@$(BIN)/python -m bench.prove

words: .installed-test ## renew the template of all words and every language's catalogue, and compile them
	@$(BIN)/python tools/make_words.py

locks: .installed-supply ## lock what is installed at today's newest versions that pyproject.toml allows (docs/supply.md)
	@$(BIN)/python tools/make_locks.py --upgrade

supply: .installed-supply ## write the bill of materials and the licences of what is installed (docs/supply)
	@$(BIN)/python tools/make_supply.py

clean: ## remove what was installed and generated here
	rm -rf $(VENV) .installed-* src/breakangle/web/static src/breakangle/web/frontend/node_modules bench/out docs/_site mutants
