# Breakangle. `make` alone prints what there is.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
.DEFAULT_GOAL := help
.PHONY: help run test bench clean

help: ## show this list
	@awk -F':.*## ' '/^[a-z]+:.*## /{printf "  make %-8s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

SCREENS := $(shell find src/breakangle/web/frontend -name node_modules -prune -o -type f -print 2>/dev/null)

# The stamp is touched last: an install that broke half way is done again.
.installed-run: pyproject.toml hatch_build.py $(SCREENS)
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "Installing (about a minute the first time) ..."
	@$(BIN)/python -m pip install -q --disable-pip-version-check -e '.[phone,plot]'
	@touch $@

.installed-test: .installed-run
	@$(BIN)/python -m pip install -q --disable-pip-version-check -e '.[phone,plot,postgresql,test]'
	@touch $@

.installed-bench: .installed-run
	@$(BIN)/python -m pip install -q --disable-pip-version-check -e '.[phone,plot,postgresql,bench]'
	@touch $@

run: .installed-run ## open the bench app in a browser, with the example workshop the first time
	@$(BIN)/breakangle serve --open --example-first

test: .installed-test ## everything that CI runs: format, lint, types, rooms, tests
	@PATH="$(CURDIR)/$(BIN):$$PATH" tests/run

bench: .installed-bench ## measure: closed loop, speed, listening, contact, as ratios in the same run
	@$(BIN)/python -m bench

clean: ## remove what was installed and generated here
	rm -rf $(VENV) .installed-* src/breakangle/web/static src/breakangle/web/frontend/node_modules bench/out
