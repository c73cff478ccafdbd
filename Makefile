# Two commands: `make demo` to see it work, `make test` to check it. Both make .venv if it is not there.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
TEST_STAMP := $(VENV)/.installed-test
INSTALL = $(BIN)/pip install --quiet --disable-pip-version-check
LOCK = $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
	--group build pyproject.toml

# Whatever the shell says, compiled modules are kept beside their sources: each test process would compile all anew.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: demo page test check lint bench pictures site lock newest clean

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

page: $(STAMP)
	test -d out/shop || $(BIN)/python benchmarks/example_shop.py out/shop
	$(BIN)/strapwright bench out/shop

test: $(TEST_STAMP) lint
	$(BIN)/pytest -n 2

check: $(TEST_STAMP) lint
	$(BIN)/pytest -n 2 -m "not slow"

lint: $(TEST_STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(TEST_STAMP)
	$(BIN)/python benchmarks/figures.py

pictures: $(TEST_STAMP)
	$(BIN)/python examples/render.py
	$(BIN)/python benchmarks/page_picture.py

site: $(TEST_STAMP)
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build
	@echo "Open out/site/index.html"

$(VENV)/bin/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "strapwright needs Python 3.11 or newer; set PYTHON=python3.11 or the like"; exit 1; }
	$(PYTHON) -m venv $(VENV)

# What is installed is locked, with hashes, for every Python from 3.11 to 3.14: two files of one resolution.
$(STAMP): requirements.lock pyproject.toml $(VENV)/bin/python
	$(INSTALL) --require-hashes --requirement requirements.lock
	$(INSTALL) --no-deps --no-build-isolation --editable .
	@touch $@

$(TEST_STAMP): requirements-test.lock pyproject.toml $(VENV)/bin/python
	$(INSTALL) --require-hashes --requirement requirements-test.lock
	$(INSTALL) --no-deps --no-build-isolation --editable .
	@touch $@ $(STAMP)

# After a change of the dependencies in pyproject.toml. What is locked already stays unless it must move.
lock: $(VENV)/bin/python
	$(INSTALL) uv
	$(LOCK) --extra test --output-file requirements-test.lock
	$(LOCK) --extra page --extra photo --constraint requirements-test.lock --output-file requirements.lock

# The newest of everything instead of what is locked: to see early what breaks.
newest: $(VENV)/bin/python
	$(INSTALL) --upgrade --upgrade-strategy eager --editable '.[test]'
	@touch $(STAMP) $(TEST_STAMP)

clean:
	rm -rf $(VENV) out
