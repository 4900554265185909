# Two commands: `make site` opens the site, `make test` passes the tests. Both set up what they need.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PORT ?= 8000
export NO_MKDOCS_2_WARNING := 1

.PHONY: site build binder test check clean

site: $(VENV)/ready
	@echo "== Building the site, about a minute the first time. Then it opens at http://127.0.0.1:$(PORT)/"
	@-$(BIN)/alarmtrees schema
	$(BIN)/mkdocs serve --open --dev-addr 127.0.0.1:$(PORT)

build: $(VENV)/ready
	$(BIN)/mkdocs build --strict

# All trees and articles as one PDF; Chromium prints it.
binder: build
	$(BIN)/python -m alarmtrees.site.binder

check: $(VENV)/ready
	@-$(BIN)/alarmtrees schema
	$(BIN)/alarmtrees check --strict

test: $(VENV)/tests tests/node_modules/axe-core/axe.min.js
	@echo "== Style"
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	@echo "== Types"
	$(BIN)/mypy
	@echo "== Tests, under ten minutes on two cores. They are counted first; a browser test waits until the site is built."
	$(BIN)/pytest --numprocesses 2 --dist worksteal

$(VENV)/bin/python:
	@echo "== Making $(VENV)/ with $(PYTHON)"
	$(PYTHON) -m venv $(VENV)

$(VENV)/ready: pyproject.toml | $(VENV)/bin/python
	@echo "== Installing what the site needs into $(VENV)/"
	$(BIN)/python -m pip install --editable .
	@touch $@

$(VENV)/tests: pyproject.toml | $(VENV)/ready
	@echo "== Installing what the tests need into $(VENV)/"
	$(BIN)/python -m pip install --editable '.[test]'
	@touch $@

# Without npm, tests of accessibility, of other fonts and of the scripts say that they were left out; in CI they fail.
tests/node_modules/axe-core/axe.min.js: tests/package.json tests/package-lock.json
	@echo "== Fetching fonts, axe-core, eslint, schemas and a language server for the tests with npm"
	@npm ci --prefix tests --no-audit --no-fund && touch $@ \
	|| echo "npm could not fetch them: tests of accessibility, of other fonts and of the scripts are left out"

clean:
	rm -rf $(VENV) tests/node_modules site build
