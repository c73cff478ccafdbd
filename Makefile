# Two commands: `make demo` to see it work, `make test` to check it. Both make .venv if it is not there.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
TEST_STAMP := $(VENV)/.installed-test

.PHONY: demo test lint bench pictures site clean

demo: $(STAMP)
	$(BIN)/strapwright cut examples/autumn-batch.toml --hide examples/side.toml \
		--machine wide-laser --seed 1 --out out/laser
	$(BIN)/strapwright cut examples/one-belt.toml --hide examples/side.toml \
		--machine examples/router-knife.toml --seed 1 --out out/knife
	$(BIN)/strapwright draft examples/autumn-batch.toml --drawing out/autumn-batch.svg
	$(BIN)/strapwright card examples/autumn-batch.toml --layout out/laser/layout.json \
		--hide examples/side.toml --machine wide-laser --out out/card.html --bom out/bill.csv
	@echo
	@echo "Look at out/laser (cut files, cut sheet, picture of the hide), out/knife, out/autumn-batch.svg and out/card.html"

test: $(TEST_STAMP) lint
	$(BIN)/pytest -n 2

lint: $(TEST_STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(TEST_STAMP)
	$(BIN)/python benchmarks/figures.py

pictures: $(TEST_STAMP)
	$(BIN)/python examples/render.py

site: $(TEST_STAMP)
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build
	@echo "Open out/site/index.html"

$(VENV)/bin/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "strapwright needs Python 3.11 or newer; set PYTHON=python3.11 or the like"; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(STAMP): pyproject.toml $(VENV)/bin/python
	$(BIN)/pip install --quiet --editable .
	@touch $@

$(TEST_STAMP): pyproject.toml $(VENV)/bin/python
	$(BIN)/pip install --quiet --editable '.[test]'
	@touch $@ $(STAMP)

clean:
	rm -rf $(VENV) out
