# Two commands: `make site` opens the site, `make test` passes the tests. Both set up what they need.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PORT ?= 8000
export NO_MKDOCS_2_WARNING := 1

.PHONY: site build binder test check clean

site: $(VENV)/ready
	$(BIN)/mkdocs serve --open --dev-addr 127.0.0.1:$(PORT)

build: $(VENV)/ready
	$(BIN)/mkdocs build --strict

# All trees and articles as one PDF; Chromium prints it.
binder: build
	$(BIN)/python -m alarmtrees.site.binder

check: $(VENV)/ready
	$(BIN)/alarmtrees check --strict

test: $(VENV)/tests tests/node_modules/axe-core/axe.min.js
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/pytest --numprocesses 2 --dist worksteal

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/ready: pyproject.toml | $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --editable .
	@touch $@

$(VENV)/tests: pyproject.toml | $(VENV)/ready
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	@touch $@

# Without npm the tests of accessibility and of the scripts say that they were left out; in CI they fail.
tests/node_modules/axe-core/axe.min.js: tests/package.json tests/package-lock.json
	@npm ci --prefix tests --silent --no-audit --no-fund && touch $@ \
	|| echo "axe-core and eslint could not be fetched with npm: tests of accessibility and scripts are left out"

clean:
	rm -rf $(VENV) tests/node_modules site build
