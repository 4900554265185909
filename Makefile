# Two commands: `make site` opens the site, `make test` passes the tests. Both set up what they need.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PORT ?= 8000
export NO_MKDOCS_2_WARNING := 1

.PHONY: site build binder test check versions clean

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
	@echo "== Tests, a quarter of an hour or more on two cores. They are counted first; a browser test waits until the site is built."
	$(BIN)/pytest --numprocesses 2 --dist worksteal

$(VENV)/bin/python:
	@echo "== Making $(VENV)/ with $(PYTHON)"
	$(PYTHON) -m venv $(VENV)

# What is tested is what is built with: the same versions for both, or, where they cannot be had, the newest that fit.
define install
$(BIN)/python -m pip install --constraint constraints.txt --editable '$(1)' || { \
	echo "The versions in constraints.txt cannot be had here; taking the newest that fit"; \
	$(BIN)/python -m pip install --editable '$(1)'; }
endef

$(VENV)/ready: pyproject.toml constraints.txt | $(VENV)/bin/python
	@echo "== Installing what the site needs into $(VENV)/"
	@$(call install,.)
	@touch $@

$(VENV)/tests: pyproject.toml constraints.txt | $(VENV)/ready
	@echo "== Installing what the tests need into $(VENV)/"
	@$(call install,.[test])
	@touch $@

# Without npm, tests of accessibility, of other fonts and of the scripts say that they were left out; in CI they fail.
tests/node_modules/axe-core/axe.min.js: tests/package.json tests/package-lock.json
	@echo "== Fetching fonts, axe-core, eslint, schemas and a language server for the tests with npm"
	@npm ci --prefix tests --no-audit --no-fund && touch $@ \
	|| echo "npm could not fetch them: tests of accessibility, of other fonts and of the scripts are left out"

# The newest versions that fit, for `make test` to try. A Python newer than those that had them is left free: it may need
# newer ones.
versions: $(VENV)/tests
	$(BIN)/python -m pip install --dry-run --ignore-installed --quiet --report - '.[test]' | $(BIN)/python -c '\
	import json, sys; \
	found = [one for one in json.load(sys.stdin)["install"] if "dir_info" not in one["download_info"]]; \
	lines = ["{name}=={version}".format(**one["metadata"]) for one in found]; \
	print(*(line + "; python_version < \"3.15\"" for line in sorted(lines, key=str.lower)), sep="\n")' > constraints.new
	mv constraints.new constraints.txt

clean:
	rm -rf $(VENV) tests/node_modules site build
